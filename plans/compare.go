package plans

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"stopwise/plans/protocol"
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
