package sampling

import (
	"math"

	"stopwise/sampling/root"
)

// MeanLikelihood returns a likelihood confidence interval for the mean per unit,
// from total insects on units independent units, when the aggregation parameter
// k per unit is known (+Inf is the Poisson): the means whose log-likelihood is
// within z^2/2 of the highest. Unlike an interval from the variance it cannot
// reach below 0, and it has an upper limit when nothing was found.
//
// That k is taken as known makes it somewhat narrow when k was estimated.
//
// Cox, D.R. & Hinkley, D.V. (1974) Theoretical Statistics, 9.3.
func MeanLikelihood(total, units int, k, confidence float64) (Interval, error) {
	switch {
	case total < 0:
		return Interval{}, Refusef("total %d, must be 0 or more", total)
	case units < 1:
		return Interval{}, Refuse("units examined", units, "at least 1")
	case !(k > 0):
		return Interval{}, Refuse("k", k, "above 0")
	}
	if err := CheckConfidence(confidence); err != nil {
		return Interval{}, err
	}
	z := CriticalNormal(confidence)
	y, n := float64(total), float64(units)
	best := y / n
	f := func(mean float64) float64 { return deviance(y, n, mean, k) - z*z }
	upper := math.Max(best, 1/n)
	for f(upper) < 0 {
		upper *= 2
		if upper > 1e300 {
			return Interval{}, Refusef("k %g over %d units carries too little about the mean for confidence %g", k, units, confidence)
		}
	}
	in := Interval{Confidence: confidence}
	var err error
	if in.Upper, err = root.Brent(f, best, upper); err != nil {
		return Interval{}, err
	}
	if total > 0 {
		lower := best / 2
		for f(lower) < 0 {
			lower /= 2
		}
		in.Lower, err = root.Brent(f, lower, best)
	}
	return in, err
}

// deviance returns twice the drop of the log-likelihood of total y on n units
// from its top, at the given mean per unit.
func deviance(y, n, mean, k float64) float64 {
	best := y / n
	if math.IsInf(k, 1) {
		return 2 * (xlog(y, best/mean) - (y - n*mean))
	}
	return 2 * (xlog(y, best/mean) - (y+n*k)*math.Log1p((best-mean)/(k+mean)))
}

// xlog returns x ln(y), which is 0 at x = 0.
func xlog(x, y float64) float64 {
	if x == 0 {
		return 0
	}
	return x * math.Log(y)
}
