package plans

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/plans/season"
)

// designSeason chooses what a protocol leaves open so that the season's promises are
// kept with the least minutes.
func designSeason(ctx context.Context, p Protocol, o DesignOptions) (*Plan, error) {
	if err := seasonable(p); err != nil {
		return nil, err
	}
	s := &seasonDesign{protocol: p, chosen: p.Stages[0].Open(), problem: seasonProblem(p)}
	s.problem.Progress = o.SeasonProgress
	if o.leastLoss {
		costs := seasonCosts(p)
		s.problem.Costs = &costs
	}
	if p.Stages[0].NeedlessRisk > 0 {
		s.protocol = p.Each(func(t *Stage) {
			if t.Stop.Minimum == 0 {
				t.Stop.Minimum = min(DefaultStop.Minimum, t.Stop.Maximum)
			}
		})
		plan, err := designVisits(ctx, s.protocol, o)
		if err != nil {
			return nil, err
		}
		if len(s.protocol.Stages[0].Open()) == 0 {
			if plan.Season, err = plan.overSeason(); err != nil {
				return nil, err
			}
			plan.Season.Chosen = []string{}
			return plan, nil
		}
		s.given = true
		for i, t := range plan.Stages {
			s.problem.Tables = append(s.problem.Tables, t.Table)
			s.problem.Season.Stages[i].Worth = t.Worth
		}
		return s.design(ctx)
	}
	if err := s.chooseWorths(ctx); err != nil {
		return nil, err
	}
	plan, err := s.design(ctx)
	if err != nil || !o.Price || plain(p) {
		return plan, err
	}
	totals := *s
	totals.protocol = p.Each(func(t *Stage) { t.Stop.SetCounting(CountTotal) })
	totals.problem = seasonProblem(totals.protocol)
	totals.problem.Progress = o.SeasonProgress
	without, err := totals.design(ctx)
	if err != nil {
		return nil, err
	}
	if without.Season.Kept {
		plan.Season.Totals = without.Season.Minutes
	}
	return plan, nil
}

// seasonable returns what keeps a protocol from a plan for its season.
func seasonable(p Protocol) error {
	first := p.Stages[0]
	if first.ComingBack == nil {
		return &FieldError{Path: "coming_back", Message: "a season needs to know how fields are come back to; add a [coming_back] section"}
	}
	for i, t := range p.Stages {
		if t.Sign != nil && !t.SignKnown() {
			return &FieldError{Path: fmt.Sprintf("stage.%d.sign", i), Stage: t.Name, Message: fmt.Sprintf(
				"the sign of stage %q may keep a field from its treatment through the season, and how often is not known; give sign_chance and sign_chance_lower, or leave the sign or [season] away", t.Name)}
		}
		if p.Seasonal.Tables > 2 && (t.Stop.Plain() != first.Stop.Plain() || !t.Stop.Plain() && t.Stop.Counting != first.Stop.Counting) {
			return &FieldError{Path: fmt.Sprintf("stage.%d.counting", i), Stage: t.Name, Message: protocol.InStage(t.Name) +
				"counting is another one than that of the first stage, and with tables = 3 what the last visit counted chooses the table: count alike in all stages, or take tables = 2"}
		}
	}
	if first.NeedlessRisk > 0 && p.Seasonal.Tables > 1 {
		return &FieldError{Path: "season.tables", Message: "tables by what the last visit found are made for the season; leave needless_risk and missed_risk of the stages away, or tables"}
	}
	return nil
}

// plain reports whether all stages of a protocol add up what was found.
func plain(p Protocol) bool {
	return !slices.ContainsFunc(p.Stages, func(t Stage) bool { return !t.Stop.Plain() })
}

// A seasonDesign is a search for the plan of a season.
type seasonDesign struct {
	protocol Protocol
	problem  season.Problem
	given    bool     // the risks, and so the tables
	chosen   []string // the keys of the protocol that are left open
}

// design makes the plan: with one table for all fields of a stage first, where several
// are asked for.
func (s *seasonDesign) design(ctx context.Context) (*Plan, error) {
	problem, oneTable := s.problem, 0.0
	if !problem.OneTable {
		single := s.single()
		found, err := season.Search(ctx, single)
		if err != nil {
			return nil, err
		}
		plan, err := settledPlan(s.protocol, found, s.given)
		if err != nil {
			return nil, err
		}
		if plan.Season.Kept && problem.Costs == nil {
			oneTable = plan.Season.Minutes
		}
		problem.Start = found
	}
	// The promises are sought at both ends of the range of clumping and judged over all
	// of it; where they are worse between, a little less is asked for.
	var plan *Plan
	for range 3 {
		found, err := season.Search(ctx, problem)
		if err != nil {
			return nil, err
		}
		if plan, err = settledPlan(s.protocol, found, s.given); err != nil {
			return nil, err
		}
		plan.Season.Hindrance, plan.Season.Chosen, plan.Season.OneTable = found.Hindrance, s.chosen, oneTable
		if plan.Season.Kept || !found.Kept || problem.Costs != nil {
			break
		}
		promise := s.protocol.Seasonal
		if r := plan.Season.Needless / promise.Needless; r > 1 {
			problem.Promise.Needless *= .995 / r
		}
		if r := plan.Season.Late / promise.Late; r > 1 {
			problem.Promise.Late *= .995 / r
		}
	}
	return plan, nil
}

// single returns the problem with one table for all fields of a stage.
func (s *seasonDesign) single() season.Problem {
	single := s.problem
	single.OneTable, single.Classes = true, 2
	if single.Intervals != nil {
		single.Intervals = single.Intervals[:2]
	}
	return single
}

// chooseWorths sets what the stops count where the protocol leaves the cap, or the map of
// the points, to be chosen: all are tried roughly with one table for all fields of a
// stage, and the one of least minutes that keeps the promises is taken. The choices of
// the stages go side by side, from the least to the largest.
func (s *seasonDesign) chooseWorths(ctx context.Context) error {
	choices, most := make([][]rule.Worth, len(s.protocol.Stages)), 0
	for i, t := range s.protocol.Stages {
		choices[i] = worths(t)
		most = max(most, len(choices[i]))
	}
	var best *season.Plan
	for n := range most {
		q := s.single()
		q.Rough, q.Season.Stages = true, slices.Clone(q.Season.Stages)
		for i, ws := range choices {
			q.Season.Stages[i].Worth = ws[n*len(ws)/most]
		}
		if most == 1 {
			s.problem.Season = q.Season
			return nil
		}
		found, err := season.Search(ctx, q)
		if err != nil {
			return err
		}
		if best == nil || s.before(found, best) {
			best = found
		}
	}
	for i := range s.problem.Season.Stages {
		s.problem.Season.Stages[i].Worth = best.Season.Stages[i].Worth
	}
	return nil
}

// before reports whether a plan is better than another: it keeps the promises in fewer
// minutes, or breaks them less; or it loses less, where that is asked for.
func (s *seasonDesign) before(a, b *season.Plan) bool {
	if s.problem.Costs != nil {
		return a.Loss.Total() < b.Loss.Total()
	}
	over := func(p *season.Plan) float64 {
		return max(1, p.Needless/s.problem.Promise.Needless, p.Late/s.problem.Promise.Late)
	}
	return cmp.Or(cmp.Compare(over(a), over(b)), cmp.Compare(a.Minutes, b.Minutes)) < 0
}
