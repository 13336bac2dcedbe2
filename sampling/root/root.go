// Package root finds where a continuous function of one variable crosses zero.
// Gonum has minimisers but no bracketing root finder.
package root

import (
	"fmt"
	"math"
)

// maxSteps is far above what Brent's method needs between two float64 numbers.
const maxSteps = 1000

// smallest is the absolute accuracy: a root nearer to 0 is as good as 0.
const smallest = 1e-100

// Brent returns x between a and b with f(x) = 0, to the last digits of x. f must
// be continuous and have opposite signs (or a zero) at a and b; otherwise an
// error is returned.
//
// Brent, R.P. (1973) Algorithms for Minimization without Derivatives, ch. 4.
func Brent(f func(float64) float64, a, b float64) (float64, error) {
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a, nil
	case fb == 0:
		return b, nil
	case !(fa < 0 && fb > 0 || fa > 0 && fb < 0): // also for NaN
		return math.NaN(), fmt.Errorf("root: f(%g) = %g and f(%g) = %g, must have opposite signs", a, fa, b, fb)
	}
	c, fc := a, fa
	d := b - a
	e := d
	for range maxSteps {
		if (fb > 0) == (fc > 0) {
			c, fc = a, fa
			d = b - a
			e = d
		}
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		tol := 0x1p-52*math.Abs(b) + smallest
		half := (c - b) / 2
		if math.Abs(half) <= tol || fb == 0 {
			return b, nil
		}
		if step, ok := interpolate(a, b, c, fa, fb, fc, half, tol, e); ok {
			d, e = step, d
		} else {
			d, e = half, half
		}
		a, fa = b, fb
		if math.Abs(d) > tol {
			b += d
		} else {
			b += math.Copysign(tol, half)
		}
		fb = f(b)
		if math.IsNaN(fb) {
			return math.NaN(), fmt.Errorf("root: f(%g) is not a number", b)
		}
	}
	return math.NaN(), fmt.Errorf("root: no convergence after %d steps", maxSteps)
}

// interpolate returns the step of inverse quadratic (or linear) interpolation,
// and whether it is short enough to be trusted.
func interpolate(a, b, c, fa, fb, fc, half, tol, previous float64) (float64, bool) {
	if math.Abs(previous) < tol || math.Abs(fa) <= math.Abs(fb) {
		return 0, false
	}
	var p, q float64
	s := fb / fa
	if a == c {
		p, q = 2*half*s, 1-s
	} else {
		q, r := fa/fc, fb/fc
		p = s * (2*half*q*(q-r) - (b-a)*(r-1))
		return accept(p, (q-1)*(r-1)*(s-1), half, tol, previous)
	}
	return accept(p, q, half, tol, previous)
}

func accept(p, q, half, tol, previous float64) (float64, bool) {
	if p > 0 {
		q = -q
	} else {
		p = -p
	}
	ok := 2*p < math.Min(3*half*q-math.Abs(tol*q), math.Abs(previous*q))
	return p / q, ok
}
