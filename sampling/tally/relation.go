package tally

import (
	"fmt"
	"math"

	"stopwise/sampling"
	"stopwise/sampling/root"
)

// A Relation says which share of plants is infested at a mean per leaf.
type Relation interface {
	// Tally returns the number of insects on a leaf that makes a plant infested.
	Tally() int
	// Share returns the share of plants infested at a mean per leaf, 0 <= mean.
	// Where the relation carries an uncertainty of its own it is the central
	// value.
	Share(mean float64) float64
	// Spread returns the shares that fields of a mean per leaf may have, with
	// their chances, which sum to 1: a single one where the relation is taken as
	// exact.
	Spread(mean float64) []Chance
}

// A Chance is a share of plants infested that a field may have.
type Chance struct{ Share, Chance float64 }

// Exact returns the relation without its uncertainty.
func Exact(r Relation) Relation { return exact{r} }

type exact struct{ Relation }

func (e exact) Spread(mean float64) []Chance { return []Chance{{e.Share(mean), 1}} }

// The means among which an inverse is looked for, per leaf, and into how many
// steps of the logarithm they are cut.
const (
	leastMean  = 1e-9
	mostMean   = 1e12
	scanPieces = 400
)

// Means returns all means per leaf at which the share of plants infested is
// share, 0 < share < 1, ascending: one as a rule, none where the share is never
// reached, several where it rises and falls (Taylor's law with b above 2). Means
// from 1e-9 to 1e12 are looked at, in steps of about 13 percent; within a step
// the zero is found by Brent's method, to the last digits.
func Means(r Relation, share float64) ([]float64, error) {
	if !(share > 0 && share < 1) {
		return nil, sampling.Refuse("share", share, "between 0 and 1")
	}
	off := func(lnMean float64) float64 { return r.Share(math.Exp(lnMean)) - share }
	low, high := math.Log(leastMean), math.Log(mostMean)
	var means []float64
	a, fa := low, off(low)
	for i := 1; i <= scanPieces; i++ {
		b := low + (high-low)*float64(i)/scanPieces
		fb := off(b)
		if fb == 0 || fa != 0 && (fa < 0) != (fb < 0) {
			x, err := root.Brent(off, a, b)
			if err != nil {
				return nil, err
			}
			means = append(means, math.Exp(x))
		}
		a, fa = b, fb
	}
	return means, nil
}

// Mean returns the mean per leaf at which the share of plants infested is share,
// 0 < share < 1. It returns an error where no mean has that share, or several do.
func Mean(r Relation, share float64) (float64, error) {
	means, err := Means(r, share)
	switch {
	case err != nil:
		return math.NaN(), err
	case len(means) == 0:
		return math.NaN(), fmt.Errorf("tally: no mean per leaf has a share of %g infested at the tally number %d", share, r.Tally())
	case len(means) > 1:
		return math.NaN(), fmt.Errorf("tally: several means per leaf have a share of %g infested at the tally number %d: %.4g", share, r.Tally(), means)
	}
	return means[0], nil
}
