package plans

import (
	"context"
	"fmt"

	"stopwise/plans/internal/search"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
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
	// Price asks, where the promise must hold in more than the plain worlds, for the
	// stops that it would take without these.
	Price bool
	// Countings asks a comparison for plans whose stops count something else, too.
	Countings bool
	// Progress, if set, is told the stage that is being worked on.
	Progress func(stage string)
	// SeasonProgress, if set, is told of a search for a season how many schedules were
	// tried, and the least minutes that kept the promises so far, 0 while there are none.
	SeasonProgress func(tried int, minutes float64)

	leastLoss bool // over a season, in place of the least minutes that keep its promises

	starts []Table // that the search begins from beside its own
	rough  bool    // a good plan rather than the best one
}

func (o DesignOptions) weights() [3]float64 { return EvenWeights(o.Weights) }

// EvenWeights returns weights of the two bounds and the threshold that add up to 1: as
// they stand to each other, and equal where all are 0.
func EvenWeights(w [3]float64) [3]float64 {
	sum := w[0] + w[1] + w[2]
	if sum == 0 {
		return evenWeights
	}
	return [3]float64{w[0] / sum, w[1] / sum, w[2] / sum}
}

var evenWeights = [3]float64{1. / 3, 1. / 3, 1. / 3}

// An Infeasible is the error of a stage for which no plan exists with the stops
// allowed.
type Infeasible struct {
	Stage   string
	Maximum int // stops allowed
	// Lines is set where straight lines were asked for and none were found: another
	// method, or more stops, may do. Nothing else is then known.
	Lines bool
	// Needed is the smallest maximum found to work, 0 if none up to Looked was.
	Needed, Looked int
	// NeedlessRisk and MissedRisk are what the allowed maximum could keep.
	NeedlessRisk, MissedRisk float64
	// SignAlone is the chance of missing a field at the upper bound that the sign
	// leaves to any table, where that is above the risk allowed; else 0.
	SignAlone float64
}

// Error says in short what there is none of; a program that tells people words the
// numbers itself.
func (e *Infeasible) Error() string {
	what := "plan"
	if e.Lines {
		what = "pair of straight lines found"
	}
	return fmt.Sprintf("%sno %s within %d stops keeps both risks", protocol.InStage(e.Stage), what, e.Maximum)
}

// Design makes a plan for every stage of a protocol. It returns FieldErrors for
// a protocol that does not hold together, an Infeasible where no plan exists,
// and the context's error when it is cancelled. The result depends on nothing
// but the protocol and the options. Where the protocol promises something for the
// season, the default method chooses what it leaves open for the least minutes of a
// field and season, and the plan says what it does over the season.
func Design(ctx context.Context, p Protocol, o DesignOptions) (*Plan, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	if p.AutoPlants {
		return nil, &FieldError{Path: "stop.plants", Message: "the plants per stop are to be searched for: BestPlants finds them"}
	}
	if p.Seasonal != nil && (o.Method == "" || o.Method == RiskTrue) {
		return designSeason(ctx, p, o)
	}
	if err := ready(p); err != nil {
		return nil, err
	}
	plan, err := designVisits(ctx, p, o)
	if err == nil && p.Seasonal != nil {
		plan.Season, err = plan.overSeason()
	}
	return plan, err
}

// designVisits makes the plan of each stage for the risks of a visit.
func designVisits(ctx context.Context, p Protocol, o DesignOptions) (*Plan, error) {
	plan := &Plan{Protocol: p}
	for i := range p.Stages {
		s := stagePlan(p, i)
		if o.Progress != nil {
			o.Progress(s.Name)
		}
		if err := s.design(ctx, o); err != nil {
			return nil, err
		}
		s.seekBreak()
		plan.Stages = append(plan.Stages, s)
	}
	return plan, nil
}

func (s *StagePlan) design(ctx context.Context, o DesignOptions) error {
	if o.Method == "" {
		o.Method = RiskTrue
	}
	s.Method = o.Method
	if err := s.countable(o.Method); err != nil {
		return err
	}
	full := s.problem(o.weights()) // of the full counts
	full.Rough, full.Stop = o.rough, func() bool { return ctx.Err() != nil }
	usual := UsualWorth(s.Stage)
	choices := worths(s.Stage)
	if o.rough {
		choices = []rule.Worth{usual}
	}
	if len(choices) == 1 {
		usual = choices[0]
	}
	p := s.counting(full, usual)
	ok := true
	promises := o.Method == RiskTrue || o.Method == RiskTrueLines || o.Method == Fixed
	if promises && s.SignAlone() > s.MissedRisk+riskSlack {
		return s.infeasible(p)
	}
	switch o.Method {
	case Lines:
		l, err := s.TextbookLines()
		if err != nil {
			return err
		}
		s.Lines, s.Table = &l, l.Table(p.Units, p.Minimum, p.Maximum, p.Bounded)
	case RiskTrueLines:
		var lines LinePair
		var fault error
		s.Table, ok = s.bestOf(full, choices, func(q *search.Problem) (t Table, ok bool) {
			l, err := s.textbook(q)
			if err != nil {
				fault = err
				return t, false
			}
			lines, t, ok = q.Lines(l)
			return t, ok
		}, (*search.Problem).Stops)
		if s.Worth.Plain() {
			s.Lines = &lines
		}
		if fault != nil {
			return fault
		}
		if !ok && ctx.Err() == nil {
			return s.noLines(p)
		}
	case Fixed:
		s.Table, ok = s.bestOf(full, choices, func(q *search.Problem) (Table, bool) { return q.Fixed(q.Maximum) },
			func(_ *search.Problem, t Table) float64 { return float64(t.Stops()) })
	case RiskTrue:
		if p.Hopeless() {
			return s.infeasible(p)
		}
		if len(choices) == 1 {
			s.Table, ok = p.RiskTrue(s.startsWith(p, o))
		} else {
			s.Worth, s.Table, ok = full.BestWorth(choices)
		}
	case IwaoCurves:
		s.Table = s.iwaoTable(p)
	default:
		return fmt.Errorf("plans: unknown method %q", o.Method)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if !ok {
		return s.infeasible(p)
	}
	s.Table = s.Table.Trimmed()
	if err := s.Table.Check(); err != nil {
		return err
	}
	s.judge(o.weights())
	if o.Price && s.HoldUnder.Any() {
		plain, err := s.withoutHold(ctx, o)
		if err != nil {
			return err
		}
		if plain != nil {
			s.Unheld = plain.Weighted
		}
	}
	if o.Bound {
		s.NoPlanBelow = full.LowerBound()
	}
	return nil
}

// A Failure is the error of work that was asked for properly and cannot be done.
type Failure struct{ Message string }

func (e *Failure) Error() string { return e.Message }
