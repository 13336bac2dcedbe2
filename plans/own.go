package plans

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"stopwise/plans/internal/search"
)

// OwnTable is the method of a table that was not found here but given.
const OwnTable Method = "own table"

// NewStagePlan returns the plan of a decision table of one's own, judged exactly:
// it can be asked whatever a designed plan can. The stop rules of its terms are
// those of the table, and what a stop counts is what they say ([UsualWorth] where they
// leave it open). It returns FieldErrors where the terms do not hold
// together, and an error where the numbers form no table, or one for other
// plants than the terms examine at a stop.
func NewStagePlan(terms Stage, table Table) (*StagePlan, error) {
	s, err := ownPlan(terms, table)
	if err != nil {
		return nil, err
	}
	s.judge(evenWeights)
	s.seekBreak()
	return s, nil
}

func ownPlan(terms Stage, table Table) (*StagePlan, error) {
	if err := table.Check(); err != nil {
		return nil, err
	}
	if units := terms.Units(terms.Stop.Plants); table.Units != units {
		return nil, &FieldError{Path: "stop.plants", Stage: terms.Name, Quantity: "units of the table at a stop", Value: table.Units,
			Accepted: fmt.Sprintf("%d, as the stage examines", units)}
	}
	table = table.Trimmed()
	terms.Stop.Minimum, terms.Stop.Maximum = table.First(), table.Stops()
	if err := terms.Check(); err != nil {
		return nil, err
	}
	return &StagePlan{Stage: terms, Method: OwnTable, Table: table, Worth: UsualWorth(terms)}, nil
}

// The questions that a table of one's own is compared by.
const (
	// AsPromised is the plan that keeps the promised risks.
	AsPromised = "promised risks"
	// SameRisks is the plan with the exact risks of the table itself.
	SameRisks = "same risks"
	// SameStops is the plan with as many expected stops, whose two risks are the
	// same part of those of the table.
	SameStops = "same stops"
)

// A Rival is what could be had in place of a table of one's own, by the method
// [RiskTrue] with the stop rules of the protocol, or those of the table where they
// leave more freedom.
type Rival struct {
	Question string `json:"question"`
	// Needless and Missed are its worst exact risks over the clumping range, and
	// Stops its weighted expected stops, as of the table; all nil where no plan
	// was found.
	Needless *float64 `json:"worst_needless"`
	Missed   *float64 `json:"worst_missed"`
	Stops    *float64 `json:"weighted_expected_stops"`
}

// OwnPlan returns the plan of tables of one's own, one for each stage of a
// protocol, judged exactly and compared with what could be had; the stages' stop
// rules are those of the tables. Of the options the method is not looked at. It
// returns what [NewStagePlan] does.
func OwnPlan(ctx context.Context, p Protocol, tables []Table, o DesignOptions) (*Plan, error) {
	if err := ready(p); err != nil {
		return nil, err
	}
	if len(tables) != len(p.Stages) {
		return nil, fmt.Errorf("plans: %d tables for %d stages, must be one for each", len(tables), len(p.Stages))
	}
	free := p.Stages
	p = p.Each(func(*Stage) {})
	p.Defaults = slices.DeleteFunc(slices.Clone(p.Defaults), func(d string) bool {
		return strings.Contains(d, "minimum_stops") || strings.Contains(d, "maximum_stops")
	})
	plan := &Plan{}
	for i := range p.Stages {
		if o.Progress != nil {
			o.Progress(p.Stages[i].Name)
		}
		s, err := ownPlan(p.Stages[i], tables[i])
		if err != nil {
			return nil, err
		}
		p.Stages[i] = s.Stage
		plan.Stages = append(plan.Stages, s)
	}
	plan.Protocol = p
	for i, s := range plan.Stages {
		own := stagePlan(p, i)
		s.Later, s.Costs, s.About = own.Later, own.Costs, own.About
		s.judge(o.weights())
		s.seekBreak()
		rivals, err := s.rivals(ctx, free[i], o)
		if err != nil {
			return nil, err
		}
		s.Rivals = rivals
	}
	return plan, nil
}

// rivals answers the questions that a table of one's own is compared by.
// One whose chance of missing is not known, for want of a chance of the sign, can
// be compared with none.
func (s *StagePlan) rivals(ctx context.Context, free Stage, o DesignOptions) ([]Rival, error) {
	if !s.MissedKnown() {
		return nil, ctx.Err()
	}
	free.Stop.Minimum = min(free.Stop.Minimum, s.Stop.Minimum)
	free.Stop.Maximum = max(free.Stop.Maximum, s.Stop.Maximum)
	o = DesignOptions{Weights: o.Weights, starts: []Table{s.Table.Lengthened(free.Stop.Maximum)}}
	needless, missed := s.WorstNeedless().Needless, s.WorstMissed().Missed
	var rivals []Rival
	for _, q := range []struct {
		question         string
		needless, missed float64
	}{{AsPromised, s.NeedlessRisk, s.MissedRisk}, {SameRisks, needless, missed}} {
		r := &StagePlan{Stage: free}
		r.NeedlessRisk, r.MissedRisk = q.needless, q.missed
		if r.Stage.Check() != nil { // risks of none, or of half the fields
			rivals = append(rivals, Rival{Question: q.question})
			continue
		}
		err := r.design(ctx, o)
		var none *Infeasible
		switch {
		case errors.As(err, &none):
			rivals = append(rivals, Rival{Question: q.question})
		case err != nil:
			return nil, err
		default:
			rivals = append(rivals, r.rival(q.question))
		}
	}
	if s.bounded() {
		rivals = append(rivals, s.sameStops(ctx, free, o))
	}
	return rivals, ctx.Err()
}

func (s *StagePlan) rival(question string) Rival {
	n, m, stops := s.WorstNeedless().Needless, s.WorstMissed().Missed, s.Weighted
	return Rival{question, &n, &m, &stops}
}

// cuts is how often the part of the risks is halved that the same stops buy: to
// less than a hundredth.
const cuts = 7

// sameStops looks for the smallest part of the table's risks that a plan with no
// more stops keeps.
func (s *StagePlan) sameStops(ctx context.Context, free Stage, o DesignOptions) Rival {
	best := Rival{Question: SameStops}
	n, m := s.WorstNeedless().Needless, s.WorstMissed().Missed
	for low, high, i := 0.0, 1.0, 0; i < cuts && ctx.Err() == nil; i++ {
		part := (low + high) / 2
		r := &StagePlan{Stage: free}
		r.NeedlessRisk, r.MissedRisk = part*n, part*m
		if r.Stage.Check() != nil {
			low = part
			continue
		}
		q := r.counting(r.problem(o.weights()), s.Worth)
		q.Rough, q.Stop = true, func() bool { return ctx.Err() != nil }
		t, ok := Table{}, !q.Hopeless()
		if ok {
			t, ok = q.RiskTrue(r.startsWith(q, o))
		}
		if !ok || q.Stops(t) > s.Weighted+search.RiskSlack {
			low = part
			continue
		}
		high = part
		r.Table = t.Trimmed()
		r.judge(o.weights())
		best = r.rival(SameStops)
	}
	return best
}

// startsWith returns the tables that the search begins from beside its own: those
// of the options too. A rough search does with these where there are any.
func (s *StagePlan) startsWith(p *search.Problem, o DesignOptions) []Table {
	if o.rough && len(o.starts) > 0 {
		return o.starts
	}
	return append(s.starts(p), o.starts...)
}
