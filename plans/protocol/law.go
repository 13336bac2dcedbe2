package protocol

import (
	"fmt"
	"math"

	"stopwise/sampling"
)

// A LawKind is the form of a law of clumping.
type LawKind string

// The kinds of laws: the first is of shares infested, the others of counts per
// leaf.
const (
	RhoLaw     LawKind = "rho"
	KLaw       LawKind = "k"
	TaylorLaw  LawKind = "taylor"
	IwaoLaw    LawKind = "iwao"
	PoissonLaw LawKind = "poisson"
)

// A Law says how clumped the pest is at every level.
type Law struct {
	Kind LawKind
	// Range is that of rho, or of k.
	Range Range
	// A and B are the constants of Taylor's law (variance A mean^B), or of Iwao's
	// (mean crowding A + B mean).
	A, B float64
	// CountRho is the range of the correlation of two units' counts at one stop, for
	// laws of counts; 0 for independent units.
	CountRho Range
}

// clumpGrid is how many values of a clumping range are checked. The risks vary
// smoothly with clumping, so a worst case between two of them is closer than
// the third digit.
const clumpGrid = 9

// pairGrid is the same for each of two ranges that hold together.
const pairGrid = 5

// Counts reports whether the law is of counts.
func (l Law) Counts() bool { return l.Kind != RhoLaw }

// FollowsLevel reports whether k is another one at every mean.
func (l Law) FollowsLevel() bool { return l.Kind == TaylorLaw || l.Kind == IwaoLaw }

// K returns the range of the negative binomial k of one unit at a mean, +Inf where
// it is a Poisson: Low is the clumped end. It is for laws of counts.
func (l Law) K(mean float64) Range {
	k := math.Inf(1)
	switch l.Kind {
	case KLaw:
		return l.Range
	case TaylorLaw:
		k = Taylor{A: l.A, B: l.B}.K(mean)
	case IwaoLaw:
		k = Iwao{A: l.A, B: l.B}.K(mean)
	}
	return Range{k, k}
}

// Clumps returns the range of the clumping at a level: of rho, or of k.
func (l Law) Clumps(level float64) Range {
	if l.Counts() {
		return l.K(level)
	}
	return l.Range
}

// Variance returns the variance of the total of units units at one stop, at the
// clumped end of the range.
func (l Law) Variance(level float64, units int) float64 {
	return l.Clumped(level).Population().Stop(units).Variance()
}

// VarianceLaw returns the law of the counts of single units at the clumped end of
// the range.
func (l Law) VarianceLaw() sampling.VarianceLaw { return l.VarianceLaws(1)[0] }

// VarianceLaws returns the laws of the counts of single units over the range of k
// (n of them, or the one), from the most to the least clumped.
func (l Law) VarianceLaws(n int) []sampling.VarianceLaw {
	switch l.Kind {
	case TaylorLaw:
		return []sampling.VarianceLaw{Taylor{A: l.A, B: l.B}}
	case IwaoLaw:
		return []sampling.VarianceLaw{Iwao{A: l.A, B: l.B}}
	case KLaw:
		if n == 1 {
			return []sampling.VarianceLaw{sampling.CommonK{K: l.Range.Low}}
		}
		var laws []sampling.VarianceLaw
		for _, k := range l.Range.Grid(n) {
			laws = append(laws, sampling.CommonK{K: k})
		}
		return laws
	}
	return []sampling.VarianceLaw{sampling.CommonK{K: math.Inf(1)}}
}

// Grid returns the laws of the counts of single units over the whole range, as
// finely as risks are checked.
func (l Law) Grid() []sampling.VarianceLaw { return l.VarianceLaws(clumpGrid) }

// Worlds returns the field situations at a level over the range of clumping, from
// the least to the most clumped.
func (l Law) Worlds(level float64) []World {
	clumps := l.Clumps(level)
	n, both := clumpGrid, !clumps.Single() && !l.CountRho.Single()
	if both {
		n = pairGrid
	}
	if !l.Counts() {
		var ws []World
		for _, rho := range clumps.Grid(n) {
			ws = append(ws, World{Level: level, Clump: rho})
		}
		return ws
	}
	var ws []World
	ks := clumps.Ratios(n)
	for _, rho := range l.CountRho.Grid(n) {
		for i := range ks {
			ws = append(ws, countWorld(level, ks[len(ks)-1-i], rho))
		}
	}
	return ws
}

// countWorld returns a field situation of counts. Where few insects make a larger
// correlation impossible, it is the largest that there can be.
func countWorld(mean, k, countRho float64) World {
	return World{Level: mean, Clump: k, CountRho: min(countRho, sampling.MaxCountRho(mean, k)), Counts: true}
}

// Clumped returns the most clumped field situation at a level.
func (l Law) Clumped(level float64) World {
	if l.Counts() {
		return countWorld(level, l.K(level).Low, l.CountRho.High)
	}
	return World{Level: level, Clump: l.Range.High}
}

// Even returns the least clumped field situation at a level.
func (l Law) Even(level float64) World {
	if l.Counts() {
		return countWorld(level, l.K(level).High, l.CountRho.Low)
	}
	return World{Level: level, Clump: l.Range.Low}
}

// Between returns a field situation in the middle of the clumping at a level.
func (l Law) Between(level float64) World {
	if l.Counts() {
		ks := l.K(level).Ratios(3)
		return countWorld(level, ks[len(ks)/2], (l.CountRho.Low+l.CountRho.High)/2)
	}
	return World{Level: level, Clump: (l.Range.Low + l.Range.High) / 2}
}

// At returns the field situation at a level with a given clumping, rho or k, and
// otherwise as the most clumped one.
func (l Law) At(level, clump float64) World { return l.With(&clump, nil).Clumped(level) }

// With returns the law with one clumping at all levels, rho or k, and one
// correlation of the counts in place of its own; nil leaves what it has.
func (l Law) With(clump, countRho *float64) Law {
	if clump != nil {
		l.Range = Range{*clump, *clump}
		if l.Counts() {
			l.Kind = KLaw
		}
	}
	if countRho != nil {
		l.CountRho = Range{*countRho, *countRho}
	}
	return l
}

// Limits of what a law can be, far beyond any field.
const (
	// LeastK is a clumping in which one leaf in a thousand carries all insects.
	LeastK = 0.001
	// MostCountRho leaves a stop something to tell.
	MostCountRho = 0.95
)

// Check returns a FieldError, with the path of the protocol's key below clumping,
// where a constant is out of its range.
func (l Law) Check() error {
	wrong := func(key, what string, value any, accepted string) error {
		return &FieldError{Path: key, Quantity: what, Value: value, Accepted: accepted}
	}
	switch {
	case l.Kind == RhoLaw && !(l.Range.Low >= 0 && l.Range.High < 1):
		return wrong("rho", "rho", l.Range, "from 0 to below 1")
	case l.Kind == KLaw && !(l.Range.Low >= LeastK):
		return wrong("k", "k", l.Range, fmt.Sprintf("from %g up", LeastK))
	case l.Kind == TaylorLaw && !(l.A > 0 && l.B > 0):
		return &FieldError{Path: "taylor", Quantity: "Taylor's a and b", Value: []float64{l.A, l.B}, Accepted: "both above 0",
			Message: fmt.Sprintf("Taylor's a and b are %g and %g; accepted: both above 0", l.A, l.B)}
	case l.Kind == IwaoLaw && !(l.A > -1 && l.B > 0):
		return &FieldError{Path: "iwao", Quantity: "Iwao's A and B", Value: []float64{l.A, l.B}, Accepted: "A above -1 and B above 0",
			Message: fmt.Sprintf("Iwao's A and B are %g and %g; accepted: A above -1 and B above 0", l.A, l.B)}
	case l.Counts() && !(l.CountRho.Low >= 0 && l.CountRho.High <= MostCountRho):
		return wrong(countRhoKey, countRhoKey, l.CountRho, fmt.Sprintf("from 0 to %g", MostCountRho))
	}
	return nil
}
