package fit

import (
	"math"
	"sort"
)

// root returns a zero of f between lo and hi, where f has opposite signs, to
// the last digits. If the signs are the same it returns the end at which |f| is
// smaller. gonum has no root finder, hence this one.
//
// Brent, R.P. (1973) Algorithms for Minimization without Derivatives, ch. 4.
func root(f func(float64) float64, lo, hi float64) float64 {
	a, b := lo, hi
	fa, fb := f(a), f(b)
	if math.Signbit(fa) == math.Signbit(fb) && fa != 0 && fb != 0 {
		if math.Abs(fa) < math.Abs(fb) {
			return a
		}
		return b
	}
	c, fc := a, fa
	d := b - a
	e := d
	for range 200 {
		if math.Signbit(fb) == math.Signbit(fc) {
			c, fc = a, fa
			d = b - a
			e = d
		}
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		tol := 2e-16*math.Abs(b) + 1e-300
		half := (c - b) / 2
		if fb == 0 || math.Abs(half) <= tol {
			return b
		}
		if math.Abs(e) < tol || math.Abs(fa) <= math.Abs(fb) {
			d, e = half, half
		} else {
			step, ok := interpolate(a, b, c, fa, fb, fc, half, tol, e)
			if ok {
				d, e = step, d
			} else {
				d, e = half, half
			}
		}
		a, fa = b, fb
		if math.Abs(d) > tol {
			b += d
		} else {
			b += math.Copysign(tol, half)
		}
		fb = f(b)
	}
	return b
}

// interpolate returns the step of inverse quadratic interpolation (or of the
// secant), and whether it is short enough to be taken.
func interpolate(a, b, c, fa, fb, fc, half, tol, e float64) (float64, bool) {
	s := fb / fa
	var p, q float64
	if a == c {
		p = 2 * half * s
		q = 1 - s
	} else {
		q = fa / fc
		r := fb / fc
		p = s * (2*half*q*(q-r) - (b-a)*(r-1))
		q = (q - 1) * (r - 1) * (s - 1)
	}
	if p > 0 {
		q = -q
	} else {
		p = -p
	}
	return p / q, 2*p < math.Min(3*half*q-math.Abs(tol*q), math.Abs(e*q))
}

// A curve is a log-likelihood of one parameter on [0, 1), and a function with
// the sign of its slope.
type curve struct {
	value, slope func(u float64) float64
}

// top is the upper end of the search: as far as this the parameter is told
// from 1.
const top = 1 - 1e-6

// grid is where a curve is looked at first, so that the highest of several
// maxima is found.
var grid = []float64{0, 1e-4, 1e-3, 0.005, 0.01, 0.02, 0.04, 0.06, 0.09, 0.12, 0.16, 0.2, 0.25, 0.3, 0.36,
	0.42, 0.5, 0.58, 0.66, 0.74, 0.8, 0.86, 0.9, 0.94, 0.97, 0.99, 0.997, 0.999, 0.9999, 0.99999, top}

// maximum returns where the curve is highest: 0, top, or a zero of the slope.
func (c curve) maximum() float64 {
	best, at := math.Inf(-1), 0
	for i, u := range grid {
		if v := c.value(u); v > best {
			best, at = v, i
		}
	}
	lo, hi := grid[max(at-1, 0)], grid[min(at+1, len(grid)-1)]
	if at == 0 && c.slope(0) <= 0 {
		return 0
	}
	if at == len(grid)-1 && c.slope(top) >= 0 {
		return top
	}
	return root(c.slope, lo, hi)
}

// interval returns the ends of the profile-likelihood interval around the
// maximum at: all values that a likelihood-ratio test with one degree of
// freedom does not reject.
func (c curve) interval(at, confidence float64) (lower, upper float64) {
	level := c.value(at) - chiSquare1(confidence)/2
	above := func(u float64) float64 { return c.value(u) - level }
	lower, upper = 0, top
	if at > 0 && above(0) < 0 {
		lower = root(above, c.last(above, 0, at), at)
	}
	if at < top && above(top) < 0 {
		upper = root(above, at, c.first(above, at))
	}
	return lower, upper
}

// first returns the first point of the grid beyond at that is not above.
func (c curve) first(above func(float64) float64, at float64) float64 {
	for _, u := range grid[sort.SearchFloat64s(grid, at):] {
		if u > at && above(u) < 0 {
			return u
		}
	}
	return top
}

// last returns the last point of the grid from lo to at that is not above.
func (c curve) last(above func(float64) float64, lo, at float64) float64 {
	for i := sort.SearchFloat64s(grid, at) - 1; i >= 0; i-- {
		if above(grid[i]) < 0 {
			return grid[i]
		}
	}
	return lo
}
