package fit

import (
	"math"
	"sort"

	"stopwise/sampling/root"
)

// zero returns a zero of f between lo and hi. Where the signs at the ends are
// the same it returns the end at which |f| is smaller.
func zero(f func(float64) float64, lo, hi float64) float64 {
	x, err := root.Brent(f, lo, hi)
	switch {
	case err == nil:
		return x
	case math.Abs(f(lo)) < math.Abs(f(hi)):
		return lo
	}
	return hi
}

// A curve is a log-likelihood of one parameter on [0, 1), and a function with
// the sign of its slope.
type curve struct {
	value, slope func(u float64) float64

	// scout is the same of a part of the data, or nil: where its maximum is, that
	// of the whole is looked for first.
	scout *curve
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
	if c.scout != nil {
		at := c.scout.maximum()
		lo, hi := at*0.7, math.Min(top, at*1.4)
		if at > 0 && at < top && c.slope(lo) > 0 && c.slope(hi) < 0 {
			return zero(c.slope, lo, hi)
		}
	}
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
	return zero(c.slope, lo, hi)
}

// interval returns the ends of the profile-likelihood interval around the
// maximum at: all values that a likelihood-ratio test with one degree of
// freedom does not reject.
func (c curve) interval(at, confidence float64) (lower, upper float64) {
	level := c.value(at) - chiSquare1(confidence)/2
	above := func(u float64) float64 { return c.value(u) - level }
	lower, upper = 0, top
	if at > 0 && above(0) < 0 {
		lower = zero(above, c.last(above, 0, at), at)
	}
	if at < top && above(top) < 0 {
		upper = zero(above, at, c.first(above, at))
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
