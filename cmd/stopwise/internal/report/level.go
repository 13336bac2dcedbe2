package report

import (
	"math"
	"slices"
	"strings"

	"stopwise/plans/protocol"
)

// Level returns a level that somebody chose in its measure's unit: "15%" or "75
// per leaf".
func Level(m protocol.Measure, x float64) string {
	if m.Bounded() {
		return Constant(100*x) + "%"
	}
	return Constant(x) + " per leaf"
}

// AtMost returns a risk as a percentage to one decimal that is not below it: what
// is promised must not be less than what is.
func AtMost(p float64) string { return bound(p, math.Ceil) }

// ShareAtLeast returns a share as a percentage to one decimal that is not above it.
func ShareAtLeast(p float64) string { return bound(p, math.Floor) }

func bound(p float64, to func(float64) float64) string {
	if math.IsNaN(p) || math.IsInf(p, 0) {
		return Unknown
	}
	return Constant(toward(100*p, 1, to)) + "%"
}

// toward rounds to one side; what rounding has added to a decimal is no reason to
// go a step further.
func toward(x float64, decimals int, to func(float64) float64) float64 {
	scale := math.Pow(10, float64(decimals))
	if near := math.Round(x * scale); math.Abs(near-x*scale) < 1e-9 {
		return near / scale
	}
	return to(x*scale) / scale
}

// OneOrEach returns what is said of each of some things: once where all is the
// same, else with strokes between.
func OneOrEach[T any](things []T, say func(T) string) string {
	var each []string
	for _, x := range things {
		each = append(each, say(x))
	}
	if len(slices.Compact(slices.Clone(each))) == 1 {
		return each[0]
	}
	return strings.Join(each, " / ")
}

// Clumping returns a degree of clumping: "rho 0.1", "k 0.8" or "k 0.8, count rho
// 0.1"; k is "none" for a Poisson.
func Clumping(c protocol.ClumpValue) string {
	s := c.Name() + " none"
	if !math.IsInf(c.Value, 1) {
		s = c.Name() + " " + Constant(c.Value)
	}
	if c.CountRho > 0 {
		s += ", count rho " + Constant(c.CountRho)
	}
	return s
}
