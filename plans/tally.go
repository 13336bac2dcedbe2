package plans

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"stopwise/sampling"

	"stopwise/plans/protocol"
	"stopwise/sampling/tally"
)

// Relations returns how the share infested at the tally number t follows from the
// mean per leaf under a stage's law of counts (over its range of k, from the most
// clumped); none where it states none.
func Relations(s Stage, t int) []tally.Relation {
	law, ok := s.Clumping.Counts()
	if !ok {
		return nil
	}
	var rs []tally.Relation
	for _, l := range law.Grid() {
		rs = append(rs, tally.Theory{T: t, Leaves: max(1, s.Unit.Leaves), Law: l})
	}
	return rs
}

// AtTally returns the protocol with the thresholds on means per leaf turned into
// thresholds on the share of plants infested at the tally number t, under the
// relations of each stage: those of its stages that are stated in means. Where
// several relations may hold, the lower bound is the largest share they give at
// the lower mean and the upper bound the smallest at the upper mean, so the risks
// hold under each of them. It returns a NotApart where the bounds then cross, or
// cannot be told apart.
func AtTally(p Protocol, t int, relations func(Stage) []tally.Relation) (Protocol, error) {
	p.Stages = slices.Clone(p.Stages)
	for i := range p.Stages {
		s := &p.Stages[i]
		if s.Measure != MeanPerLeaf {
			continue
		}
		rs := relations(*s)
		if len(rs) == 0 {
			return p, errors.New("plans: no relation between the mean per leaf and the share infested")
		}
		s.Unit.Tally = t
		low, high, middle := 0.0, 1.0, 0.0
		for _, r := range rs {
			low, high = math.Max(low, r.Share(s.Lower)), math.Min(high, r.Share(s.Upper))
			middle += r.Share(s.Threshold) / float64(len(rs))
		}
		if !(low > 0 && high < 1 && high-low > leastGap) {
			return p, &NotApart{s.Name, t, s.Lower, s.Upper, low, high}
		}
		s.Measure, s.Lower, s.Upper = ShareInfested, low, high
		s.Threshold = math.Max(low, math.Min(high, middle))
	}
	return p, p.Check()
}

// A NotApart is the error of a tally number at which the shares infested at the
// bounds are too much alike for any plan.
type NotApart struct {
	Stage                string
	Tally                int
	LowerMean, UpperMean float64 // the bounds, per leaf
	Lower, Upper         float64 // the shares infested there; Lower may be the larger one
}

func (e *NotApart) Error() string {
	return fmt.Sprintf("%sno plan can tell the bounds apart at the tally number %d", stagePrefix(e.Stage), e.Tally)
}

// leastGap is the smallest difference of two shares that a plan is designed for.
const leastGap = 1e-4

func stagePrefix(name string) string {
	if name == "" {
		return ""
	}
	return fmt.Sprintf("stage %q: ", name)
}

// TallyOptions says how a tally number is to be chosen.
type TallyOptions struct {
	// Tallies are the tally numbers to try; searched for where empty.
	Tallies []int
	// Models, one a tally number, take the place of the protocol's law of counts;
	// only their tally numbers are tried.
	Models []tally.Model
	// InsectMinutes is the time to count one insect, on top of the time per plant.
	// It needs a law of counts.
	InsectMinutes float64
	// Weights of the lower bound, the threshold and the upper bound; equal where
	// all are 0.
	Weights [3]float64
	// Progress, if set, is told of every tally number that is worked on.
	Progress func(t int)
}

// A TallyTrial is what one tally number costs.
type TallyTrial struct {
	T      int
	Stages []Stage // with the thresholds as shares; empty where they cannot be told apart
	// Minutes and Stops of a visit, averaged over the stages and in each over the
	// bounds and the threshold in the most clumped worlds.
	Minutes, Stops float64
	Feasible       bool // false where no plan keeps the risks within the maximum of stops
}

// BestTally returns the tally number at which visits take the fewest minutes with
// the same risks at the same means per leaf, and all that was tried in rising
// order. Of numbers whose minutes differ by less than half a percent the smallest
// is taken, which is counted to the soonest. One number is taken for all stages of the protocol, which must be stated
// in means per leaf; the plans are those of [RiskTrue], found by a rough search.
// It returns a Failure where no number tried allows a plan.
func BestTally(ctx context.Context, p Protocol, o TallyOptions) (int, []TallyTrial, error) {
	if err := checkTally(p, o); err != nil {
		return 0, nil, err
	}
	tried := map[int]TallyTrial{}
	try := func(t int) error {
		if _, ok := tried[t]; ok || t < 1 {
			return nil
		}
		if o.Progress != nil {
			o.Progress(t)
		}
		trial, err := tryTally(ctx, p, t, o)
		tried[t] = trial
		return err
	}
	best := func() int { return quickestTally(tried) }
	ts, search := o.Tallies, false
	switch {
	case len(o.Models) > 0:
		for _, m := range o.Models {
			if len(o.Tallies) == 0 {
				ts = append(ts, m.T)
			}
		}
	case len(ts) == 0:
		ts, search = talliesTried(p), true
	}
	for _, t := range ts {
		if err := try(t); err != nil {
			return 0, nil, err
		}
	}
	if search {
		for step := max(1, best()/8); best() > 0; step = max(1, step/2) {
			for at := best(); ; at = best() {
				if err := errors.Join(try(at-step), try(at+step)); err != nil {
					return 0, nil, err
				}
				if best() == at {
					break
				}
			}
			if step == 1 || step <= best()/30 {
				break // closer is less than anyone would notice
			}
		}
	}
	var all []TallyTrial
	for _, t := range tried {
		all = append(all, t)
	}
	slices.SortFunc(all, func(a, b TallyTrial) int { return a.T - b.T })
	if best() == 0 {
		return 0, all, &Failure{"no tally number tried keeps the risks within the maximum of stops; allow more stops, accept more risk, or set the means further apart"}
	}
	return best(), all, nil
}

// tallyTie is by how much minutes must differ to matter.
const tallyTie = 0.005

// quickestTally returns the smallest tally number whose minutes are the fewest or
// differ from them by too little to matter: counting to it is quicker. It returns
// 0 where none is feasible.
func quickestTally(tried map[int]TallyTrial) int {
	fewest, at := math.Inf(1), 0
	for _, trial := range tried {
		if trial.Feasible {
			fewest = math.Min(fewest, trial.Minutes)
		}
	}
	for t, trial := range tried {
		if trial.Feasible && trial.Minutes <= fewest*(1+tallyTie) && (at == 0 || t < at) {
			at = t
		}
	}
	return at
}

func checkTally(p Protocol, o TallyOptions) error {
	for _, s := range p.Stages {
		if s.Clumping.Rho == nil {
			return &FieldError{Path: "clumping.rho", Stage: s.Name, Message: "rho is missing; plants of a stop are alike at the tally number too"}
		}
	}
	if len(o.Models) > 0 { // they take the place of a law
		p = p.Each(func(s *Stage) {
			if _, ok := s.Clumping.Counts(); !ok {
				s.Clumping = s.Clumping.WithCounts(Law{Kind: protocol.PoissonLaw})
			}
		})
	}
	p = p.Each(func(s *Stage) { s.Clumping.CountRho = &Range{} }) // no counts are added up
	if err := p.Check(); err != nil {
		return err
	}
	for _, s := range p.Stages {
		if s.Measure != MeanPerLeaf {
			return &FieldError{Path: "stage", Stage: s.Name, Message: fmt.Sprintf("%sthe threshold is a share already; a tally number is chosen for means per leaf", stagePrefix(s.Name))}
		}
	}
	for _, m := range o.Models {
		if err := m.Check(); err != nil {
			return err
		}
	}
	for _, t := range o.Tallies {
		if t < 1 {
			return sampling.Refusef("tally number %d, must be at least 1", t)
		}
	}
	switch {
	case !(o.InsectMinutes >= 0):
		return sampling.Refusef("%g minutes to count an insect, must be 0 or more", o.InsectMinutes)
	case o.InsectMinutes > 0 && len(o.Models) > 0:
		return sampling.Refusef("the minutes to count an insect need a law of counts; a fitted model does not say how many are counted")
	}
	return nil
}

// talliesTried returns the tally numbers first tried: each about 1.4 times the
// one before, up to three times the largest mean, where few leaves have as many.
func talliesTried(p Protocol) []int {
	top := 0.0
	for _, s := range p.Stages {
		top = math.Max(top, 3*s.Upper)
	}
	ts := []int{1}
	for x := 2.0; x <= math.Min(top, 1e6); x *= math.Sqrt2 {
		if t := int(math.Round(x)); t != ts[len(ts)-1] {
			ts = append(ts, t)
		}
	}
	return ts
}

// relationsFor returns the relations of the stages at a tally number.
func relationsFor(t int, o TallyOptions) (func(Stage) []tally.Relation, error) {
	if len(o.Models) == 0 {
		return func(s Stage) []tally.Relation { return Relations(s, t) }, nil
	}
	for _, m := range o.Models {
		if m.T == t {
			return func(Stage) []tally.Relation { return []tally.Relation{m} }, nil
		}
	}
	return nil, fmt.Errorf("plans: no model for the tally number %d", t)
}

func tryTally(ctx context.Context, p Protocol, t int, o TallyOptions) (TallyTrial, error) {
	trial := TallyTrial{T: t, Feasible: true}
	relations, err := relationsFor(t, o)
	if err != nil {
		return trial, err
	}
	q, err := AtTally(p, t, relations)
	var cannot *NotApart
	if errors.As(err, &cannot) {
		trial.Feasible = false
		return trial, nil
	}
	if err != nil {
		return trial, err
	}
	trial.Stages = q.Stages
	weights := DesignOptions{Weights: o.Weights}.weights()
	for i := range q.Stages {
		s := stagePlan(q, i)
		problem := s.counting(s.problem(weights), UsualWorth(s.Stage))
		problem.Rough, problem.Stop = true, func() bool { return ctx.Err() != nil }
		table, ok := problem.RiskTrue(s.starts(problem))
		if ctx.Err() != nil {
			return trial, ctx.Err()
		}
		if !ok {
			trial.Feasible, trial.Minutes, trial.Stops = false, 0, 0
			return trial, nil
		}
		rs := relations(p.Stages[i])
		means := []float64{p.Stages[i].Lower, p.Stages[i].Threshold, p.Stages[i].Upper}
		for j, pop := range problem.Effort {
			share := weights[j] / float64(len(q.Stages))
			e := Evaluate(table, pop.Population) // of shares infested: a unit is a plant
			stops, plants := e.ExpectedStops, e.ExpectedUnits
			trial.Stops += share * stops
			trial.Minutes += share * (s.Minutes(stops, plants) + o.InsectMinutes*plants*CountedPerPlant(rs, means[j]))
		}
	}
	return trial, nil
}

// WithTally returns the protocol that [Design] takes for the tally number t: its
// thresholds are shares infested, and the minutes per plant of each stage include
// the counting of the insects at its threshold.
func WithTally(p Protocol, t int, o TallyOptions) (Protocol, error) {
	if err := checkTally(p, o); err != nil {
		return p, err
	}
	relations, err := relationsFor(t, o)
	if err != nil {
		return p, err
	}
	q, err := AtTally(p, t, relations)
	if err == nil {
		for i, s := range p.Stages {
			q.Stages[i].Stop.PlantMinutes += o.InsectMinutes * CountedPerPlant(relations(s), s.Threshold)
		}
	}
	return q, err
}

// CountedPerPlant returns how many insects are counted on a plant on average,
// over the relations that say so; 0 where none does.
func CountedPerPlant(relations []tally.Relation, mean float64) float64 {
	sum, n := 0.0, 0
	for _, r := range relations {
		if t, ok := r.(tally.Theory); ok {
			sum += t.Counted(mean)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}
