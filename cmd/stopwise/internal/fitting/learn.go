package fitting

import (
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/fit"
)

// A learning is what the visits of a season say.
type learning struct {
	path       string // of the season file, as given
	file       string // its name without the folder
	confidence float64
	records    season.Records
	stages     []*learnedStage
	// clumping is one constant for all stages with a share infested, and alike whether
	// they share it.
	clumping fit.OverVisits
	alike    fit.Test
	growth   fit.Growth
	evenly   fit.Test // whether the stages share one growth
	followed season.Followed
	against  *against // nil without a protocol
}

// A learnedStage is what the visits in one growth stage say.
type learnedStage struct {
	plan   *plans.StagePlan // of the last visit
	fields int
	visits []fit.Visit
	// clumping is rho, or for means the correlation of counts with k as planned.
	clumping fit.OverVisits
	k        *fit.OverVisits // for means, with the correlation of counts as planned; nil where a law gives k
	growth   fit.Growth
	promise  *promise // nil without a protocol
}

// key names the constant of clumping as a protocol does.
func (s *learnedStage) key() string {
	if s.plan.Law().Counts() {
		return "count_rho"
	}
	return "rho"
}

// learn fits all constants to the records of a season.
func learn(r season.Records, confidence float64, tick func()) (*learning, error) {
	l := &learning{confidence: confidence, records: r, followed: r.Followed()}
	byKey := map[string]*learnedStage{}
	seen := map[*learnedStage]map[int]bool{}
	for _, v := range r.Visits {
		key := strings.ToLower(v.Plan.Name) + "\x00" + string(v.Plan.Measure)
		s := byKey[key]
		if s == nil {
			s = &learnedStage{}
			byKey[key], seen[s] = s, map[int]bool{}
			l.stages = append(l.stages, s)
		}
		s.plan = v.Plan
		seen[s][v.FieldNumber] = true
		one := fit.Visit{Field: v.FieldNumber, Course: v.Course, Day: v.Day}
		for _, stop := range v.Stops {
			one.Stops = append(one.Stops, fit.StopTotal{Units: v.Plan.Units(stop.Plants), Total: stop.Total})
		}
		s.visits = append(s.visits, one)
	}
	var shares []fit.OverVisits
	var growths []fit.Growth
	for _, s := range l.stages {
		s.fields = len(seen[s])
		if err := s.fit(confidence, tick); err != nil {
			return nil, err
		}
		if !s.plan.Law().Counts() {
			shares = append(shares, s.clumping)
		}
		growths = append(growths, s.growth)
	}
	var err error
	if l.clumping, l.alike, err = fit.PoolOverVisits(shares, confidence); err != nil {
		return nil, err
	}
	if l.growth, l.evenly, err = fit.PoolGrowth(growths, confidence); err != nil || len(l.stages) == 1 || !l.oneScale() {
		return l, err
	}
	// The level of a field goes on from stage to stage: its whole course says more
	// than the parts of it.
	var all []fit.Visit
	for _, s := range l.stages {
		all = append(all, s.visits...)
	}
	whole, err := l.stages[0].fitGrowth(all, l.clumping.Estimate, confidence)
	if tick(); err == nil && whole.Known() {
		l.growth = whole
	}
	return l, err
}

// oneScale reports whether the stages examine the same unit for the same share, so
// that levels of one can be compared with those of another.
func (l *learning) oneScale() bool {
	for _, s := range l.stages {
		if s.key() != "rho" || s.plan.Measure != l.stages[0].plan.Measure || s.plan.Unit != l.stages[0].plan.Unit {
			return false
		}
	}
	return true
}

func (s *learnedStage) fit(confidence float64, tick func()) (err error) {
	if s.clumping, err = fit.FitOverVisits(s.visits, s.scale(), s.family(), confidence); err != nil {
		return err
	}
	tick()
	if law := s.plan.Law(); law.Kind == protocol.KLaw {
		countRho := (law.CountRho.Low + law.CountRho.High) / 2
		k, err := fit.FitOverVisits(s.visits, s.scale(), func(c, mean float64) sampling.Population {
			k := fit.KOf(c)
			return law.With(&k, &countRho).Clumped(mean).Population()
		}, confidence)
		if err != nil {
			return err
		}
		k.Estimate = k.AsK()
		s.k = &k
		tick()
	}
	s.growth, err = s.fitGrowth(s.visits, s.clumping.Estimate, confidence)
	tick()
	return err
}

// fitGrowth fits growth to visits with the fitted clumping, or the clumped end of
// the plan's range where there is none.
func (s *learnedStage) fitGrowth(visits []fit.Visit, clumping fit.Estimate, confidence float64) (fit.Growth, error) {
	law := s.plan.Law()
	c := clumping.Value
	if !clumping.Known() {
		if c = law.CountRho.High; s.key() == "rho" {
			c = law.Range.High
		}
	}
	family := s.family()
	return fit.FitGrowth(visits, s.scale(), func(level float64) sampling.Population { return family(c, level) }, confidence)
}

func (s *learnedStage) scale() fit.Scale {
	if s.plan.Measure.Bounded() {
		return fit.LogitScale
	}
	return fit.LogScale
}

// family gives the field situations of the stage by its constant of clumping; the k
// of counts is that which was planned with.
func (s *learnedStage) family() fit.ClumpFamily {
	law := s.heldLaw()
	if !law.Counts() {
		return func(rho, p float64) sampling.Population { return sampling.Infested{P: p, Rho: rho} }
	}
	return func(rho, mean float64) sampling.Population { return law.With(nil, &rho).Clumped(mean).Population() }
}

// heldLaw is the law of the plan, with the middle of its range where that is one
// of k.
func (s *learnedStage) heldLaw() plans.Law {
	law := s.plan.Law()
	if law.Kind == protocol.KLaw {
		k := math.Sqrt(law.Range.Low * law.Range.High)
		return law.With(&k, nil)
	}
	return law
}

// next is the range of the clumping constant that a protocol takes over.
func (s *learnedStage) next() *plans.Range { return nextRange(s.key(), s.clumping.Estimate) }

func nextRange(key string, e fit.Estimate) *plans.Range {
	if key == "rho" {
		return outwardRange(e, 0.999)
	}
	return outwardRange(e, protocol.MostCountRho)
}

// ownClumping reports whether stages need constants of their own: they do not share
// one, or there is none for all.
func (l *learning) ownClumping() bool {
	return l.alike.Known() && l.alike.P < clearly
}

func (l *learning) ownGrowth() bool { return l.evenly.Known() && l.evenly.P < clearly }

// fastFields is the share of fields whose growth a protocol's is not to be below
// where fields differ: the next visit counts with it, and a mean that fields which
// stay at their level have part in would bring it too late. No source.
const fastFields = 0.9

// nextGrowth is the growth that a protocol takes over, false where none was found.
func nextGrowth(g fit.Growth) (float64, bool) {
	if !g.Known() || g.Value <= 0 {
		return 0, false
	}
	if !differs(g) {
		return report.Significant(g.Value, 2), true
	}
	return report.Significant(g.NotAbove(fastFields), 2), true
}

// differs reports whether growth is shown to differ from field to field.
func differs(g fit.Growth) bool { return g.Spread > 0 && g.Same.P < clearly }
