package plans

import (
	"context"
	"fmt"

	"stopwise/sampling"
)

// A Method says how a table is found.
type Method string

// The methods of Design.
const (
	// RiskTrue finds the table with the least walking whose exact risks hold over
	// the whole clumping range.
	RiskTrue Method = "risk-true"
	// Lines takes Wald's textbook lines, grouped by stop. Their risks do not hold
	// where plants clump.
	Lines Method = "lines"
	// RiskTrueLines finds the pair of straight lines with the least walking whose
	// exact risks hold.
	RiskTrueLines Method = "risk-true-lines"
	// Fixed walks the fewest stops after which one number decides.
	Fixed Method = "fixed"
	// IwaoCurves takes Iwao's curves around the threshold. They promise no risk.
	IwaoCurves Method = "iwao"
)

// Methods lists the methods, the default first.
var Methods = []Method{RiskTrue, Lines, RiskTrueLines, Fixed, IwaoCurves}

// DesignOptions says how a plan is to be found. Its zero value is the default.
type DesignOptions struct {
	Method Method // RiskTrue where empty
	// Weights of the expected stops at the lower bound, the threshold and the
	// upper bound; equal where all are 0.
	Weights [3]float64
	// Bound asks for the number of stops that no plan can beat.
	Bound bool
	// Progress, if set, is told the stage that is being worked on.
	Progress func(stage string)
}

func (o DesignOptions) weights() [3]float64 {
	sum := o.Weights[0] + o.Weights[1] + o.Weights[2]
	if sum == 0 {
		return evenWeights
	}
	return [3]float64{o.Weights[0] / sum, o.Weights[1] / sum, o.Weights[2] / sum}
}

var evenWeights = [3]float64{1. / 3, 1. / 3, 1. / 3}

// An Infeasible is the error of a stage for which no plan exists with the stops
// allowed.
type Infeasible struct {
	Stage   string
	Maximum int // stops allowed
	// Needed is the smallest maximum found to work, 0 if none was found.
	Needed int
	// NeedlessRisk and MissedRisk are what the allowed maximum could keep.
	NeedlessRisk, MissedRisk float64
}

func (e *Infeasible) Error() string {
	stage := ""
	if e.Stage != "" {
		stage = fmt.Sprintf("stage %q: ", e.Stage)
	}
	could := fmt.Sprintf("%d stops could keep risks of %.4g%% and %.4g%%", e.Maximum, 100*roundUp(e.NeedlessRisk), 100*roundUp(e.MissedRisk))
	if e.Needed == 0 {
		return fmt.Sprintf("%sno plan of up to %d stops keeps both risks; widen the bounds or accept more risk: %s", stage, max(searchLimit, e.Maximum), could)
	}
	return fmt.Sprintf("%sno plan of at most %d stops keeps both risks; allow %d stops, or accept more risk: %s", stage, e.Maximum, e.Needed, could)
}

// roundUp rounds a risk up to a tenth of a percent: it must not promise too much.
func roundUp(x float64) float64 {
	return float64(int(x*1000)+1) / 1000
}

// Design makes a plan for every stage of a protocol. It returns FieldErrors for
// a protocol that does not hold together, an Infeasible where no plan exists,
// and the context's error when it is cancelled. The result depends on nothing
// but the protocol and the options.
func Design(ctx context.Context, p Protocol, o DesignOptions) (*Plan, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	plan := &Plan{Protocol: p}
	for i := range p.Stages {
		s := stagePlan(p, i)
		if o.Progress != nil {
			o.Progress(s.Name)
		}
		if err := s.design(ctx, o); err != nil {
			return nil, err
		}
		plan.Stages = append(plan.Stages, s)
	}
	return plan, nil
}

func (s *StagePlan) design(ctx context.Context, o DesignOptions) error {
	if o.Method == "" {
		o.Method = RiskTrue
	}
	s.Method = o.Method
	p := s.problem(o.weights())
	stop := func() bool { return ctx.Err() != nil }
	ok := true
	switch o.Method {
	case Lines:
		l, err := s.TextbookLines()
		if err != nil {
			return err
		}
		s.Lines, s.Table = &l, l.Table(p.units, p.minimum, p.maximum, p.bounded)
	case RiskTrueLines:
		l, err := s.TextbookLines()
		if err != nil {
			return err
		}
		l, s.Table, ok = p.bestLines(l, stop)
		s.Lines = &l
		if !ok && ctx.Err() == nil {
			return s.noLines(p)
		}
	case Fixed:
		s.Table, ok = p.fixed(p.maximum)
	case RiskTrue:
		if p.affordable() > hopeless {
			return s.infeasible(p, stop)
		}
		s.Table, ok = p.bestTable(s.starts(p, stop), stop)
	case IwaoCurves:
		s.Table = s.iwaoTable(p)
	default:
		return fmt.Errorf("plans: unknown method %q", o.Method)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if !ok {
		return s.infeasible(p, stop)
	}
	s.Table = s.Table.Trimmed()
	if err := s.Table.Check(); err != nil {
		return err
	}
	s.judge(o.weights())
	if o.Bound && p.bounded {
		s.NoPlanBelow = p.lowerBound(prices{2 / p.alpha, 2 / p.beta})
	}
	return nil
}

// starts returns the tables that the search for the best one begins from beside
// its own: so it is never worse than the best lines or the fixed plan.
func (s *StagePlan) starts(p *problem, stop func() bool) []Table {
	var ts []Table
	if l, err := s.TextbookLines(); err == nil {
		if _, t, ok := p.bestLines(l, stop); ok {
			ts = append(ts, t)
		}
	}
	if t, ok := p.fixed(p.maximum); ok {
		// The fixed plan may be shorter than the maximum; the stops after its
		// last are never reached.
		ts = append(ts, t.Lengthened(p.maximum))
	}
	return ts
}

// bestTable finds the risk-true table of shares or of counts.
func (p *problem) bestTable(starts []Table, stop func() bool) (Table, bool) {
	if p.bounded {
		return p.riskTrue(starts, stop)
	}
	return p.countTable(starts, stop)
}

// bestLines finds the risk-true lines of shares or of counts.
func (p *problem) bestLines(textbook LinePair, stop func() bool) (LinePair, Table, bool) {
	if p.bounded {
		return p.riskLines(textbook, stop)
	}
	return p.countLines(textbook, stop)
}

// hopeless is how many times the allowed risks those of the fixed plan of all
// stops may be for a search to be worth its time: what walks that may end early
// learn beyond the last total is worth a few percent of a risk.
const hopeless = 1.5

// searchLimit bounds the stops tried when a longer plan is looked for.
const searchLimit = 300

// searchedStops is the longest fixed plan below which shorter sequential ones are
// searched for; what they save is a stop at the most.
const searchedStops = 40

func (s *StagePlan) infeasible(p *problem, stop func() bool) error {
	grow := p.affordable()
	err := &Infeasible{Stage: s.Name, Maximum: p.maximum, NeedlessRisk: grow * p.alpha, MissedRisk: grow * p.beta}
	t, ok := p.fixed(max(searchLimit, p.maximum))
	if !ok {
		return err
	}
	err.Needed = t.Stops()
	if s.Method != RiskTrue || err.Needed > searchedStops {
		return err
	}
	// A plan that may stop early can do with a little less than a fixed one.
	for low, high := p.maximum+1, t.Stops()-1; low <= high && !stop(); {
		q := *p
		q.maximum, q.rough = (low+high)/2, true
		if _, ok := q.bestTable(nil, stop); ok {
			err.Needed, high = q.maximum, q.maximum-1
		} else {
			low = q.maximum + 1
		}
	}
	return err
}

// noLines says that lines do not reach, and what would.
func (s *StagePlan) noLines(p *problem) error {
	stage := ""
	if s.Name != "" {
		stage = fmt.Sprintf("stage %q: ", s.Name)
	}
	return &Failure{fmt.Sprintf("%sno straight lines found that keep both risks within %d stops; the method %s may keep them, or more stops would", stage, p.maximum, RiskTrue)}
}

// A Failure is the error of work that was asked for properly and cannot be done.
type Failure struct{ Message string }

func (e *Failure) Error() string { return e.Message }

// problem states the stage's design problem: effort in the most clumped worlds,
// risks in all.
func (s *StagePlan) problem(weights [3]float64) *problem {
	p := &problem{
		units: s.Units(s.Stop.Plants), minimum: s.Stop.Minimum, maximum: s.Stop.Maximum,
		bounded: s.bounded(),
		lower:   s.Clumped(s.Lower).Population(),
		middle:  s.Clumped(s.Threshold).Population(),
		upper:   s.Clumped(s.Upper).Population(),
		weights: weights,
		alpha:   s.NeedlessRisk, beta: s.MissedRisk,
	}
	p.needless, p.missed = populations(s.Worlds(s.Lower)), populations(s.Worlds(s.Upper))
	p.needlessAt, p.missedAt = len(p.needless)-1, len(p.missed)-1
	if !p.bounded {
		p.top = countCeiling(p)
	}
	return p
}

func populations(ws []World) []sampling.Population {
	ps := make([]sampling.Population, len(ws))
	for i, w := range ws {
		ps[i] = w.Population()
	}
	return ps
}
