package validate

import (
	"math"

	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/size"
)

// A Layout is how a visit of fixed size spreads its plants over stops.
type Layout struct{ Stops, Plants int }

// Total returns the plants of the layout.
func (l Layout) Total() int { return l.Stops * l.Plants }

// EffortAsked says for what field and question layouts are compared.
type EffortAsked struct {
	// Lower and Upper are the bounds at which a wrong verdict counts, and
	// Threshold between them is the share seen at which the visit acts. The
	// standard error and the half-width are taken in a field at the threshold.
	Lower, Threshold, Upper float64
	Rho                     float64 // 0 <= Rho < 1
	Confidence              float64 // of the interval, in (0, 1)
	WalkMinutes             float64 // to walk to a stop
	PlantMinutes            float64 // to examine a plant
}

// Check returns an error if a value is out of its range.
func (a EffortAsked) Check() error {
	if !(a.Lower > 0 && a.Lower < a.Threshold && a.Threshold < a.Upper && a.Upper < 1) {
		return sampling.Refusef("bounds %g and %g and threshold %g, must be 0 < lower < threshold < upper < 1", a.Lower, a.Upper, a.Threshold)
	}
	if !(a.WalkMinutes >= 0 && a.PlantMinutes >= 0) || math.IsInf(a.WalkMinutes+a.PlantMinutes, 1) {
		return sampling.Refusef("%g minutes to a stop and %g a plant, must be 0 or more", a.WalkMinutes, a.PlantMinutes)
	}
	if err := sampling.CheckConfidence(a.Confidence); err != nil {
		return err
	}
	return sampling.CheckRho(a.Rho)
}

// An Effort is what a layout buys, exactly.
type Effort struct {
	Layout
	DesignEffect float64
	// Independent is how many independent plants would tell as much.
	Independent float64
	// StandardError is that of the share seen.
	StandardError float64
	// HalfWidth is the expected half-width of Wilson's interval at the effective
	// size, over the exact distribution of the total.
	HalfWidth float64
	Needless  float64 // chance of acting at the lower bound
	Missed    float64 // chance of leaving at the upper bound
	Minutes   float64
}

// Wrong returns the mean of the two chances of a wrong verdict.
func (e Effort) Wrong() float64 { return (e.Needless + e.Missed) / 2 }

// Compare returns what the layout buys.
func (a EffortAsked) Compare(l Layout) (Effort, error) {
	v := FixedVisit{l.Stops, l.Plants, a.Threshold}
	if err := a.Check(); err != nil {
		return Effort{}, err
	}
	if err := v.Check(); err != nil {
		return Effort{}, err
	}
	d, err := size.ProportionRequest{Share: a.Threshold, Confidence: a.Confidence, PlantsPerStop: l.Plants, Rho: a.Rho}.At(l.Stops)
	if err != nil {
		return Effort{}, err
	}
	table := plans.SingleCut(l.Plants, l.Stops, a.Threshold)
	deff := sampling.DesignEffect(l.Plants, a.Rho)
	n := float64(l.Total())
	return Effort{
		Layout: l, DesignEffect: deff, Independent: n / deff,
		StandardError: a.StandardError(l),
		HalfWidth:     d.ExpectedHalfWidth,
		Needless:      plans.Evaluate(table, sampling.Infested{P: a.Lower, Rho: a.Rho}).Act,
		Missed:        plans.Evaluate(table, sampling.Infested{P: a.Upper, Rho: a.Rho}).Leave,
		Minutes:       plans.StopRules{WalkMinutes: a.WalkMinutes, PlantMinutes: a.PlantMinutes}.Minutes(float64(l.Stops), n),
	}, nil
}

// StandardError returns that of the share seen in a field at the threshold,
// sqrt(p(1-p) deff/n).
//
// Cochran, W.G. (1977) Sampling Techniques, 3rd ed., 9.4; from memory.
func (a EffortAsked) StandardError(l Layout) float64 {
	return math.Sqrt(a.Threshold * (1 - a.Threshold) * sampling.DesignEffect(l.Plants, a.Rho) / float64(l.Total()))
}

// LeastError returns the standard error that stops stops cannot go below, however
// many plants are seen at each: sqrt(p(1-p) rho/stops).
func (a EffortAsked) LeastError(stops int) float64 {
	return math.Sqrt(a.Threshold * (1 - a.Threshold) * a.Rho / float64(stops))
}
