package sampling

import "math"

// mixedNegBinomial is the total of a stop of [AlikeCounts]: negative binomial
// with parameter k about a mean that is gamma distributed with the given shape.
//
// With t = L/w its probabilities are
//
//	P(x) = Gamma(k+x)/(Gamma(k) x!) scale^shape/Gamma(shape) int t^(x+shape-1) (1+t)^-(x+k) e^(-scale t) dt
//
// where the integral is Gamma(x+shape) U(x+shape, shape+1-k, scale), Tricomi's
// function. Its recurrence in the first argument is one in x,
//
//	(k+x-1)(shape+x-1) P(x-1) = x [(2x+shape+scale+k-1) P(x) - (x+1) P(x+1)]
//
// of which P is the solution that vanishes fastest, so that it is stable from
// above (J.C.P. Miller's method). In s(x) = 1 - P(x+1)/P(x) the terms that
// cancel are gone, and no digits are lost over ten thousand steps.
//
// NIST Digital Library of Mathematical Functions, 13.3.7 and 13.4.4, 3.6(iii).
// Temme, N.M. (1983) The numerical computation of the confluent hypergeometric
// function U(a,b,z). Numer. Math. 41: 63-82.
type mixedNegBinomial struct {
	field           AlikeCounts
	units           int
	shape, k, scale float64
}

// Mean returns units * Mean.
func (d mixedNegBinomial) Mean() float64 { return float64(d.units) * d.field.Mean }

// Variance returns units v [1 + (units-1) Rho], v = Mean + Mean^2/K.
func (d mixedNegBinomial) Variance() float64 {
	f := d.field
	return float64(d.units) * (f.Mean + f.Mean*f.Mean/f.K) * DesignEffect(d.units, f.Rho)
}

// Max returns Unbounded.
func (d mixedNegBinomial) Max() int { return Unbounded }

// Probs returns P(X = x) for x = 0..n.
func (d mixedNegBinomial) Probs(n int) []float64 {
	p, _ := d.table(n)
	return p[:n+1]
}

// Tails returns P(X >= x) for x = 0..n.
func (d mixedNegBinomial) Tails(n int) []float64 {
	p, above := d.table(n)
	for x := range p {
		p[x] *= above[x]
	}
	return p[:n+1]
}

// table returns P(X = x) and P(X >= x)/P(X = x) for x from 0 to n or the mode,
// whichever is larger.
func (d mixedNegBinomial) table(n int) (p, above []float64) {
	peak := int((d.k - 1) * (d.shape - 1) / d.scale) // the mode is not above it
	n = max(n, peak+1, 1)
	ratio := make([]float64, n+1) // P(x+1)/P(x)
	above = make([]float64, n+1)
	start := d.start(n)
	s := d.decay(float64(start))
	tail := 1 / s // P(X >= start)/P(X = start), nearly
	keep := func(x int, r float64) {
		tail = 1 + r*tail
		if x <= n {
			ratio[x], above[x] = r, tail
		}
	}
	a, b := (d.k-1)*(d.shape-1), d.shape+d.scale+d.k-2
	for i := start; i > 0; i-- {
		x := float64(i)
		below := x * (x + b + (x+1)*s)
		r := (d.k + x - 1) * (d.shape + x - 1) / below
		s = (x*d.scale - a + x*(x+1)*s) / below
		keep(i-1, r)
	}
	mode := 0
	for mode < n && ratio[mode] > 1 {
		mode++
	}
	p = ratio // p[x] replaces the ratio once that is used
	return d.fromMode(p, above, mode), above
}

// fromMode turns ratios into probabilities: 1 at the mode, up and down from
// there, and divided by the whole, which is P(X >= mode) and what lies below.
func (d mixedNegBinomial) fromMode(ratio, above []float64, mode int) []float64 {
	p := make([]float64, len(ratio))
	p[mode] = 1
	sum := above[mode]
	for x := mode - 1; x >= 0; x-- {
		p[x] = p[x+1] / ratio[x]
		sum += p[x]
	}
	for x := mode; x+1 < len(p); x++ {
		p[x+1] = p[x] * ratio[x]
	}
	for x := range p {
		p[x] /= sum
	}
	return p
}

// decay returns about what 1 - P(x+1)/P(x) is far above the mode: the value at
// which the recurrence stands still.
func (d mixedNegBinomial) decay(x float64) float64 {
	fall := d.scale - (d.k-1)*(d.shape-1)/x
	b := d.shape + d.scale + d.k - 3
	root := math.Sqrt(b*b + 4*(x+1)*fall)
	if b > 0 {
		return 2 * fall / (b + root)
	}
	return (root - b) / (2 * (x + 1))
}

// negligible is -ln of how small, against P(n), the probability is from which
// the recurrence starts: what is guessed there is forgotten at n.
const negligible = 45

// start returns from where to go down so that all is exact from n on.
func (d mixedNegBinomial) start(n int) int {
	x := float64(n) + 1
	for fell := 0.0; fell < negligible; {
		s := d.decay(2 * x)
		if m := d.decay(1.5 * x); m < s {
			s = m
		}
		if !(s > 0) {
			x *= 2
			continue
		}
		step := math.Min(x, math.Ceil((negligible-fell)/s))
		fell += step * s
		x += step
	}
	return int(x)
}
