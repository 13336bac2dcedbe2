package fit

import (
	"math"
)

// K is what the counts of one field say about the negative binomial k.
type K struct {
	Units          int     // leaves (or whatever was counted on)
	Mean, Variance float64 // of the counts; the variance on Units-1
	ML             Estimate
	Moments        Estimate // without interval
	Zeros          Estimate // without interval

	LogLik        float64 // of the negative binomial, at the ML estimate
	PoissonLogLik float64
	Fit           GoodnessOfFit
}

// FitK estimates the negative binomial k of the counts of one field in three
// ways; see [KMoments], [KZeros] and, for ML, [FitCommonK], of which it is the
// case of one field.
func FitK(c Counts, confidence float64) (K, error) {
	if err := checkConfidence(confidence); err != nil {
		return K{}, err
	}
	out := K{Units: c.units, Mean: c.Mean(), Variance: c.Variance(), Moments: KMoments(c), Zeros: KZeros(c)}
	out.LogLik, out.PoissonLogLik = math.NaN(), math.NaN()
	out.ML = noCounts(c)
	out.Fit.Test = noTest("%s", out.ML.Missing)
	if !out.ML.Known() {
		return out, nil
	}
	common := commonCurve([]Counts{c})
	out.ML, out.LogLik = common.estimate(confidence)
	out.PoissonLogLik = logLik(c, 0)
	switch {
	case out.ML.Known():
		out.Fit = goodness(c, out.ML.Value)
	default:
		out.Fit.Test = noTest("%s", out.ML.Missing)
	}
	return out, nil
}

// noCounts returns why counts carry no k, or an estimate that is not missing.
func noCounts(c Counts) Estimate {
	switch {
	case c.units < 2:
		return missing("fewer than 2 units were counted")
	case c.sum == 0:
		return missing("all counts are 0")
	}
	return point(0)
}

// underdispersed is the reason given where the variance of the counts is not
// above their mean, so that no k fits.
const underdispersed = NoClumping + ": the variance of the counts is not above their mean"

// KMoments returns k by moments, mean^2/(variance-mean). It is missing, and
// never negative, where the variance is not above the mean.
//
// Anscombe, F.J. (1949) The statistical analysis of insect counts based on the
// negative binomial distribution. Biometrics 5: 165-173.
func KMoments(c Counts) Estimate {
	if e := noCounts(c); !e.Known() {
		return e
	}
	m, v := c.Mean(), c.Variance()
	if v <= m {
		return missing(underdispersed)
	}
	return point(m * m / (v - m))
}

// KZeros returns k from the share of units without an insect: the solution of
//
//	k ln(1 + mean/k) = -ln(share of zeros)
//
// It is missing where no unit, or more than a Poisson distribution leaves, is
// without an insect. Good where k and the mean are small (Anscombe 1949).
func KZeros(c Counts) Estimate {
	if e := noCounts(c); !e.Known() {
		return e
	}
	if c.zeros() == 0 {
		return missing("no unit is without an insect")
	}
	m := c.Mean()
	target := -math.Log(float64(c.zeros()) / float64(c.units))
	if target >= m {
		return missing(NoClumping + ": there are no more zeros than insects sitting independently would leave")
	}
	// In t = mean/k the equation is ln(1+t)/t = target/mean, falling from 1.
	t := zero(func(logT float64) float64 {
		t := math.Exp(logT)
		return math.Log1p(t)/t - target/m
	}, math.Log(1e-12), math.Log(1e12))
	return point(m / math.Exp(t))
}

// logLik returns the log-likelihood of the negative binomial with the mean of
// the counts and 1/k = a; a = 0 is the Poisson. It is written as a sum over the
// counts so that it is continuous there.
func logLik(c Counts, a float64) float64 {
	m, n := c.Mean(), float64(c.units)
	ll := 0.0
	c.eachAbove(func(x, above float64) { ll += above * math.Log1p(a*x) })
	for _, f := range c.classes {
		lg, _ := math.Lgamma(float64(f.Count) + 1)
		ll -= float64(f.Leaves) * lg
	}
	if t := a * m; t > 0 {
		ll -= n * m * (1 + t) * math.Log1p(t) / t
	} else {
		ll -= n * m
	}
	return ll + c.sum*math.Log(m)
}

// slope returns the derivative of logLik to a.
func slope(c Counts, a float64) float64 {
	m, s := c.Mean(), 0.0
	c.eachAbove(func(x, above float64) { s += above * x / (1 + a*x) })
	return s + float64(c.units)*m*m*logShape(a*m)
}

// logShape returns (ln(1+t) - t)/t^2, by its series where t is small.
func logShape(t float64) float64 {
	if t > 0.02 {
		return (math.Log1p(t) - t) / (t * t)
	}
	sum, power := 0.0, 1.0
	for i := 2; i < 14; i++ {
		sum -= power / float64(i)
		power *= -t
	}
	return sum
}

// information returns minus the second derivative of the log-likelihood to k.
func information(c Counts, k float64) float64 {
	m, s := c.Mean(), 0.0
	c.eachAbove(func(x, above float64) { s += above / ((k + x) * (k + x)) })
	return s - float64(c.units)*m/(k*(k+m))
}
