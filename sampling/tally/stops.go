package tally

import (
	"math"

	"stopwise/sampling"
)

// Stops whose means are drawn from a gamma distribution of a larger shape than
// sameStops are all the same.
const sameStops = 1e12

// The mean over stops is a sum over the logarithm of a stop's mean in equal steps:
// where all is analytic and falls off on both sides, such a sum comes as near to the
// integral as the steps are narrow against whatever is steepest, e^-40 here.
//
// Trefethen, L.N. & Weideman, J.A.C. (2014) The exponentially convergent trapezoidal
// rule. SIAM Review 56: 385-458.
const (
	widestStep = 0.25 // against the gamma distribution of a small shape
	stepsOf    = 0.5  // of the narrower of what the stops' means and the counts spread
	farOff     = 45   // -ln of the weight at which the sum ends
	wholeFrom  = 30   // the shape from which the density itself ends there
)

// overStops returns the mean of f over the stops of a field: f is told a stop's mean
// per leaf and the k of its leaves about it, and vanishes with the mean at least as
// fast as that.
func (r Theory) overStops(mean float64, f func(mean, k float64) float64) float64 {
	k := r.K(mean)
	rho := math.Min(r.CountRho, sampling.MaxCountRho(mean, k))
	if !(rho > 0) || math.IsInf(mean, 1) {
		return f(mean, k)
	}
	field := sampling.AlikeCounts{Mean: mean, K: k, Rho: rho}
	shape, within := field.StopShape(), field.WithinK()
	if shape > sameStops {
		return f(mean, k)
	}
	step := math.Min(widestStep, stepsOf/math.Sqrt(shape+1/(1/float64(r.T)+1/within)))
	// The gamma density of ln(L/mean), up to a factor: its top, 1, is at 0.
	weight := func(u float64) float64 { return shape * (u - math.Expm1(u)) }
	sum, whole := 0.0, 0.0
	for _, way := range []float64{1, -1} {
		for i := 0.5; ; i++ {
			u := way * i * step
			w := weight(u)
			if w+math.Min(u, 0) < -farOff {
				break
			}
			sum += math.Exp(w) * f(mean*math.Exp(u), within)
			whole += math.Exp(w)
		}
	}
	if shape < wholeFrom { // the sum ended before the density did
		lg, _ := math.Lgamma(shape)
		whole = math.Exp(lg+shape-shape*math.Log(shape)) / step
	}
	return sum / whole
}
