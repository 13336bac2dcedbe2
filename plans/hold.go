package plans

import (
	"context"
	"encoding/json"
	"math"
	"slices"

	"stopwise/plans/internal/planfile"
	"stopwise/plans/internal/search"
	"stopwise/plans/protocol"
	"stopwise/sampling"
)

// A HeldRisk is what a plan risks at worst, over the clumping range, in one kind of
// world beside the plain ones in which its promise must hold.
type HeldRisk struct {
	World    string  // such as "5% overlooked"
	Needless float64 // P(act) at the lower bound, at most
	Missed   float64 // P(leave) at the upper bound; NaN where it is not known
}

type heldJSON struct {
	World    string   `json:"world"`
	Needless float64  `json:"p_act"`
	Missed   *float64 `json:"p_leave"`
}

// MarshalJSON writes what is not known as null.
func (r HeldRisk) MarshalJSON() ([]byte, error) { return json.Marshal(r.file()) }

func (r HeldRisk) file() heldJSON { return heldJSON{r.World, r.Needless, orNull(r.Missed)} }

func (j heldJSON) risk() HeldRisk { return HeldRisk{j.World, j.Needless, orNaN(j.Missed)} }

// UnmarshalJSON reads what [HeldRisk.MarshalJSON] writes.
func (r *HeldRisk) UnmarshalJSON(text []byte) error {
	var j heldJSON
	err := planfile.Strictly(text, &j)
	*r = j.risk()
	return err
}

// Keeps reports whether both risks are within those that a stage allows.
func (r HeldRisk) Keeps(s Stage) bool {
	return r.Needless <= s.NeedlessRisk+riskSlack && r.Missed <= s.MissedRisk+riskSlack
}

// heldRisks judges the plan in the worlds beside the plain ones.
func (s *StagePlan) heldRisks() []HeldRisk {
	var all []HeldRisk
	for _, h := range s.HoldUnder.Worlds() {
		all = append(all, s.heldRisk(h))
	}
	return all
}

func (s *StagePlan) heldRisk(h protocol.Held) HeldRisk {
	r := HeldRisk{World: h.Name}
	lower, upper := s.Worlds(s.Lower), s.Worlds(s.Upper)
	for i := range lower {
		r.Needless = math.Max(r.Needless, s.NeedlessIn(h.Field(lower[i])))
		r.Missed = math.Max(r.Missed, s.MissedIn(h.Field(upper[i])))
	}
	return r
}

// heldLimits returns the limits of the worlds beside the plain ones. Where counts can
// only be smaller than in a plain world no field is treated needlessly that is not
// there, and the other way round: these limits are left out.
func (s *StagePlan) heldLimits(needless, missed func(stop int) float64) []search.Limit {
	var limits []search.Limit
	for _, h := range s.HoldUnder.Worlds() {
		if !h.Less {
			for _, w := range s.Worlds(s.Lower) {
				limits = append(limits, search.Needless(h.Field(w), s.NeedlessRisk, needless))
			}
		}
		if !h.More {
			for _, w := range s.Worlds(s.Upper) {
				limits = append(limits, search.Missed(h.Field(w), s.MissedRisk, missed))
			}
		}
	}
	return limits
}

// heldNames names the worlds beside the plain ones in which any stage must hold.
func heldNames(stages []Stage) []string {
	var names []string
	for _, t := range stages {
		for _, h := range t.HoldUnder.Worlds() {
			if !slices.Contains(names, h.Name) {
				names = append(names, h.Name)
			}
		}
	}
	return names
}

// heldField returns what a plain world of a stage becomes in the named one; itself where
// the stage need not hold there.
func heldField(t Stage, name string) func(World) sampling.Population {
	for _, h := range t.HoldUnder.Worlds() {
		if h.Name == name {
			return h.Field
		}
	}
	return World.Population
}

// WorstPromised returns the largest exact risks over all worlds in which the promise
// must hold.
func (s *StagePlan) WorstPromised() (needless, missed float64) {
	needless, missed = s.WorstNeedless().Needless, s.WorstMissed().Missed
	for _, r := range s.Held {
		needless, missed = math.Max(needless, r.Needless), math.Max(missed, r.Missed)
	}
	return needless, missed
}

// unheld adds the plan without the worlds besides, judged with them.
func (c *Comparison) unheld(ctx context.Context, s *StagePlan, o DesignOptions) error {
	plain, err := s.withoutHold(ctx, DesignOptions{Method: RiskTrue, Weights: o.Weights})
	if plain != nil {
		plain.HoldUnder = s.HoldUnder
		plain.judge(o.weights())
		c.Unheld = plain
	}
	return err
}

// withoutHold returns the plan by the same method whose promise holds in the plain
// worlds only; nil where there is none.
func (s *StagePlan) withoutHold(ctx context.Context, o DesignOptions) (*StagePlan, error) {
	plain := &StagePlan{Stage: s.Stage, Later: s.Later, Costs: s.Costs, About: s.About}
	plain.HoldUnder = HoldUnder{}
	o.Bound, o.Price = false, false
	err := plain.design(ctx, o)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, nil // what the full promise needs is there all the same
	}
	return plain, nil
}
