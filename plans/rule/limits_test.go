package rule_test

import (
	"testing"

	"stopwise/plans/rule"
)

// The table of limits holds each total that a walk can have without act, once, and
// its limits are those of Known.
func TestLimitsAreThoseOfKnown(t *testing.T) {
	unequal := early.Path([]int{12, 30, 20, 7})
	firstLeaves := leaves.Clone()
	firstLeaves.Act[0], firstLeaves.Act[1] = never, 30
	closed := early.Steps() // no walk goes on after stop 3
	closed[2].Act = 6
	for name, v := range map[string]rule.Visit{
		"closed":                 shares(closed, .12),
		"shares":                 shares(early.Steps(), .12),
		"unequal":                shares(unequal, .12),
		"means":                  means(firstLeaves.Steps(), .6),
		"more than is looked at": shares(early.Lengthened(9).Steps(), .12),
	} {
		limits, err := v.Limits(.8)
		if err != nil {
			t.Fatal(err)
		}
		got := map[[2]int]rule.Limit{}
		for _, l := range limits {
			k, err := v.Known(l.Stop, l.Total, .95, .8)
			if err != nil {
				t.Fatal(err)
			}
			near(t, name, l.Upper, k.Limit, 1e-8)
			if _, twice := got[[2]int{l.Stop, l.Total}]; twice {
				t.Errorf("%s: stop %d, total %d twice", name, l.Stop, l.Total)
			}
			got[[2]int{l.Stop, l.Total}] = l
		}
		want := 0
		for stop := 1; stop <= len(v.Steps); stop++ {
			s := v.Steps[stop-1]
			if name == "closed" && stop > 3 {
				break // the walk is cut off at a stop that it does not reach
			}
			for _, e := range rule.Ends(rule.CutOff(v.Steps, stop), v.Family(.2)) {
				if e.Stop != stop || e.Total >= s.Act || name == "means" && s.Act == never && e.Total >= 30 {
					continue
				}
				want++
				l, ok := got[[2]int{stop, e.Total}]
				if !ok || l.Verdict != rule.Read(e.Total, s.Leave, s.Act) {
					t.Errorf("%s: stop %d, total %d: %+v", name, stop, e.Total, l)
				}
			}
		}
		if want != len(limits) {
			t.Errorf("%s: %d limits, want %d", name, len(limits), want)
		}
	}
}

// The points at which a walk can end are those that its evaluation counts.
func TestEndsAreThoseOfTheWalk(t *testing.T) {
	for name, v := range map[string]rule.Visit{
		"shares":  shares(early.Steps(), .12),
		"unequal": shares(minimumOne.Path([]int{5, 33}), .12),
		"means":   means(early.Steps(), .6),
	} {
		f := v.Family(.15)
		e := rule.Follow(v.Steps, 0, f)
		got := make([]rule.Outcome, len(v.Steps))
		units := 0.0
		for _, end := range rule.Ends(v.Steps, f) {
			switch end.Verdict {
			case rule.Leave:
				got[end.Stop-1].Leave += end.Chance
			case rule.Act:
				got[end.Stop-1].Act += end.Chance
			}
			units += end.Chance * float64(end.Units)
		}
		for j, o := range e.Stops {
			near(t, name+" leave", got[j].Leave, o.Leave, 1e-14)
			near(t, name+" act", got[j].Act, o.Act, 1e-14)
		}
		near(t, name+" units", units, e.ExpectedUnits, 1e-11)
	}
}

// Per stop and per unit are the same order where all stops have equal units, and
// another where they have not.
func TestOrders(t *testing.T) {
	for _, c := range []struct {
		steps []rule.Step
		same  bool
	}{{early.Steps(), true}, {early.Path([]int{5, 40}), false}} {
		v := shares(c.steps, .12)
		a, err := v.Known(2, 2, .95, .8)
		if err != nil {
			t.Fatal(err)
		}
		v.Order = rule.PerStop
		b, err := v.Known(2, 2, .95, .8)
		if err != nil {
			t.Fatal(err)
		}
		if same := a == b; same != c.same {
			t.Errorf("%+v by units, %+v by stops", a, b)
		}
	}
}

// A walk that is cut off has the end points of the stops walked, whatever the plan
// says of later ones; after a verdict they count.
func TestLaterStopsCountAfterAVerdict(t *testing.T) {
	other := early.Clone()
	other.Leave[2], other.Act[3] = 3, 12
	for _, c := range []struct {
		total int
		same  bool
	}{{5, true}, {2, false}} {
		a, _ := shares(early.Steps(), .12).Known(2, c.total, .95, .8)
		b, _ := shares(other.Steps(), .12).Known(2, c.total, .95, .8)
		if same := a == b; same != c.same {
			t.Errorf("total %d: %+v and %+v", c.total, a, b)
		}
	}
	cut := rule.CutOff(early.Steps(), 2)
	if early.Steps()[1] == cut[1] || len(cut) != 2 {
		t.Errorf("cut off %+v", cut)
	}
}

// Where the ends of the range are: nothing seen, everything seen, and laws that
// take over at an end.
func TestKnownAtTheEnds(t *testing.T) {
	v := shares(early.Steps(), .12)
	all, err := v.Known(2, 40, .95, .8)
	if err != nil {
		t.Fatal(err)
	}
	if all.Limit != 1 || all.Interval.Upper != 1 || !(all.Interval.Lower > .3 && all.Interval.Lower < 1) {
		t.Errorf("everything seen: %+v", all)
	}
	// 0 of 30 Poisson leaves: the limit of 80% is -ln(.2)/30, that of 97.5% -ln(.025)/30.
	m := means([]rule.Step{{Units: 30, Leave: 5, Act: 6}}, inf)
	none, err := m.Known(1, 0, .95, .8)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "limit", none.Limit, 1.6094379124341003/30, 1e-10)
	near(t, "upper", none.Interval.Upper, 3.6888794541139363/30, 1e-10)
	if none.Interval.Lower != 0 {
		t.Errorf("lower limit %g of nothing seen", none.Interval.Lower)
	}
	v.Low, v.High = .05, .5
	few, err := v.Known(2, 0, .95, .8)
	if err != nil {
		t.Fatal(err)
	}
	if few.Estimate != .05 || few.Interval.Lower != .05 {
		t.Errorf("levels from 5%%: %+v", few)
	}
}

func TestKnownRefuses(t *testing.T) {
	good := shares(early.Steps(), .12)
	upsideDown := good
	upsideDown.Low = 1
	for _, c := range []struct {
		v           rule.Visit
		stop, total int
		confidence  float64
		want        string
	}{
		{good, 0, 2, .95, "rule: stop 0 of a walk of 7 stops"},
		{good, 8, 2, .95, "rule: stop 8 of a walk of 7 stops"},
		{good, 2, -1, .95, "rule: total -1, must be 0 or more"},
		{good, 2, 2, 1, "confidence 1, must be between 0 and 1"},
		{upsideDown, 2, 2, .95, "rule: levels from 1 to 1, must rise from 0 or more"},
	} {
		_, err := c.v.Known(c.stop, c.total, c.confidence, .8)
		if err == nil || err.Error() != c.want {
			t.Errorf("error %v, want %s", err, c.want)
		}
		if _, err := c.v.Limits(1.5); err == nil {
			t.Error("limits of confidence 1.5")
		}
	}
}
