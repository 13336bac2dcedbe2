// Package tallying makes plans whose plants count as infested from a tally number of
// insects on: thresholds on the mean per leaf become thresholds on the share of such
// plants, the tally number with which visits take the least time is searched for, and
// what a plan does is shown against the mean per leaf.
package tallying

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// Relations returns how the share infested at the tally number t follows from the
// mean per leaf under a stage's law of counts (over its range of k, from the most
// clumped, and over that of the correlation of the counts of a stop); none where it
// states none.
func Relations(s plans.Stage, t int) []tally.Relation {
	law, ok := s.Clumping.Counts()
	if !ok {
		return nil
	}
	var rs []tally.Relation
	for _, rho := range law.CountRho.Grid(countRhoGrid) {
		for _, l := range law.Grid() {
			rs = append(rs, tally.Theory{T: t, Leaves: max(1, s.Unit.Leaves), Law: l, CountRho: rho})
		}
	}
	return rs
}

// countRhoGrid is how many values of a range of the correlation are looked at.
const countRhoGrid = 5

// At returns the protocol with the thresholds on means per leaf turned into
// thresholds on the share of plants infested at the tally number t, under the
// relations of each stage: those of its stages that are stated in means. Where
// several relations may hold, the lower bound is the largest share they give at
// the lower mean and the upper bound the smallest at the upper mean, so the risks
// hold under each of them. It returns a NotApart where the bounds then cross, or
// cannot be told apart.
func At(p plans.Protocol, t int, relations func(plans.Stage) []tally.Relation) (plans.Protocol, error) {
	p.Stages = slices.Clone(p.Stages)
	for i := range p.Stages {
		s := &p.Stages[i]
		if s.Measure != plans.MeanPerLeaf {
			continue
		}
		rs := relations(*s)
		if len(rs) == 0 {
			return p, errors.New("tallying: no relation between the mean per leaf and the share infested")
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
		s.Measure, s.Lower, s.Upper = plans.ShareInfested, low, high
		s.Stop.Cap = 0 // that of insects is none of infested plants: the best is looked for
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
	return fmt.Sprintf("%sno plan can tell the bounds apart at the tally number %d", protocol.InStage(e.Stage), e.Tally)
}

// leastGap is the smallest difference of two shares that a plan is designed for.
const leastGap = 1e-4

// Options says how a tally number is to be chosen.
type Options struct {
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

// A Trial is what one tally number costs.
type Trial struct {
	T      int
	Stages []plans.Stage // with the thresholds as shares; empty where they cannot be told apart
	// Minutes and Stops of a visit, averaged over the stages and in each over the
	// bounds and the threshold in the most clumped worlds.
	Minutes, Stops float64
	Feasible       bool // false where no plan keeps the risks within the maximum of stops
}

// Best returns the tally number at which visits take the fewest minutes with
// the same risks at the same means per leaf, and all that was tried in rising
// order. Of numbers whose minutes differ by less than half a percent the smallest
// is taken, which is counted to the soonest. One number is taken for all stages of the protocol, which must be stated
// in means per leaf; the plans are those of [RiskTrue], found by a rough search.
// It returns a plans.Failure where no number tried allows a plan.
func Best(ctx context.Context, p plans.Protocol, o Options) (int, []Trial, error) {
	if err := checkTally(p, o); err != nil {
		return 0, nil, err
	}
	tried := map[int]Trial{}
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
	var all []Trial
	for _, t := range tried {
		all = append(all, t)
	}
	slices.SortFunc(all, func(a, b Trial) int { return a.T - b.T })
	if best() == 0 {
		return 0, all, &plans.Failure{Message: "no tally number tried keeps the risks within the maximum of stops; allow more stops, accept more risk, or set the means further apart"}
	}
	return best(), all, nil
}

// tallyTie is by how much minutes must differ to matter.
const tallyTie = 0.005

// quickestTally returns the smallest tally number whose minutes are the fewest or
// differ from them by too little to matter: counting to it is quicker. It returns
// 0 where none is feasible.
func quickestTally(tried map[int]Trial) int {
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

func checkTally(p plans.Protocol, o Options) error {
	for _, s := range p.Stages {
		if s.Clumping.Rho == nil {
			return &plans.FieldError{Path: "clumping.rho", Stage: s.Name, Message: "rho is missing; plants of a stop are alike at the tally number too"}
		}
	}
	if len(o.Models) > 0 { // they take the place of a law
		p = p.Each(func(s *plans.Stage) {
			if _, ok := s.Clumping.Counts(); !ok {
				s.Clumping = s.Clumping.WithCounts(plans.Law{Kind: protocol.PoissonLaw})
			}
		})
	}
	p = p.Each(func(s *plans.Stage) { s.Clumping.CountRho = &plans.Range{} }) // no counts are added up
	if err := p.Check(); err != nil {
		return err
	}
	for _, s := range p.Stages {
		if s.Measure != plans.MeanPerLeaf {
			return &plans.FieldError{Path: "stage", Stage: s.Name, Message: fmt.Sprintf("%sthe threshold is a share already; a tally number is chosen for means per leaf", protocol.InStage(s.Name))}
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
func talliesTried(p plans.Protocol) []int {
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
func relationsFor(t int, o Options) (func(plans.Stage) []tally.Relation, error) {
	if len(o.Models) == 0 {
		return func(s plans.Stage) []tally.Relation { return Relations(s, t) }, nil
	}
	for _, m := range o.Models {
		if m.T == t {
			return func(plans.Stage) []tally.Relation { return []tally.Relation{m} }, nil
		}
	}
	return nil, fmt.Errorf("tallying: no model for the tally number %d", t)
}

func tryTally(ctx context.Context, p plans.Protocol, t int, o Options) (Trial, error) {
	trial := Trial{T: t, Feasible: true}
	relations, err := relationsFor(t, o)
	if err != nil {
		return trial, err
	}
	q, err := At(p, t, relations)
	var cannot *NotApart
	if errors.As(err, &cannot) {
		trial.Feasible = false
		return trial, nil
	}
	if err != nil {
		return trial, err
	}
	trial.Stages = q.Stages
	weights := plans.EvenWeights(o.Weights)
	for i := range q.Stages {
		s, ok, err := plans.RoughPlan(ctx, q, i, weights)
		if err != nil {
			return trial, err
		}
		if !ok {
			trial.Feasible, trial.Minutes, trial.Stops = false, 0, 0
			return trial, nil
		}
		rs := relations(p.Stages[i])
		means := []float64{p.Stages[i].Lower, p.Stages[i].Threshold, p.Stages[i].Upper}
		for j, level := range []float64{s.Lower, s.Threshold, s.Upper} {
			share := weights[j] / float64(len(q.Stages))
			e := s.Count(s.Clumped(level).Population()) // of shares infested: a unit is a plant
			stops, plants := e.ExpectedStops, e.ExpectedUnits
			trial.Stops += share * stops
			trial.Minutes += share * (s.Minutes(stops, plants) + o.InsectMinutes*plants*CountedPerPlant(rs, means[j]))
		}
	}
	return trial, nil
}

// With returns the protocol that [Design] takes for the tally number t: its
// thresholds are shares infested, and the minutes per plant of each stage include
// the counting of the insects at its threshold.
func With(p plans.Protocol, t int, o Options) (plans.Protocol, error) {
	if err := checkTally(p, o); err != nil {
		return p, err
	}
	relations, err := relationsFor(t, o)
	if err != nil {
		return p, err
	}
	q, err := At(p, t, relations)
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
