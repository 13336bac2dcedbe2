package plans

import (
	"context"

	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// A Situation is one field in which rules of different forms are compared: its
// mean per leaf and how clumped it is.
type Situation struct {
	Mean float64 // insects per leaf
	Law  Law     // of the counts per leaf, its clumped end
	Rho  float64 // between the plants of a stop
}

// A RuleOutcome is what the rule of one stage does in a situation.
type RuleOutcome struct {
	Plan  *StagePlan
	Tally int     // 0 for a mean per leaf
	Level float64 // in the rule's own measure
	Effort
	// Count is the chance to act by the count alone, whatever the further sign says.
	Count float64
}

// In returns what the stage's rule does in a field situation. The share of plants
// infested follows from the mean per leaf by the variance law and the stage's
// tally number; the leaves of a plant are as alike as the law says of those of a stop.
func (s *StagePlan) In(f Situation) (RuleOutcome, error) {
	o := RuleOutcome{Plan: s, Level: f.Mean}
	w := f.Law.Clumped(f.Mean)
	if s.Measure == ShareInfested {
		o.Tally = s.Unit.Tally
		if o.Tally == 0 {
			return o, &FieldError{Path: "sample_unit.tally", Stage: s.Name, Message: protocol.InStage(s.Name) + "without a tally number a mean per leaf says nothing of the share infested; add tally to [sample_unit] or to the stage"}
		}
		o.Level = tally.Theory{T: o.Tally, Leaves: s.Unit.Leaves, Law: f.Law.VarianceLaw(), CountRho: f.Law.CountRho.High}.Share(f.Mean)
		w = World{Level: o.Level, Clump: f.Rho}
	}
	e := s.Count(w.Population())
	o.Effort, o.Count = s.effort("", w, e), e.Act
	return o, nil
}

// SituationOf returns the field of a mean per leaf that is as clumped as the
// clumped end of what a protocol states: by its first stage that states a law of
// counts, and the first that states rho.
func SituationOf(p Protocol, mean float64) (Situation, error) {
	f := Situation{Mean: mean}
	for _, s := range p.Stages {
		if law, ok := s.Clumping.Counts(); ok && f.Law.Kind == "" {
			f.Law = law
		}
		if r := s.Clumping.Rho; r != nil && f.Rho == 0 {
			f.Rho = r.High
		}
	}
	if f.Law.Kind == "" {
		return f, &FieldError{Path: "clumping.k", Message: "k is missing: how the counts per leaf vary is needed to compare rules in one field; give k, taylor or iwao"}
	}
	return f, nil
}

// CompareRules makes the plan of every stage and returns what each stage's rule
// does in one field situation. The stages may state their thresholds in different
// measures and at different tally numbers.
func CompareRules(ctx context.Context, p Protocol, f Situation, o DesignOptions) ([]RuleOutcome, error) {
	if !(f.Mean > 0) {
		return nil, sampling.Refusef("the mean per leaf must be above 0")
	}
	plan, err := Design(ctx, p, o)
	if err != nil {
		return nil, err
	}
	var out []RuleOutcome
	for _, s := range plan.Stages {
		r, err := s.In(f)
		if err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, nil
}
