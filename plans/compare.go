package plans

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// A Comparison holds the plans of one stage that different methods make.
type Comparison struct {
	Stage Stage
	Plans []*StagePlan
	// Missing says why a method made none.
	Missing map[Method]error
	// NoPlanBelow is the number of weighted expected stops that no plan keeping
	// the risks can beat; 0 where it was not computed.
	NoPlanBelow float64
	// Unheld is, where the promise must hold in more than the plain worlds, the plan
	// by the method [RiskTrue] that was made without these and is judged with them.
	Unheld *StagePlan
	// Countings are the plans by the method [RiskTrue] for the same promise whose stops
	// count totals, at most the best cap, and points, as far as there are any; of one that
	// the stage asks for, its own. It is empty where the options do not ask for them.
	Countings []*StagePlan
}

// Compared lists the methods of a comparison, from the plainest: all that promise
// risks.
var Compared = []Method{Fixed, Lines, RiskTrueLines, RiskTrue}

// Compare makes the plans of all methods for every stage.
func Compare(ctx context.Context, p Protocol, o DesignOptions) ([]Comparison, error) {
	if err := ready(p); err != nil {
		return nil, err
	}
	var out []Comparison
	for i := range p.Stages {
		c := Comparison{Stage: p.Stages[i], Missing: map[Method]error{}}
		if o.Progress != nil {
			o.Progress(p.Stages[i].Name)
		}
		for _, m := range Compared {
			s := stagePlan(p, i)
			err := s.design(ctx, DesignOptions{Method: m, Weights: o.Weights, Bound: m == RiskTrue})
			switch {
			case ctx.Err() != nil:
				return nil, ctx.Err()
			case err != nil:
				c.Missing[m] = err
			default:
				c.Plans = append(c.Plans, s)
				c.NoPlanBelow = max(c.NoPlanBelow, s.NoPlanBelow)
			}
			if m == RiskTrue && s.HoldUnder.Any() {
				if err := c.unheld(ctx, s, o); err != nil {
					return nil, err
				}
			}
		}
		if o.Countings {
			if err := c.countings(ctx, p, i, o); err != nil {
				return nil, err
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// countings makes the plans whose stops count something else.
func (c *Comparison) countings(ctx context.Context, p Protocol, stage int, o DesignOptions) error {
	for _, counting := range protocol.Countings {
		s := stagePlan(p, stage)
		if own := s.Stop.Counting; own != counting && !(s.Stop.Plain() && counting == CountTotal) {
			s.Stop.SetCounting(counting)
		} else {
			i := slices.IndexFunc(c.Plans, func(s *StagePlan) bool { return s.Method == RiskTrue })
			if i >= 0 {
				c.Countings = append(c.Countings, c.Plans[i])
			}
			continue
		}
		err := s.design(ctx, DesignOptions{Method: RiskTrue, Weights: o.Weights})
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err == nil:
			c.Countings = append(c.Countings, s)
		}
	}
	return nil
}

// A PlantsTrial is what one number of plants per stop costs.
type PlantsTrial struct {
	Plants int
	// Minutes of a visit, averaged over the stages and in each over the bounds
	// and the threshold in the most clumped worlds; Stops likewise.
	Minutes, Stops float64
	Feasible       bool // false where no plan keeps the risks within the maximum of stops
}

// plantsTried are the numbers of plants per stop first tried.
var plantsTried = []int{5, 7, 10, 14, 20, 28, 40, 56}

// BestPlants returns the number of plants per stop at which visits take the
// fewest minutes with the same risks, and all that was tried, from few plants to
// many. One number is taken for all stages: a scout cannot keep more in mind.
func BestPlants(ctx context.Context, p Protocol, o DesignOptions) (int, []PlantsTrial, error) {
	p.AutoPlants = false
	if err := ready(p); err != nil {
		return 0, nil, err
	}
	free := func(s Stage) bool { return s.Stop.WalkMinutes+s.Stop.PlantMinutes == 0 }
	if !slices.ContainsFunc(p.Stages, func(s Stage) bool { return !free(s) }) {
		return 0, nil, &FieldError{Path: "stop.walk_minutes", Message: "the best number of plants depends on the minutes to walk and per plant, and both are 0"}
	}
	tried := map[int]PlantsTrial{}
	try := func(m int) error {
		if _, ok := tried[m]; ok || m < 1 || m > protocol.MaxPlants {
			return nil
		}
		t, err := tryPlants(ctx, p, m, o)
		tried[m] = t
		return err
	}
	best := func() int {
		at := 0
		for m, t := range tried {
			if t.Feasible && (at == 0 || t.Minutes < tried[at].Minutes || t.Minutes == tried[at].Minutes && m < at) {
				at = m
			}
		}
		return at
	}
	for _, m := range plantsTried {
		if err := try(m); err != nil {
			return 0, nil, err
		}
	}
	for _, step := range []int{4, 2, 1} {
		for at := best(); at > 0; {
			if err := errors.Join(try(at-step), try(at+step)); err != nil {
				return 0, nil, err
			}
			if best() == at {
				break
			}
			at = best()
		}
	}
	var all []PlantsTrial
	for m := range protocol.MaxPlants + 1 {
		if t, ok := tried[m]; ok {
			all = append(all, t)
		}
	}
	if best() == 0 {
		return 0, all, &Failure{"no number of plants per stop keeps the risks within the maximum of stops; allow more stops, or accept more risk"}
	}
	return best(), all, nil
}

func tryPlants(ctx context.Context, p Protocol, m int, o DesignOptions) (PlantsTrial, error) {
	if o.Progress != nil {
		o.Progress(fmt.Sprintf("%d plants per stop", m))
	}
	p = p.Each(func(s *Stage) { s.Stop.Plants = m })
	t := PlantsTrial{Plants: m, Feasible: true}
	share := 1 / float64(len(p.Stages))
	for i := range p.Stages {
		s, ok, err := RoughPlan(ctx, p, i, o.weights())
		if err != nil {
			return t, err
		}
		if !ok {
			t.Feasible = false
			return t, nil
		}
		stops, plants := s.visitEffort(o.weights())
		t.Stops += share * stops
		t.Minutes += share * s.Minutes(stops, plants)
	}
	return t, nil
}

// RoughPlan returns a stage's plan that keeps the risks as a short search by [RiskTrue]
// finds it, to compare what a visit takes under different terms: its risks and effort
// are not computed. It returns false where none was found within the maximum of stops.
func RoughPlan(ctx context.Context, p Protocol, stage int, weights [3]float64) (*StagePlan, bool, error) {
	s := stagePlan(p, stage)
	q := s.counting(s.problem(weights), UsualWorth(s.Stage))
	q.Rough, q.Stop = true, func() bool { return ctx.Err() != nil }
	table, ok := q.RiskTrue(s.starts(q))
	s.Table = table
	return s, ok, ctx.Err()
}

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
