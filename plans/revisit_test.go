package plans

import (
	"context"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// backProtocol is a protocol of two stages on the way to a lower threshold.
func backProtocol() Protocol {
	return Protocol{
		Stages: Everywhere(Stage{Unit: SampleUnit{Leaves: 2}, Stop: StopRules{Plants: 20, Minimum: 1, Maximum: 20}, Clumping: Clumping{Rho: &Range{Low: 0, High: 0}, K: &Range{Low: 1, High: 1}, CountRho: &Range{}}, ComingBack: &ComingBack{DaysUntilFound: 7, DaysOnceFound: 3.5, LeadDays: 2, GrowthPerDay: .25, Confidence: .8}}, []Stage{
			{Name: "leafing", Measure: ShareInfested, Lower: .15, Threshold: .22, Upper: .30, NeedlessRisk: .1, MissedRisk: .1},
			{Name: "ripening", Measure: ShareInfested, Lower: .05, Threshold: .10, Upper: .20, NeedlessRisk: .1, MissedRisk: .1},
			{Name: "podding", Measure: MeanPerLeaf, Lower: 2, Threshold: 4, Upper: 8, NeedlessRisk: .1, MissedRisk: .1},
		}...),
	}
}

func stageOf(t *testing.T, p Protocol, name string) *StagePlan {
	t.Helper()
	plan, err := Design(context.Background(), p, DesignOptions{Method: Lines})
	if err != nil {
		t.Fatal(err)
	}
	s, err := plan.Stage(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func revisit(t *testing.T, s *StagePlan, h History, counts ...int) *Revisit {
	t.Helper()
	var cs []Count
	for _, n := range counts {
		cs = append(cs, Count{Total: n})
	}
	r, err := s.Revisit(cs, h)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// By hand: the plan can end at its first stop, and a field without a find ends
// there. The 80% limit of 20 independent plants of which none is infested is
// 1 - 0.2^(1/20) = 0.07731917, and the share reaches 22% after
// (logit 0.22 - logit 0.07731917)/0.25 = (-1.265666 + 2.479342)/0.25 = 4.85470
// days. Stops after the verdict change nothing.
func TestRevisitByHand(t *testing.T) {
	s := stageOf(t, backProtocol(), "leafing")
	if s.Table.Verdict(1, 0) != Leave {
		t.Fatalf("table %+v", s.Table)
	}
	r := revisit(t, s, History{}, make([]int, 20)...)
	expect(t, "limit of 20", r.Level, 1-math.Pow(.2, 1./20), 1e-9)
	expect(t, "reach", r.Reach, 4.85470, 1e-4)
	if r.Days != 2 || r.Rule != ByGrowth || r.Found || r.Interval != 7 { // 4.85 less 2
		t.Errorf("nothing found: %+v", r)
	}

	// Halving the growth doubles the time: 9.71 days less 2 of lead are 7.71.
	p := backProtocol()
	p = p.Each(func(s *Stage) { s.ComingBack.GrowthPerDay = .125 })
	r = revisit(t, stageOf(t, p, "leafing"), History{}, 0, 0, 0, 0)
	if r.Days != 7 || r.Rule != ByInterval {
		t.Errorf("slow growth: %+v", r)
	}
	if r = revisit(t, stageOf(t, p, "leafing"), History{Found: true}, make([]int, 20)...); r.Days != 3 || r.Rule != ByInterval || !r.Found {
		t.Errorf("found before: %+v", r)
	}
	p = p.Each(func(s *Stage) { s.ComingBack.LeadDays = 9.5 })
	if r = revisit(t, stageOf(t, p, "leafing"), History{}, 0, 0, 0, 0); r.Days != 1 || r.Rule != ByLimit {
		t.Errorf("no time to lose: %+v", r)
	}
	p = p.Each(func(s *Stage) { s.ComingBack.GrowthPerDay = 0 })
	r = revisit(t, stageOf(t, p, "leafing"), History{}, 0, 0, 0, 0)
	if !math.IsInf(r.Reach, 1) || r.Days != 7 {
		t.Errorf("no growth: %+v", r)
	}
}

// A mean grows as e^(rt): from a limit of L per leaf to 4 in ln(4/L)/0.25 days.
func TestRevisitMean(t *testing.T) {
	p := backProtocol()
	p = p.Each(func(s *Stage) { s.ComingBack.Confidence = .5 }) // the estimate itself
	r := revisit(t, stageOf(t, p, "podding"), History{}, 40, 40)
	expect(t, "level", r.Level, 1, .05)
	expect(t, "reach", r.Reach, math.Log(4/r.Level)/.25, 1e-9)
	if r.Days != 3 || r.Rule != ByGrowth {
		t.Errorf("%+v, want 3 days by growth: 5.45 - 2 days are less than 3.5", r)
	}
	if r = revisit(t, stageOf(t, p, "podding"), History{}, 180, 180); r.Days != 1 || r.Rule != ByLimit || r.Reach != 0 {
		t.Errorf("at the threshold: %+v", r)
	}
}

func TestRevisitNextStage(t *testing.T) {
	p := backProtocol()
	p.Stages[0].ComingBack = &ComingBack{DaysUntilFound: 30, DaysOnceFound: 30, LeadDays: 2, GrowthPerDay: .25, Confidence: .5}
	counts := []int{0}
	level := 1 - math.Pow(.5, 1./20) // none of 20, 50% sure
	logit := math.Log(level) - math.Log1p(-level)
	toLeafing, toRipening := (-1.265666-logit)/.25, (-2.197225-logit)/.25 // 8.32 and 4.59 days
	expect(t, "threshold of the own stage", revisit(t, stageOf(t, p, "leafing"), History{}, counts...).Reach, toLeafing, 1e-4)

	p.Stages[0].LastsDays = 10
	s := stageOf(t, p, "leafing")
	for _, c := range []struct {
		inStage *float64
		reach   float64
		stage   string
	}{
		{nil, toRipening, "ripening"},      // it may be in ripening tomorrow
		{days(10), toRipening, "ripening"}, // it is due to be
		{days(12), toRipening, "ripening"}, // it is overdue
		{days(5), 5, "ripening"},           // in 5 days it is in ripening, past whose threshold it has grown
		{days(1.8), 8.2, "ripening"},       // in 8.2 days, just before it has grown to that of leafing
		{days(1.5), toLeafing, "leafing"},  // leafing's own threshold comes first
		{days(0), toLeafing, "leafing"},    // as above
	} {
		r := revisit(t, s, History{InStage: c.inStage}, counts...)
		expect(t, "reach", r.Reach, c.reach, 1e-4)
		if r.Stage != c.stage {
			t.Errorf("%+v, want stage %s", r, c.stage)
		}
	}
	// Beyond ripening stands a mean, which cannot be compared with a share.
	p.Stages[1].LastsDays = 1
	expect(t, "reach", revisit(t, stageOf(t, p, "leafing"), History{}, counts...).Reach, toRipening, 1e-4)
}

func days(x float64) *float64 { return &x }

func TestRevisitWithoutComingBack(t *testing.T) {
	p := backProtocol()
	p.Stages[0].ComingBack = nil
	if r := revisit(t, stageOf(t, p, "leafing"), History{}, 0); r != nil {
		t.Errorf("%+v, want nil", r)
	}
	if _, err := stageOf(t, p, "leafing").Revisit(nil, History{}); err == nil {
		t.Error("no error without counts")
	}
}

// More of the pest never means coming back later where the verdict is the same and
// comes at the same stop, and the visit is never later than the protocol's
// interval unless that is below a day.
func TestRevisitProperties(t *testing.T) {
	p := backProtocol()
	p = p.Each(func(s *Stage) { s.Clumping.Rho = &Range{Low: .1, High: .1} })
	s := stageOf(t, p, "leafing")
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.SliceOfN(rapid.IntRange(0, 19), 1, 20).Draw(t, "counts")
		b := append([]int(nil), a...)
		b[rapid.IntRange(0, len(b)-1).Draw(t, "stop")]++
		h := History{Found: rapid.Bool().Draw(t, "found")}
		ra, errA := s.Revisit(countsOf(a), h)
		rb, errB := s.Revisit(countsOf(b), h)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		va, _ := s.Check(countsOf(a))
		vb, _ := s.Check(countsOf(b))
		if same := va.Verdict == vb.Verdict && va.DecidedAt == vb.DecidedAt; same && (rb.Days > ra.Days || rb.Level < ra.Level) || float64(ra.Days) > ra.Interval || ra.Days < 1 {
			t.Fatalf("%v: %+v\n%v: %+v", a, ra, b, rb)
		}
	})
}

func countsOf(ns []int) []Count {
	var cs []Count
	for _, n := range ns {
		cs = append(cs, Count{Total: n})
	}
	return cs
}

func expect(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !near(got, want, tolerance) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

func TestComingBackKeys(t *testing.T) {
	text := func(extra string) string {
		return "[clumping]\nrho = 0.1\n[[stage]]\nname = \"leafing\"\nlower = \"15%\"\nupper = \"30%\"\nneedless_risk = \"10%\"\nmissed_risk = \"10%\"\n" + extra
	}
	p, err := ReadProtocol([]byte(text("lasts_days = 9\n[coming_back]\nconfidence = \"90%\"\n[costs]\ncrop_per_ha = 1\ntreatment_per_ha = 1\nscout_per_hour = 1\nfield_ha = 1\nprior = [1, 5]\n")))
	if err != nil {
		t.Fatal(err)
	}
	if p.Stages[0].LastsDays != 9 || p.Stages[0].ComingBack.Confidence != .9 || *p.Costs.Prior != (BetaPrior{A: 1, B: 5}) {
		t.Errorf("%+v", p)
	}
	for extra, want := range map[string]string{
		"lasts_days = -1\n":                     "line 9: days that the stage lasts is -1",
		"[coming_back]\nconfidence = \"30%\"\n": "line 10: confidence is 30%",
		"[coming_back]\nconfidence = 80\n":      "line 10: confidence: \"80\" is not a share",
		"[costs]\ncrop_per_ha = 1\ntreatment_per_ha = 1\nscout_per_hour = 1\nfield_ha = 1\nprior = [0, 5]\n": "line 14: the prior's parameters are 0 and 5",
		"[costs]\ncrop_per_ha = 1\ntreatment_per_ha = 1\nscout_per_hour = 1\nfield_ha = 1\nprior = 0.2\n":    "line 14: prior: 0.2 is not accepted",
	} {
		if _, err := ReadProtocol([]byte(text(extra))); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", extra, err, want)
		}
	}
}
