package fitting

import (
	"context"
	"reflect"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling/fit"
)

// An against is the protocol that a season is held against, and its plan.
type against struct {
	file string // the protocol's name without the folder
	plan *plans.Plan
	used string // checksum of the plan where the season was walked by it; empty where it was designed anew
}

// A promise is what a stage's risks became with the clumping that was there.
type promise struct {
	stage *plans.StagePlan // of the protocol's plan
	at    *plans.StagePlan // the same table at the estimate
	over  *plans.StagePlan // and over the interval; nil where there is none
}

// findPlan reads a protocol and returns its plan: that of the season where there is
// one, else it is designed.
func findPlan(ctx context.Context, e shell.Env, file string, f *season.File) (*against, error) {
	text, err := shell.ReadInput(e, file)
	if err != nil {
		return nil, err
	}
	a := &against{file: fileTitle(file)}
	if p, err := plans.ReadProtocol(text); err == nil {
		kept, err := f.Plans()
		if err != nil {
			return nil, err
		}
		for sum := range kept {
			plan, err := f.Plan(sum)
			if err != nil {
				return nil, err
			}
			if madeFrom(plan.Protocol, p) && (a.plan == nil || sum < a.used) {
				a.plan, a.used = plan, sum
			}
		}
		if a.plan != nil {
			return a, nil
		}
	}
	a.plan, err = shell.PlanOfText(ctx, e, file, text, "what a season is held against")
	return a, err
}

// madeFrom reports whether a plan's protocol is the one given, but for what the
// design chose.
func madeFrom(made, given plans.Protocol) bool {
	return slices.EqualFunc(made.Stages, given.Stages, func(m, g plans.Stage) bool {
		if given.Seasonal != nil || given.AutoPlants {
			m.NeedlessRisk, m.MissedRisk, m.ComingBack = g.NeedlessRisk, g.MissedRisk, g.ComingBack
			m.Stop.Minimum, m.Stop.Maximum = g.Stop.Minimum, g.Stop.Maximum
			if given.AutoPlants {
				m.Stop.Plants = g.Stop.Plants
			}
		}
		return reflect.DeepEqual(m, g)
	})
}

// hold finds what became of the promises.
func (l *learning) hold(a *against) error {
	l.against = a
	for _, s := range l.stages {
		i := slices.IndexFunc(a.plan.Stages, func(p *plans.StagePlan) bool {
			return strings.EqualFold(p.Name, s.plan.Name) && p.Measure == s.plan.Measure
		})
		if i < 0 {
			continue
		}
		p := &promise{stage: a.plan.Stages[i]}
		s.promise = p
		e := s.clumping.Estimate
		if !e.Known() {
			continue
		}
		var err error
		if p.at, err = p.with(s, plans.Range{Low: e.Value, High: e.Value}); err != nil {
			return err
		}
		if r := s.next(); r != nil {
			if p.over, err = p.with(s, plans.Range{Low: e.Lower, High: e.Upper}); err != nil {
				return err
			}
		}
	}
	return nil
}

// with judges the promise's table with another clumping.
func (p *promise) with(s *learnedStage, clump plans.Range) (*plans.StagePlan, error) {
	terms := p.stage.Stage
	terms.HoldUnder = plans.HoldUnder{}
	if s.key() == "rho" {
		terms.Clumping.Rho = &clump
	} else {
		terms.Clumping = terms.Clumping.WithCounts(s.heldLaw())
		terms.Clumping.CountRho = &clump
	}
	return plans.NewStagePlan(terms, p.stage.Table)
}

// The outcomes of a comparison with a range of a protocol.
const (
	held      = "held"        // the interval lies within the range
	open      = "not refuted" // the interval reaches beyond the range and into it
	higher    = "higher"      // the interval lies above the range
	lower     = "lower"       // the interval lies below it
	notFitted = ""
)

// compare says how an estimate stands to what a protocol states.
func compare(e fit.Estimate, stated plans.Range) string {
	const slack = 0.0005 // protocols state three decimals
	switch {
	case !e.Known() || !e.HasInterval():
		return notFitted
	case e.Lower > stated.High+slack:
		return higher
	case e.Upper < stated.Low-slack:
		return lower
	case e.Lower >= stated.Low-slack && e.Upper <= stated.High+slack:
		return held
	}
	return open
}

// stated is what the protocol says of a stage's clumping and growth; nil where it
// says nothing.
func (p *promise) stated(s *learnedStage) (clump, growth *plans.Range) {
	if p == nil {
		return nil, nil
	}
	law := p.stage.Law()
	clump = &law.Range
	if s.key() == "count_rho" {
		clump = &law.CountRho
	}
	if b := p.stage.ComingBack; b != nil && b.GrowthPerDay > 0 {
		growth = &plans.Range{Low: b.GrowthPerDay, High: b.GrowthPerDay}
	}
	return clump, growth
}

// kept says whether the two promised risks held: over the interval, at the estimate
// only, or not.
func (p *promise) kept(of func(*plans.StagePlan) float64, promised float64) string {
	switch {
	case p.at == nil:
		return ""
	case !(of(p.at) <= promised+plans.Slack):
		return "broken"
	case p.over == nil || !(of(p.over) <= promised+plans.Slack):
		return "kept at the estimate"
	}
	return "kept"
}

func needlessOf(s *plans.StagePlan) float64 { return s.WorstNeedless().Needless }

func missedOf(s *plans.StagePlan) float64 { return s.WorstMissed().Missed }

// statedK is the range of k that the protocol states, nil where it states none.
func (p *promise) statedK() *plans.Range {
	if p == nil || p.stage.Law().Kind != protocol.KLaw {
		return nil
	}
	r := p.stage.Law().Range
	return &r
}
