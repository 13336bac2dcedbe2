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
	if err != nil || !o.Price || plain(s.protocol) {
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
	if first.NeedlessRisk > 0 && slices.ContainsFunc(p.Stages, func(t Stage) bool { return t.Stop.Counting == protocol.Auto }) {
		return &FieldError{Path: "stage.0.counting", Stage: first.Name, Message: protocol.InStage(first.Name) +
			`counting = "auto" is chosen together with the risks of a visit; leave needless_risk and missed_risk of the stages away, or say what stops count`}
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

// A countingChoice is what the stops may count: a protocol that says how, and what each
// stage's are worth.
type countingChoice struct {
	protocol Protocol
	worths   []rule.Worth
	way      int // of countingsOf
	found    *season.Plan
}

// chooseWorths sets what the stops count where the protocol leaves the way of counting,
// the cap, or the map of the points, to be chosen. All are tried roughly with one table
// for all fields of a stage; the best of each way, or the best two of the only one, are
// searched for in full, and the one of least minutes that keeps the promises is taken.
func (s *seasonDesign) chooseWorths(ctx context.Context) error {
	choices, err := s.countingChoices()
	if err != nil {
		return err
	}
	if len(choices) > 1 {
		if err := s.search(ctx, choices, true); err != nil {
			return err
		}
		var best []countingChoice
		for _, c := range choices {
			of := func(d countingChoice) bool { return d.way == c.way }
			if one := choices[len(choices)-1].way == choices[0].way; one && len(best) < 2 || !one && !slices.ContainsFunc(best, of) {
				best = append(best, c)
			}
		}
		choices = best
		if err := s.search(ctx, choices, false); err != nil {
			return err
		}
	}
	s.protocol, s.problem.Season = choices[0].protocol, counting(s.problem.Season, choices[0].worths)
	return nil
}

// search finds a plan for each choice and sorts them, the best first.
func (s *seasonDesign) search(ctx context.Context, choices []countingChoice, rough bool) error {
	for i := range choices {
		q := s.single()
		q.Rough, q.Season = rough, counting(q.Season, choices[i].worths)
		var err error
		if choices[i].found, err = season.Search(ctx, q); err != nil {
			return err
		}
	}
	slices.SortStableFunc(choices, func(a, b countingChoice) int { return s.compare(a.found, b.found) })
	return nil
}

// countingChoices lists what the stops may count. The choices of the stages go side by
// side, from the least to the largest.
func (s *seasonDesign) countingChoices() ([]countingChoice, error) {
	var choices []countingChoice
	for way, p := range countingsOf(s.protocol) {
		of, most := make([][]rule.Worth, len(p.Stages)), 0
		for i, t := range p.Stages {
			if of[i] = toldApart(t); len(of[i]) == 0 {
				return nil, &FieldError{Path: fmt.Sprintf("stage.%d.counting", i), Stage: t.Name, Message: protocol.InStage(t.Name) +
					"where few insects at a stop are worth no point a season cannot tell whether the pest was found; count totals, or at most so many (capped)"}
			}
			most = max(most, len(of[i]))
		}
		for n := range most {
			c := countingChoice{protocol: p, way: way}
			for _, ws := range of {
				c.worths = append(c.worths, ws[n*len(ws)/most])
			}
			choices = append(choices, c)
		}
	}
	return choices, nil
}

// counting returns a season whose stops count what is said, stage by stage.
func counting(s season.Season, worths []rule.Worth) season.Season {
	s.Stages = slices.Clone(s.Stages)
	for i, w := range worths {
		s.Stages[i].Worth = w
	}
	return s
}

// toldApart returns the worths of a stage by which a stop where the pest was found is told
// from one where it was not.
func toldApart(t Stage) []rule.Worth {
	return slices.DeleteFunc(worths(t), func(w rule.Worth) bool {
		e := w.Edges(t.Units(t.Stop.Plants))
		return len(e) > 0 && e[0] > 1
	})
}

// countingsOf returns a protocol with each way of counting that is to be tried: its own,
// or where that is left open running totals, caps, and points where the promise is held
// in patches too, for which they are no risk.
func countingsOf(p Protocol) []Protocol {
	if !slices.ContainsFunc(p.Stages, func(t Stage) bool { return t.Stop.Counting == protocol.Auto }) {
		return []Protocol{p}
	}
	ways := []Counting{CountTotal, CountCapped}
	if !slices.ContainsFunc(p.Stages, func(t Stage) bool { return !t.HoldUnder.Patches }) {
		ways = append(ways, CountPoints)
	}
	var out []Protocol
	for _, way := range ways {
		out = append(out, p.Each(func(t *Stage) {
			if t.Stop.Counting == protocol.Auto {
				t.Stop.SetCounting(way)
			}
		}))
	}
	return out
}

// compare puts the better plan first: that which keeps the promises in fewer minutes, or
// breaks them less; or that which loses less, where that is asked for.
func (s *seasonDesign) compare(a, b *season.Plan) int {
	if s.problem.Costs != nil {
		return cmp.Compare(a.Loss.Total(), b.Loss.Total())
	}
	over := func(p *season.Plan) float64 {
		return max(1, p.Needless/s.problem.Promise.Needless, p.Late/s.problem.Promise.Late)
	}
	return cmp.Or(cmp.Compare(over(a), over(b)), cmp.Compare(a.Minutes, b.Minutes))
}
