package search

import (
	"math"
	"math/rand/v2"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// shares states a design problem on shares infested with one value of rho and
// equal weights at the bounds and their middle.
func shares(p0, p1, alpha, beta, rho float64, plants, minimum, maximum int) *Problem {
	at := func(p float64) sampling.Population { return sampling.Infested{P: p, Rho: rho} }
	return &Problem{
		Units: plants, Minimum: minimum, Maximum: maximum, Bounded: true,
		Effort: []Weighted{{at(p0), 1. / 3}, {at((p0 + p1) / 2), 1. / 3}, {at(p1), 1. / 3}},
		Limits: []Limit{Needless(at(p0), alpha, nil), Missed(at(p1), beta, nil)},
	}
}

// Reference values: best straight lines, fixed plans and lower bounds were
// computed independently outside the project (a grid search and a dynamic
// program in another language). The bound there used a coarser grid.
func TestRiskTrueReference(t *testing.T) {
	for _, c := range []struct {
		name         string
		p            *Problem
		most         float64 // the design must average no more stops
		bound, slack float64 // the lower bound, and how far ours may lie from it
		fixed        int
	}{
		{"rho .1, 4..20 stops", shares(.15, .30, .10, .10, .1, 20, 4, 20), 5.0400, 4.886, .003, 8},
		{"rho .1, 1..20 stops", shares(.15, .30, .10, .10, .1, 20, 1, 20), 4.4385, 4.292, .006, 8},
		{"rho .2, 1..20 stops", shares(.15, .30, .10, .10, .2, 20, 1, 20), 7.1345, 0, 0, 0},
		{"rho 0, 1..20 stops", shares(.15, .30, .10, .10, 0, 20, 1, 20), 1.05 * 1.742, 1.742, .003, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			table, ok := c.p.RiskTrue(nil)
			if !ok {
				t.Fatal("no plan found")
			}
			if err := table.Check(); err != nil {
				t.Fatal(err)
			}
			for _, l := range c.p.Limits {
				if r := l.Risk(table); r > l.Allowed+1e-12 {
					t.Errorf("risk %v, allowed %v", r, l.Allowed)
				}
			}
			got := c.p.Stops(table)
			if got > c.most {
				t.Errorf("averages %.4f stops, want at most %.4f", got, c.most)
			}
			bound := c.p.LowerBound()
			if bound > got {
				t.Errorf("lower bound %.4f above the plan's %.4f", bound, got)
			}
			if c.bound > 0 && math.Abs(bound-c.bound) > c.slack {
				t.Errorf("lower bound %.4f, reference %.4f", bound, c.bound)
			}
			if fixed, ok := c.p.Fixed(40); c.fixed > 0 && (!ok || fixed.Stops() != c.fixed) {
				t.Errorf("fixed plan of %d stops, want %d", fixed.Stops(), c.fixed)
			}
		})
	}
}

// The prices are paid by descents from the table before as well as from none: a search
// that leaves out the one averages 11.6650 stops here, the other 11.6723.
func TestRiskTrueDescendsTwice(t *testing.T) {
	p := shares(.05, .15, .05, .10, .2, 10, 1, 25)
	table, ok := p.RiskTrue(nil)
	if got := p.Stops(table); !ok || got > 11.662 {
		t.Errorf("averages %.4f stops, want at most 11.662 (%v)", got, ok)
	}
}

// The best straight lines of the same references average 5.147 stops (4..20) and
// 4.636 (1..20), with the slope of the textbook; ours may tilt.
func TestRiskLinesReference(t *testing.T) {
	textbook, err := rule.BinomialLines(.15, .30, .10, .10)
	if err != nil {
		t.Fatal(err)
	}
	for minimum, most := range map[int]float64{4: 5.147, 1: 4.636} {
		p := shares(.15, .30, .10, .10, .1, 20, minimum, 20)
		lines, table, ok := p.Lines(textbook)
		if !ok {
			t.Fatal("no lines found")
		}
		if got := p.Stops(table); got > most+5e-4 {
			t.Errorf("from %d stops: lines %+v average %.4f stops, want at most %.4f", minimum, lines, got, most)
		}
		best, ok := p.RiskTrue([]Table{table})
		if !ok || p.Stops(best) > p.Stops(table) {
			t.Errorf("the table is worse than the lines")
		}
	}
}

// exhaustive returns the least effort over all decision tables that keep the
// risks, by trying every one.
func exhaustive(p *Problem) (float64, bool) {
	best, found := math.Inf(1), false
	t := p.allContinue()
	var try func(j int)
	try = func(j int) {
		if j == p.Maximum {
			if t.Check() != nil {
				return
			}
			if x := p.Stops(t); x < best && p.Keeps(t) {
				best, found = x, true
			}
			return
		}
		n := p.Units * (j + 1)
		for a := rule.NeverLeave; a <= n; a++ {
			if j > 0 && a < t.Leave[j-1] {
				continue
			}
			for r := a + 1; r <= n+1; r++ {
				t.Leave[j], t.Act[j] = a, r
				last := j == p.Maximum-1
				if last && r != a+1 {
					break
				}
				if !last && r == n+1 {
					t.Act[j] = rule.NeverAct
				}
				if j+1 < p.Minimum && !last && (a != rule.NeverLeave || t.Act[j] != rule.NeverAct) {
					continue
				}
				if j > 0 && t.Act[j-1] != rule.NeverAct && (t.Act[j] == rule.NeverAct || r < t.Act[j-1]) {
					continue
				}
				try(j + 1)
			}
		}
	}
	try(0)
	return best, found
}

// Against every decision table there is, on small cases: the bound never exceeds
// the best of them, and the search finds it.
func TestRiskTrueExhaustive(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	cases := 20
	if *all {
		cases = 100
	}
	hits, tried := 0, 0
	for tried < cases {
		size := [][2]int{{2, 3}, {3, 3}, {4, 3}, {5, 2}, {6, 2}, {2, 4}, {3, 2}}[rng.IntN(7)]
		p0 := 0.05 + 0.3*rng.Float64()
		p1 := p0 + 0.2 + 0.3*rng.Float64()
		p := shares(p0, p1, 0.05+0.3*rng.Float64(), 0.05+0.3*rng.Float64(), 0.4*rng.Float64(), size[0], 1+rng.IntN(2), size[1])
		best, ok := exhaustive(p)
		table, found := p.RiskTrue(nil)
		if found && !ok {
			t.Fatalf("%+v: a plan was found where there is none", p)
		}
		if !ok {
			continue
		}
		tried++
		if bound := p.LowerBound(); bound > best+1e-9 {
			t.Errorf("%+v: bound %.6f above the optimum %.6f", p, bound, best)
		}
		if !found {
			t.Errorf("%+v: no plan found, the optimum is %.6f", p, best)
			continue
		}
		got := p.Stops(table)
		switch {
		case got <= best+1e-9:
			hits++
		case got > 1.02*best:
			t.Errorf("%+v: %.6f is more than 2%% above the optimum %.6f", p, got, best)
		}
	}
	if 100*hits < 95*cases {
		t.Errorf("optimum found in %d of %d cases, want 95%%", hits, cases)
	}
	t.Logf("optimum found in %d of %d cases", hits, cases)
}
