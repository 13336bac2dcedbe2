package sampling

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// NegBinomial is the total count of insects, with variance Mean + Mean^2/K.
// What is counted is insects (not trials); K need not be whole. In the other
// common parameterisation the chance of success is K/(K+Mean) and the number of
// successes K. K = +Inf is the Poisson distribution, and the probabilities are
// continuous there.
//
// Anscombe, F.J. (1949) The statistical analysis of insect counts based on the
// negative binomial distribution. Biometrics 5: 165-173. Bliss, C.I. & Fisher,
// R.A. (1953) Fitting the negative binomial distribution to biological data.
// Biometrics 9: 176-200.
type NegBinomial struct {
	Mu float64 // mean of the total, 0 <= mean < +Inf
	K  float64 // aggregation parameter of the total, 0 < K <= +Inf; small = clumped
}

// Mean returns the mean of the total.
func (d NegBinomial) Mean() float64 { return d.Mu }

// Variance returns mean + mean^2/K.
func (d NegBinomial) Variance() float64 { return d.Mu + d.Mu*d.Mu/d.K }

// Max returns Unbounded.
func (d NegBinomial) Max() int { return Unbounded }

// zeroAnchor is the largest -ln P(X = 0) for which probabilities are built up
// from P(0): there the rounding of the logarithm costs at most 1e-13. Beyond
// it they are built from the mode and normalised.
const zeroAnchor = 500

// Probs returns P(X = x) for x = 0..n, to about 1e-13 relative.
func (d NegBinomial) Probs(n int) []float64 {
	p := make([]float64, n+1)
	if d.Mu == 0 {
		p[0] = 1
		return p
	}
	if l := d.logZero(); l <= zeroAnchor {
		p[0] = math.Exp(-l)
		for x := 0; x < n; x++ {
			p[x+1] = p[x] * d.ratio(x)
		}
		d.correct(p, 0)
		return p
	}
	// The whole support that carries weight, so that it can be normalised.
	mode := d.mode()
	top := mode + int(60*math.Sqrt(d.Variance())) + 60*int(1+d.Mu/d.K)
	all := fromRatios(max(top, n), mode, d.ratio)
	d.correct(all, mode)
	floats.Scale(1/floats.Sum(all), all)
	return all[:n+1]
}

// Tails returns P(X >= x) for x = 0..n.
func (d NegBinomial) Tails(n int) []float64 {
	p := d.Probs(n)
	return suffixSums(p, d.beyond(n, p))
}

// beyond returns P(X > n), given the probabilities up to n.
func (d NegBinomial) beyond(n int, p []float64) float64 {
	if d.Mu == 0 {
		return 0
	}
	if float64(n) < d.Mu || d.Mu > 1e7*d.K { // the fraction would converge too slowly
		return math.Max(0, 1-floats.SumCompensated(p))
	}
	return p[n] * d.ratio(n) * d.tailRatio(n+1)
}

// tailRatio returns P(X >= x)/P(X = x) for x above the mean. With w = mean/K it is
// (1+w) 2F1(1-K, 1; x+1; -w), a continued fraction. It starts from the exact
// probability: gonum's RegIncBeta starts from log-gamma differences and loses up
// to three digits more.
//
// Gauss's continued fraction: NIST Digital Library of Mathematical Functions,
// 15.7.5. Evaluated from the front as by Lentz, W.J. (1976) Appl. Opt. 15: 668-671.
func (d NegBinomial) tailRatio(x int) float64 {
	w, a := d.Mu/d.K, float64(x)
	c, e, fraction := 1.0, 0.0, 1.0
	step := func(term float64) float64 {
		e = 1 / (1 + term*e)
		c = 1 + term/c
		fraction *= c * e
		return math.Abs(c*e - 1)
	}
	for m := 0.0; ; m++ {
		b := a + 2*m
		last := step(((m+1)*w - d.Mu) * (a + m) / (b * (b + 1)))
		last += step((m + 1) * ((a+m)*w + d.Mu) / ((b + 1) * (b + 2)))
		if last < 1e-15 {
			return (1 + w) / fraction
		}
	}
}

// logZero returns -ln P(X = 0) = K ln(1 + mean/K).
func (d NegBinomial) logZero() float64 {
	if math.IsInf(d.K, 1) {
		return d.Mu
	}
	return d.K * math.Log1p(d.Mu/d.K)
}

// ratio returns P(x+1)/P(x) = (K+x)/(x+1) * mean/(K+mean).
func (d NegBinomial) ratio(x int) float64 {
	if math.IsInf(d.K, 1) {
		return d.Mu / float64(x+1)
	}
	return (d.K + float64(x)) / float64(x+1) * (d.Mu / (d.K + d.Mu))
}

// correct removes the systematic part of the rounding error of ratio, which would
// grow to 1e-12 over ten thousand steps from the anchor.
func (d NegBinomial) correct(p []float64, anchor int) {
	drift := d.drift()
	for x := range p {
		p[x] *= 1 + float64(x-anchor)*drift
	}
}

// drift returns the relative error of the factor mean/(K+mean) as it is rounded,
// of up to 1e-16, with its sign turned. It is the same in every ratio.
func (d NegBinomial) drift() float64 {
	if math.IsInf(d.K, 1) {
		return 0
	}
	s := d.K + d.Mu
	hi, lo := math.Max(d.K, d.Mu), math.Min(d.K, d.Mu)
	rest := lo - (s - hi) // what the sum s lost: K + mean = s + rest exactly
	q := d.Mu / s
	return -math.FMA(q, s, -d.Mu)/d.Mu - rest/s
}

func (d NegBinomial) mode() int {
	if d.K <= 1 {
		return 0
	}
	if math.IsInf(d.K, 1) {
		return int(d.Mu)
	}
	return int(d.Mu * (d.K - 1) / d.K)
}

// Counts is a field with Mean insects per unit (leaf or plant: the caller says
// which) and aggregation parameter K per unit, units being independent: m of
// them total to a negative binomial with mean m*Mean and parameter m*K.
type Counts struct {
	Mean float64 // insects per unit, 0 <= Mean < +Inf
	K    float64 // 0 < K <= +Inf; +Inf is the Poisson
}

// NewCounts returns the field, or an error if a value is out of its range.
func NewCounts(mean, k float64) (Counts, error) {
	if !(mean >= 0) || math.IsInf(mean, 1) {
		return Counts{}, Refuse("mean", mean, "0 or more")
	}
	if !(k > 0) {
		return Counts{}, Refuse("k", k, "above 0")
	}
	return Counts{mean, k}, nil
}

// Stop returns the total count on units units.
func (f Counts) Stop(units int) StopTotal {
	return NegBinomial{float64(units) * f.Mean, float64(units) * f.K}
}

// Additive marks that counts of independent units add up.
func (f Counts) Additive() {}

// Level returns Mean.
func (f Counts) Level() float64 { return f.Mean }
