package search

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

func means(low, middle, high, k, rho float64, units, minimum, maximum int) *Problem {
	at := func(mean float64) sampling.Population { return sampling.AlikeCounts{Mean: mean, K: k, Rho: rho} }
	p := &Problem{Units: units, Minimum: minimum, Maximum: maximum, Limits: []Limit{Needless(at(low), .1, nil), Missed(at(high), .1, nil)}}
	for _, mean := range []float64{low, middle, high} {
		p.Effort = append(p.Effort, Weighted{at(mean), 1. / 3})
	}
	p.Top = p.CountCeiling()
	return p
}

// What no plan of up to two stops can beat, by listing every pair of counts: the best
// plan for given prices takes the cheapest way at each of them, and the prices are
// those that make it dearest. The bound may lie a little below, never above; were
// counts taken together in place of split, it would lie above.
func TestLowerBoundOfCountsEnumerated(t *testing.T) {
	for _, c := range []struct{ low, middle, high, k, rho float64 }{
		{.3, .8, 2.2, .8, .15}, {.3, .6, 1.6, 1, 0}, {.4, 1, 2.6, .8, .3},
	} {
		p := means(c.low, c.middle, c.high, c.k, c.rho, 4, 1, 2)
		for i := range p.Limits {
			p.Limits[i].Allowed = .12
		}
		const top = 220
		var f [3][]float64
		for i, w := range p.Effort {
			f[i] = w.Stop(p.Units).Probs(top)
			if rest := 1 - floats.Sum(f[i]); rest > 1e-7 {
				t.Fatalf("%+v: %g of the counts left out", c, rest)
			}
		}
		value := func(l0, l1 float64) float64 {
			sum := 1.0
			for x := range f[0] {
				first := math.Min(l0*f[0][x], l1*f[2][x])
				on := (f[0][x] + f[1][x] + f[2][x]) / 3
				for y := range f[0] {
					on += math.Min(l0*f[0][x]*f[0][y], l1*f[2][x]*f[2][y])
				}
				sum += math.Min(first, on)
			}
			return sum - .12*(l0+l1)
		}
		best, at := math.Inf(-1), [2]float64{10, 10}
		for by := 2.0; by > 1.01; by = math.Sqrt(by) { // it is concave in the prices
			for moved := true; moved; {
				moved = false
				from := at
				for i := range 9 {
					l0, l1 := from[0]*math.Pow(by, float64(i%3-1)), from[1]*math.Pow(by, float64(i/3-1))
					if v := value(l0, l1); v > best+1e-9 {
						best, at, moved = v, [2]float64{l0, l1}, true
					}
				}
			}
		}
		got := p.LowerBound()
		t.Logf("%+v: %.5f, enumerated %.5f", c, got, best)
		if got > best+1e-6 || got < .99*best {
			t.Errorf("%+v: bound %.5f, enumerated %.5f", c, got, best)
		}
	}
}

// Corners keep all of the chances, and counts brought to them tell no less.
func TestCorners(t *testing.T) {
	p := means(2, 3.5, 5, .8, .1, 10, 2, 20)
	f := p.chances(p.enough())
	g := cornered(f, odds(corners))
	if len(g[0]) > 3*corners {
		t.Errorf("%d corners", len(g[0]))
	}
	apart := func(f [3][]float64) (sum float64) { // what tells the outer worlds apart
		for x := range f[0] {
			sum += math.Sqrt(f[0][x] * f[2][x])
		}
		return sum
	}
	for i := range g {
		if math.Abs(floats.Sum(f[i])-1) > 1e-9 || math.Abs(floats.Sum(g[i])-floats.Sum(f[i])) > 1e-12 {
			t.Errorf("world %d: chances sum to %v, at corners to %v", i, floats.Sum(f[i]), floats.Sum(g[i]))
		}
	}
	if a, b := apart(f), apart(g); b > a || b < a-.002 {
		t.Errorf("the worlds have %.5f in common by their counts, %.5f by corners", a, b)
	}
}

// Points of insects come near what no plan can beat, in a search on a dozen states a
// stop. Totals take 6.15 stops here.
func TestPointsOfInsects(t *testing.T) {
	p := means(.5, .75, 1, .6, .2, 20, 1, 20)
	p.Top = p.CountCeiling()
	w := rule.Worth{Points: &rule.Points{Lower: .5, Upper: 1, Units: 20, Top: 12,
		Insects: rule.Insects{Full: 60, Unit: [2]float64{1 / .6, 1 / .6}, Stop: [2]float64{.2 * (1/.5 + 1/.6), .2 * (1 + 1/.6)}}}}
	_, table, ok := p.BestWorth([]rule.Worth{w})
	q := p.Counting(w)
	bound, got := p.LowerBound(), q.Stops(table)
	t.Logf("bound %.3f, points %.3f", bound, got)
	if !ok || !q.Keeps(table) || got < bound || got > 1.035*bound {
		t.Errorf("%.3f stops by points, bound %.3f", got, bound)
	}
}
