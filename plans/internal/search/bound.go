package search

import (
	"math"

	"gonum.org/v1/gonum/optimize"

	"stopwise/plans/rule"
)

// LowerBound returns a number of weighted expected stops that no plan keeping
// the limits can beat, whatever it remembers of the stops: even one that knows
// each stop's own count. It takes the counts to be distributed as the three worlds
// of Effort say, and looks only at the limits in these worlds. It is 0 where the
// problem has not three worlds or no limit in them.
//
// The state is (L0, Lm, L1), the likelihoods of all counts so far in the lower,
// the middle and the upper world. For prices l0, l1 the least cost to go is
//
//	V_j(L) = min(l0 L0, l1 L1, sum w_i L_i + sum_x V_j+1(L_i f_i(x)))
//
// which is concave and homogeneous of degree one, so interpolation between the
// nodes of a grid never exceeds it; V_0(1, 1, 1) - l0 alpha - l1 beta is a lower
// bound for any prices (weak duality), and it is maximised over them.
func (p *Problem) LowerBound() float64 {
	d := p.dual()
	if d == nil {
		return 0
	}
	coarse := newSimplex(d.told, 40, 20)
	price := func(x []float64) []float64 {
		prices := make([]float64, len(x))
		for i := range x {
			prices[i] = math.Exp(x[i])
		}
		return prices
	}
	start := make([]float64, len(d.limits))
	for i, l := range d.limits {
		start[i] = math.Log(2 / l.Allowed)
	}
	result, err := optimize.Minimize(
		optimize.Problem{Func: func(x []float64) float64 { return -coarse.value(d, price(x)) }},
		start,
		&optimize.Settings{FuncEvaluations: 80, Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 8}},
		&optimize.NelderMead{SimplexSize: 0.3},
	)
	at := start
	if err == nil || result != nil {
		at = result.X
	}
	// A grid between the two brings the prices closer.
	middle := newSimplex(d.told, 80, 40)
	result, err = optimize.Minimize(
		optimize.Problem{Func: func(x []float64) float64 { return -middle.value(d, price(x)) }},
		at,
		&optimize.Settings{FuncEvaluations: 16},
		&optimize.NelderMead{SimplexSize: 0.05},
	)
	if err == nil || result != nil {
		at = result.X
	}
	// Any prices give a valid bound; the fine grid only raises it.
	nt := fineGrid(len(d.told[0]))
	fine := newSimplex(d.told, nt, nt/2)
	return math.Max(fine.value(d, price(at)), coarse.value(d, price(at)))
}

// A dual is what the bound looks at of a problem: the limits in its three worlds.
type dual struct {
	*Problem
	limits []Limit
	world  []int        // of each limit
	told   [3][]float64 // the chances of what a stop can tell
}

func (p *Problem) dual() *dual {
	if len(p.Effort) != 3 {
		return nil
	}
	d := &dual{Problem: p}
	for _, l := range p.Limits {
		for i, w := range p.Effort {
			if w.Population == l.Population {
				d.limits, d.world = append(d.limits, l), append(d.world, i)
			}
		}
	}
	if len(d.limits) == 0 {
		return nil
	}
	d.told = p.told()
	return d
}

// A decision holds what the verdicts after a stop cost per likelihood.
type decision struct{ act, leave [3]float64 }

func (d *dual) decision(j int, prices []float64) (c decision) {
	for i, l := range d.limits {
		c.act[d.world[i]] += prices[i] * l.cost(rule.Act, j)
		c.leave[d.world[i]] += prices[i] * l.cost(rule.Leave, j)
	}
	return c
}

func (c *decision) cost(l [3]float64) float64 {
	return min(c.act[0]*l[0]+c.act[1]*l[1]+c.act[2]*l[2], c.leave[0]*l[0]+c.leave[1]*l[1]+c.leave[2]*l[2])
}
