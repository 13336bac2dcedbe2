package search

import (
	"math"

	"gonum.org/v1/gonum/optimize"
)

// A dualOfMoves bounds what combinations of moves can save: at any prices of the
// risks up to the penalty, the sum of what the moves save at them, and what is left
// of the risks.
type dualOfMoves struct {
	ms      []move
	now     *score
	limits  []term
	widened float64
}

func newDualOfMoves(ms []move, now *score, limits []term, widened float64) *dualOfMoves {
	return &dualOfMoves{ms, now, limits, widened}
}

// at sets what each move saves at the prices, and returns what is left of the risks.
func (d *dualOfMoves) at(prices, saves []float64) (rest float64) {
	for i := range d.ms {
		saves[i] = -d.ms[i].delta.effort
	}
	for l, k := range d.limits {
		price := min(prices[l], penalty/k.allowed)
		rest += price * (k.allowed*(1+d.widened) - d.now.risks[l])
		for i := range d.ms {
			saves[i] -= price * d.ms[i].delta.risks[l]
		}
	}
	return rest
}

// tuned returns prices, near the given ones, at which the bound on three moves is
// low. Any prices are right; these are quick.
func (d *dualOfMoves) tuned(near []float64) []float64 {
	if len(d.limits) == 0 {
		return near
	}
	saves, prices := make([]float64, len(d.ms)), make([]float64, len(near))
	bound := func(x []float64) float64 {
		for i := range x {
			prices[i] = math.Exp(x[i])
		}
		sum := d.at(prices, saves)
		var best [3]float64 // falling
		for _, s := range saves {
			switch {
			case s > best[0]:
				best = [3]float64{s, best[0], best[1]}
			case s > best[1]:
				best[1], best[2] = s, best[1]
			case s > best[2]:
				best[2] = s
			}
		}
		return sum + best[0] + best[1] + best[2]
	}
	start := make([]float64, len(near))
	for i := range near {
		start[i] = math.Log(max(near[i], 1e-6))
	}
	result, err := optimize.Minimize(optimize.Problem{Func: bound}, start,
		&optimize.Settings{FuncEvaluations: 25 * (1 + len(near))}, &optimize.NelderMead{SimplexSize: 0.1})
	if err != nil && result == nil {
		return near
	}
	out := make([]float64, len(near))
	for i := range out {
		out[i] = math.Exp(result.X[i])
	}
	return out
}
