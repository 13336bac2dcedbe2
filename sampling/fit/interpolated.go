package fit

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// rhoGrid is where a likelihood that is costly is looked at first.
var rhoGrid = []float64{0, 0.003, 0.01, 0.03, 0.06, 0.1, 0.16, 0.24, 0.34, 0.46, 0.6, 0.75, 0.9}

// interpolated returns a costly log-likelihood as a curve through its values on
// rhoGrid and at more points around its maximum. What lies between is
// interpolated over the root of rho, in which a likelihood near 0 is smooth.
func interpolated(f func(rho float64) float64) curve {
	const more = 12
	values := map[float64]float64{}
	highest := math.Inf(-1)
	look := func(rho float64) {
		if _, seen := values[rho]; !seen {
			values[rho] = f(rho)
			highest = math.Max(highest, values[rho])
		}
	}
	for _, rho := range rhoGrid {
		look(rho)
	}
	lo, hi := len(rhoGrid)-1, 0
	for i, rho := range rhoGrid {
		if values[rho] > highest-4 {
			lo, hi = min(lo, i), max(hi, i)
		}
	}
	from, to := math.Sqrt(rhoGrid[max(lo-1, 0)]), math.Sqrt(rhoGrid[min(hi+1, len(rhoGrid)-1)])
	for i := range more + 1 {
		u := from + (to-from)*float64(i)/more
		look(u * u)
	}
	var at []float64
	for rho, v := range values {
		if !math.IsInf(v, 0) && !math.IsNaN(v) {
			at = append(at, rho)
		}
	}
	sort.Float64s(at)
	var u, v []float64
	for _, rho := range at {
		if root := math.Sqrt(rho); len(u) == 0 || root > u[len(u)-1]+1e-6 {
			u, v = append(u, root), append(v, values[rho])
		}
	}
	var spline interp.AkimaSpline
	if len(u) < 3 || spline.Fit(u, v) != nil {
		flat := func(float64) float64 { return 0 }
		return curve{value: flat, slope: flat}
	}
	last := u[len(u)-1]
	beyond := func(rho float64) float64 { return math.Max(0, math.Sqrt(rho)-last) }
	return curve{
		// Beyond the grid it falls steeply: no such correlation is looked for.
		value: func(rho float64) float64 {
			return spline.Predict(math.Min(math.Sqrt(rho), last)) - 1e3*beyond(rho)
		},
		slope: func(rho float64) float64 {
			return spline.PredictDerivative(math.Min(math.Sqrt(rho), last)) - 1e3*beyond(rho)
		},
	}
}

// estimateOf returns the maximum of a curve with its interval.
func estimateOf(c curve, confidence float64) Estimate {
	e := Estimate{Value: c.maximum(), SE: math.NaN()}
	e.Lower, e.Upper = c.interval(e.Value, confidence)
	return e
}
