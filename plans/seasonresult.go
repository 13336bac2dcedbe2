package plans

import (
	"math"
	"slices"

	"stopwise/plans/season"
)

// A SeasonResult is what a plan does over the season that its protocol promises
// something for, exactly, with the plan's tables and dates.
type SeasonResult struct {
	// Needless is the chance that a field which stays at the lower bound of each stage
	// or below it is treated ([season.Harmless]), and Late that a growing one is treated later than promised, each the
	// worst over the range of clumping and of growth, and where that is.
	Needless   float64    `json:"p_needless"`
	Late       float64    `json:"p_late"`
	NeedlessAt ClumpValue `json:"worst_needless_at"`
	LateAt     ClumpValue `json:"worst_late_at"`
	LateGrowth float64    `json:"worst_late_growth"`
	// HeldUnder names the worlds beside the plain ones over which they are the worst too.
	HeldUnder []string `json:"held_under,omitempty"`
	// Minutes are the expected ones of a field of the region's mix and season, the drive
	// included, at the clumped end of the range.
	Minutes    float64 `json:"minutes_per_field"`
	UntilFound int     `json:"days_until_found"`
	OnceFound  int     `json:"days_once_found"`
	// MoreFound are the days to the next visit of a field whose last one saw MoreFrom or
	// more; 0 where the plan does not tell these apart.
	MoreFound int     `json:"days_more_found,omitempty"`
	MoreFrom  float64 `json:"more_from,omitempty"`
	// Loss is what is expected to be lost in a field of the mix and season, by the
	// protocol's costs and the first stage's late loss; nil where there are none.
	Loss *SeasonLoss `json:"loss,omitempty"`
	// Balanced says that the plan was chosen for the least loss: what it then risks is its
	// promise.
	Balanced bool `json:"balanced_by_costs,omitempty"`
	// OneTable are the minutes with one table for all fields of a stage, where the plan
	// has several; 0 where that keeps no promises, or was not looked for.
	OneTable float64 `json:"minutes_with_one_table,omitempty"`
	// Totals are the minutes with running totals, where the plan's stops count something
	// else; 0 where these keep no promises, or were not looked for.
	Totals float64 `json:"minutes_with_totals,omitempty"`
	// InPatches is what such a plan does where the pest sits in patches and nowhere else,
	// as alike at a stop, if the promise need not hold there.
	InPatches *SeasonRisks `json:"in_patches,omitempty"`
	// Kept says that both promises are kept; where they are not, Hindrance says what
	// holds them back, as far as the search for a plan can tell.
	Kept      bool     `json:"kept"`
	Hindrance string   `json:"hindrance,omitempty"`
	Chosen    []string `json:"chosen"` // the protocol's keys that were chosen
}

// SeasonLoss is what is expected to be lost in a field and season.
type SeasonLoss = season.Loss

// SeasonRisks are the chances of a season's promise, the worst over the range of clumping
// and of growth.
type SeasonRisks struct {
	Needless float64 `json:"p_needless"`
	Late     float64 `json:"p_late"`
}

// byLast gives a stage the tables of the classes of a season, by rising finds.
func (s *StagePlan) byLast(classes []season.Class) {
	lasts := []Last{LastNone, LastFound}
	if len(classes) > 2 {
		lasts = []Last{LastNone, LastLittle, LastMore}
	}
	for k, c := range classes {
		t := s.withTable(lasts[k], c.Table, 0, 0)
		t.judge(evenWeights)
		t.NeedlessRisk, t.MissedRisk = promisable(t.WorstNeedless().Needless), promisable(t.WorstMissed().Missed)
		s.ByLast = append(s.ByLast, t)
	}
}

// settledPlan returns the plan of what was found for a season. Its dates are the
// intervals alone; risks are those of the tables unless they were given.
func settledPlan(p Protocol, found *season.Plan, given bool) (*Plan, error) {
	p = p.Each(func(s *Stage) {
		classes := found.Season.Stages[0].Classes
		s.ComingBack.DaysUntilFound, s.ComingBack.DaysOnceFound = float64(classes[0].Interval), float64(classes[1].Interval)
		if len(classes) > 2 {
			s.ComingBack.DaysMoreFound, s.ComingBack.MoreFrom = float64(classes[2].Interval), found.Season.Stages[0].Cuts[0]
		}
		s.ComingBack.ByIntervals = true
	})
	plan := &Plan{Protocol: p}
	for i := range p.Stages {
		classes := found.Season.Stages[i].Classes
		table := classes[0].Table
		if p.Stages[i].Stop.Minimum == 0 {
			p.Stages[i].Stop.Minimum = table.First()
		}
		s := stagePlan(p, i)
		s.Method, s.Table, s.Worth = SeasonTrue, table, found.Season.Stages[i].Worth
		s.judge(evenWeights)
		if !given {
			s.NeedlessRisk, s.MissedRisk = promisable(s.WorstNeedless().Needless), promisable(s.WorstMissed().Missed)
		}
		if p.Seasonal.Tables > 1 && (len(classes) > 2 || !classes[0].Table.Equal(classes[1].Table)) {
			s.byLast(classes)
		}
		p.Stages[i].NeedlessRisk, p.Stages[i].MissedRisk = s.NeedlessRisk, s.MissedRisk
		for _, t := range s.Tables() { // what is said of the stage holds for every table
			p.Stages[i].NeedlessRisk = max(p.Stages[i].NeedlessRisk, t.NeedlessRisk)
			p.Stages[i].MissedRisk = max(p.Stages[i].MissedRisk, t.MissedRisk)
		}
		plan.Stages = append(plan.Stages, s)
	}
	var err error
	plan.Season, err = plan.overSeason()
	return plan, err
}

// promisable returns a risk, above it by less than a thousandth, that a person can
// write; of one that is nearly certain, the largest that there is.
func promisable(risk float64) float64 {
	if risk > .999 {
		return 1 - Slack
	}
	return math.Ceil(1000*risk+1e-9) / 1000
}

// overSeason judges a plan by the promises of its protocol for the season.
func (p *Plan) overSeason() (*SeasonResult, error) {
	s := p.Protocol.Seasonal
	r := &SeasonResult{Needless: -1, Late: -1}
	r.HeldUnder = heldNames(p.Protocol.Stages)
	for _, held := range r.HeldUnder {
		if _, err := p.worstSeason(r, held); err != nil {
			return nil, err
		}
	}
	chain, err := p.worstSeason(r, "")
	if err != nil {
		return nil, err
	}
	classes := chain.Season().Stages[0].Classes
	r.UntilFound, r.OnceFound = classes[0].Interval, classes[1].Interval
	if len(classes) > 2 {
		r.MoreFound, r.MoreFrom = classes[2].Interval, p.Stages[0].ComingBack.MoreFrom
	}
	var loss SeasonLoss
	problem := seasonProblem(p.Protocol)
	r.Minutes, loss = chain.Expected(problem.Mix, problem.Growth, seasonCosts(p.Protocol))
	if p.Protocol.Costs != nil && p.Stages[0].LateLoss > 0 {
		r.Loss = &loss
	}
	r.Kept = r.Needless <= s.Needless+Slack && r.Late <= s.Late+Slack
	r.InPatches, err = p.inPatches()
	return r, err
}

// inPatches returns what a plan whose stops count something else than what was found does
// in patches; nil where they do not, or its promises hold there.
func (p *Plan) inPatches() (*SeasonRisks, error) {
	if plain(p.Protocol) || slices.ContainsFunc(p.Protocol.Stages, func(t Stage) bool { return t.HoldUnder.Patches }) {
		return nil, nil
	}
	q := *p
	q.Stages = nil
	for _, s := range p.Stages {
		q.Stages = append(q.Stages, s.changed(func(t *StagePlan) { t.HoldUnder = HoldUnder{Patches: true} }))
	}
	r := &SeasonResult{Needless: -1, Late: -1}
	_, err := q.worstSeason(r, q.Stages[0].HoldUnder.Worlds()[0].Name)
	return &SeasonRisks{r.Needless, r.Late}, err
}

// worstSeason raises the risks of a result to those of the season in the named world, the
// worst over the range of clumping and of growth. It returns the chain at the clumped end.
func (p *Plan) worstSeason(r *SeasonResult, held string) (chain *season.Chain, err error) {
	s := p.Protocol.Seasonal
	worlds := 0
	for _, st := range p.Stages {
		worlds = max(worlds, len(st.Worlds(st.Lower)))
	}
	for n := range worlds {
		if chain, err = p.chain(n, worlds, held); err != nil {
			return nil, err
		}
		at := worldOf(p.Stages[0].Stage, p.Stages[0].Lower, n, worlds).Value()
		for _, course := range season.Harmless(chain.Season(), seasonProblem(p.Protocol).Mix) {
			path, err := chain.Follow(course)
			if err != nil {
				return nil, err
			}
			if path.Treated > r.Needless {
				r.Needless, r.NeedlessAt = path.Treated, at
			}
		}
		for _, g := range slices.Compact([]float64{s.Growth.Low, s.Growth.High}) {
			path, err := chain.Follow(season.Course{Start: s.Start, Growth: g})
			if err != nil {
				return nil, err
			}
			if late := path.AfterUpper.Later(s.LateDays); late > r.Late {
				r.Late, r.LateAt, r.LateGrowth = late, at, g
			}
		}
	}
	return chain, nil
}

// chain returns the chain of a plan's season in the n-th world of the range of
// clumping, as it is in the named world beside the plain ones.
func (p *Plan) chain(n, worlds int, held string) (*season.Chain, error) {
	o := p.SeasonOptions()
	o.held = held
	o.world = func(s *StagePlan, level float64) World { return worldOf(s.Stage, level, n, worlds) }
	s, err := SeasonOf(p.Stages, o)
	if err != nil {
		return nil, err
	}
	return season.New(s)
}

// worldOf returns the n-th of some worlds over a stage's own range of clumping.
func worldOf(t Stage, level float64, n, worlds int) World {
	own := t.Worlds(level)
	if worlds < 2 {
		return own[len(own)-1]
	}
	return own[n*(len(own)-1)/(worlds-1)]
}

// SeasonOptions returns the season that the plan's protocol promises something for; its
// zero value where it promises nothing.
func (p *Plan) SeasonOptions() SeasonOptions {
	var o SeasonOptions
	if p.Protocol.Seasonal != nil {
		o.LastDay = p.Protocol.Seasonal.LastDay()
	}
	if p.Protocol.Regional != nil {
		o.DriveMinutes = p.Protocol.Regional.DriveMinutes
	}
	return o
}
