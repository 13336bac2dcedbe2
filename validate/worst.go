package validate

import (
	"slices"

	"stopwise/plans"
)

// A RouteRisk is the worst that a plan risks on one route, over the patterns that
// were walked.
type RouteRisk struct {
	Route      Route
	Needless   Chance // the largest of the patterns
	NeedlessIn Pattern
	Missed     Chance
	MissedIn   Pattern
	// Minutes are those expected at the lower bound, the threshold and the upper
	// bound, on average over the patterns; how exact they are is that of Walks.
	Minutes [3]float64
}

// Keeps reports whether both risks are within those that the stage allows.
func (r RouteRisk) Keeps(s *plans.StagePlan) Standing {
	return max(r.Needless.Against(s.NeedlessRisk), r.Missed.Against(s.MissedRisk))
}

// WorstByRoute sums rows of [Walks] up by route, in the order in which routes come.
func WorstByRoute(rows []WalkRow) []RouteRisk {
	var out []RouteRisk
	count := map[Route]float64{}
	for _, w := range rows {
		i := slices.IndexFunc(out, func(r RouteRisk) bool { return r.Route == w.Route })
		if i < 0 {
			i = len(out)
			out = append(out, RouteRisk{Route: w.Route, Needless: w.Needless(), NeedlessIn: w.Pattern, Missed: w.Missed(), MissedIn: w.Pattern})
		}
		r := &out[i]
		if c := w.Needless(); c.Value > r.Needless.Value {
			r.Needless, r.NeedlessIn = c, w.Pattern
		}
		if c := w.Missed(); c.Value > r.Missed.Value {
			r.Missed, r.MissedIn = c, w.Pattern
		}
		_, minutes := w.Effort()
		for j, m := range minutes {
			r.Minutes[j] += m.Value
		}
		count[w.Route]++
	}
	for i := range out {
		for j := range out[i].Minutes {
			out[i].Minutes[j] /= count[out[i].Route]
		}
	}
	return out
}

// Likeness returns how alike a plan takes the units of a stop to be at most: what
// made fields arrange. It is 0 where they are taken as independent.
func Likeness(s *plans.StagePlan) float64 {
	if s.Measure == plans.MeanPerLeaf {
		return s.Law().CountRho.High
	}
	return s.Law().Range.High
}

// UsualGround is the ground of fields of the size that the plan's costs name, or of
// the default.
func UsualGround(s *plans.StagePlan) Ground {
	if c := s.Costs; c != nil && c.FieldHa > 0 {
		return GroundOf(c.FieldHa, DefaultGround.Spots, DefaultGround.SpotRadius)
	}
	return DefaultGround
}

// UsualWalks says how a plan is walked on every route through fields of every
// pattern, as it takes fields to be.
func UsualWalks(s *plans.StagePlan, o Options) WalkOptions {
	return WalkOptions{Options: o, Patterns: Patterns, Routes: Routes, Ground: UsualGround(s), Rho: Likeness(s), Speed: WalkSpeed}
}
