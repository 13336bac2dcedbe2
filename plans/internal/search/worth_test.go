package search

import (
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// What capped counts and points save. The mean expected stops were found outside
// the project; ours may need a quarter of a percent more. No plan beats the lower
// bound of the full counts.
func TestWorthSaves(t *testing.T) {
	for _, c := range []struct {
		rho              float64
		minimum, maximum int
		worths           []rule.Worth
		most             float64
		slow             bool
	}{
		{.1, 1, 20, points(.1, 12), 4.370, false},
		{.1, 1, 20, points(.1, 40), 4.306, true},
		{.1, 4, 20, points(.1, 12), 4.955, true},
		{.2, 1, 20, []rule.Worth{{Cap: 8}}, 6.964, true},
		{.2, 1, 20, points(.2, 12), 6.513, true},
		{.2, 1, 20, points(.2, 40), 6.437, true},
		{.3, 1, 40, []rule.Worth{{Cap: 6}}, 9.202, true},
		{.3, 1, 40, points(.3, 40), 8.319, true},
	} {
		if c.slow && !*all {
			continue
		}
		p := shares(.15, .30, .10, .10, c.rho, 20, c.minimum, c.maximum)
		w, table, ok := p.BestWorth(c.worths)
		if !ok {
			t.Errorf("%+v: no plan found", c)
			continue
		}
		q := p.Counting(w)
		got := q.Stops(table)
		t.Logf("rho %v, %d..%d, top %d: %.3f, reference %.3f", c.rho, c.minimum, c.maximum, q.counts(), got, c.most)
		if !q.Keeps(table) || got > 1.0025*c.most {
			t.Errorf("rho %v, %d..%d stops, %+v: %.4f stops, reference %.3f; kept %v", c.rho, c.minimum, c.maximum, w, got, c.most, q.Keeps(table))
		}
		if bound := p.LowerBound(); bound > got {
			t.Errorf("bound %v above %v", bound, got)
		}
	}
}

func points(rho float64, top int) []rule.Worth {
	return []rule.Worth{{Points: &rule.Points{Lower: .15, Upper: .30, Rho: rho, Units: 20, Top: top}}}
}

// Over a range of rho the map's own rho is searched for. Mean expected stops found
// outside the project; ours may need half a percent more.
func TestPointsOverARange(t *testing.T) {
	for _, c := range []struct {
		p0, pm, p1, alpha, beta float64
		top                     int
		most                    float64
		slow                    bool
	}{
		{.10, .17, .25, .10, .05, 12, 5.769, false},
		{.08, .14, .22, .10, .05, 12, 5.720, true},
		{.15, .22, .30, .10, .10, 12, 5.876, true},
		{.15, .22, .30, .10, .10, 40, 5.825, true},
	} {
		if c.slow && !*all {
			continue
		}
		p := heldUnder(c.p0, c.pm, c.p1, c.alpha, c.beta)
		p.Maximum = 30
		w, table, ok := p.BestWorth(PointMaps(c.p0, c.p1, 20, c.top, .083, .153))
		if !ok {
			t.Errorf("%+v: no plan found", c)
			continue
		}
		q := p.Counting(w)
		got := q.Stops(table)
		t.Logf("%+v: %.3f with the map at %.3f", c, got, w.Points.Rho)
		if !q.Keeps(table) || got > 1.005*c.most {
			t.Errorf("%+v: %.4f stops; kept %v", c, got, q.Keeps(table))
		}
	}
}

// A wrapped field is the same world to a search wherever the field is.
func TestWorthComparable(t *testing.T) {
	a := points(.1, 12)[0].Of(sampling.Infested{P: .1, Rho: .1})
	b := points(.1, 12)[0].Of(sampling.Infested{P: .1, Rho: .1})
	if a != b {
		t.Error("equal worlds differ")
	}
}
