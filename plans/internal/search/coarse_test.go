package search

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// countsAlike states a problem of means whose leaves are alike at a stop.
func countsAlike(lower, upper, rho float64, units, minimum, maximum int) *Problem {
	at := func(mean float64) sampling.Population { return sampling.AlikeCounts{Mean: mean, K: .8, Rho: rho} }
	p := &Problem{
		Units: units, Minimum: minimum, Maximum: maximum,
		Effort: []Weighted{{at(lower), 1. / 3}, {at(math.Sqrt(lower * upper)), 1. / 3}, {at(upper), 1. / 3}},
		Limits: []Limit{Needless(at(lower), .1, nil), Missed(at(upper), .1, nil)},
	}
	p.Top = p.CountCeiling()
	return p
}

// A point of the lattice stands for the totals around it: at one stop a table on the
// lattice does exactly what the same table of full size does, and coming back to the
// lattice changes nothing.
func TestLatticeIsExactAtOneStop(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := countsAlike(rapid.Float64Range(2, 9).Draw(t, "mean"), 20, .1, 5, 1, 1)
		q, step := p.onLattice(rapid.IntRange(5, 60).Draw(t, "points"))
		small := single(q.Units, 1, rapid.IntRange(0, q.Top-1).Draw(t, "leave"))
		full := fullSize(small, step)
		for i, l := range p.Limits {
			got, want := rule.Evaluate(small, q.Limits[i].Population), rule.Evaluate(full, l.Population)
			if math.Abs(got.Act-want.Act) > 1e-12 || math.Abs(got.Leave-want.Leave) > 1e-12 {
				t.Fatalf("steps of %d, leave at %d: act %.15g, leave %.15g; at full size, leave at %d, %.15g and %.15g",
					step, small.Leave[0], got.Act, got.Leave, full.Leave[0], want.Act, want.Leave)
			}
		}
		if back := coarsely([]Table{full}, step); len(back) != 1 || !back[0].Equal(small) {
			t.Fatalf("steps of %d: %+v comes back as %+v", step, small, back)
		}
	})
}

// Over several stops rounding each one's total changes a risk by little.
func TestLatticeOverStops(t *testing.T) {
	p := countsAlike(20, 45, .1, 6, 2, 6)
	q, step := p.onLattice(400)
	if step < 3 {
		t.Fatalf("steps of %d", step)
	}
	small := Table{Units: 6, Leave: []int{rule.NeverLeave, 25, 45, 70, 95, 130}, Act: []int{rule.NeverAct, 90, 105, 120, 128, 131}}
	full := fullSize(small, step)
	if back := coarsely([]Table{full}, step); len(back) != 1 || !back[0].Equal(small) {
		t.Errorf("%+v comes back as %+v", small, back)
	}
	for i, l := range p.Limits {
		if got, want := q.Limits[i].Risk(small), l.Risk(full); math.Abs(got-want) > .02*want {
			t.Errorf("risk %g on the lattice, %g at full size", got, want)
		}
	}
	if got, want := q.Stops(small), p.Stops(full); math.Abs(got-want) > .01*want {
		t.Errorf("%g stops on the lattice, %g at full size", got, want)
	}
}

// What rounding let through is asked for again with less risk allowed, until the full
// totals keep the limits, or not at all.
func TestFromCoarseAsksForLess(t *testing.T) {
	p := countsAlike(20, 60, .05, 6, 4, 4)
	p.Top = max(p.Top, 2*coarseTotals)
	_, step := p.onLattice(max(coarseTotals, coarseStop*p.Maximum))
	c := 0 // the least number, in steps, that keeps the needless risk
	for p.Limits[0].Risk(fullSize(single(p.Units, 4, c), step)) > p.Limits[0].Allowed {
		c++
	}
	// A search that is one step too bold, and gives way only when less is allowed.
	var allowed []float64
	found, ok := p.fromCoarse(p.Top, func(q *Problem, _ int) (Table, bool) {
		allowed = append(allowed, q.Limits[0].Allowed)
		if q.Limits[0].Allowed < p.Limits[0].Allowed {
			return single(q.Units, 4, c), true
		}
		return single(q.Units, 4, c-1), true
	})
	if !ok || !p.Keeps(found) || len(allowed) != 2 || allowed[1] >= allowed[0] {
		t.Errorf("%v: %+v, %v allowed", ok, found, allowed)
	}
	if p.Limits[0].Allowed != .1 || p.Limits[1].Allowed != .1 {
		t.Errorf("the problem's own limits became %g and %g", p.Limits[0].Allowed, p.Limits[1].Allowed)
	}
	tries := 0
	if got, ok := p.fromCoarse(p.Top, func(q *Problem, _ int) (Table, bool) {
		tries++
		return single(q.Units, 4, 0), true // acts nearly always
	}); ok || tries != coarseTries {
		t.Errorf("%+v breaks the limits and is returned after %d tries", got, tries)
	}
	if _, ok := p.fromCoarse(p.Top, func(*Problem, int) (Table, bool) { return Table{}, false }); ok {
		t.Error("a table where none was found")
	}
}

// Only many totals of stops that have their own means are searched on steps.
func TestLarge(t *testing.T) {
	p := countsAlike(20, 45, .1, 6, 2, 6)
	alone := countsAlike(20, 45, 0, 6, 2, 6)
	for i := range alone.Effort {
		alone.Effort[i].Population = sampling.Counts{Mean: 45, K: .8}
	}
	for _, c := range []struct {
		name string
		p    *Problem
		top  int
		want bool
	}{{"few", p, 2*coarseTotals - 1, false}, {"many", p, 2 * coarseTotals, true}, {"totals that add up", alone, 1 << 20, false}, {"shares", shares(.1, .3, .1, .1, .1, 20, 4, 20), 1 << 20, false}} {
		q := *c.p
		q.Top = c.top
		if q.large() != c.want {
			t.Errorf("%s: %v", c.name, q.large())
		}
	}
}

// A table that was searched for on steps is no worse than the one of the full totals,
// but for what a step is worth, and is judged by the full ones.
func TestCoarseSearchIsNear(t *testing.T) {
	p := countsAlike(40, 110, .05, 5, 1, 7)
	if !p.large() {
		t.Fatalf("%d totals", p.Top)
	}
	coarse, ok := p.RiskTrue(p.Starts(nil))
	if !ok || !p.Keeps(coarse) {
		t.Fatalf("%+v, %v", coarse, ok)
	}
	fixed, ok := p.Fixed(p.Maximum)
	if !ok || !p.Keeps(fixed) {
		t.Fatalf("%+v, %v", fixed, ok)
	}
	if got, most := p.Stops(coarse), float64(fixed.Stops()); got > most-.5 {
		t.Errorf("%g stops, the fixed plan takes %g: walks that end early save more", got, most)
	}
}
