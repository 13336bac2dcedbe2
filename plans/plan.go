package plans

import (
	"math"
	"slices"
	"strings"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Plan is a protocol with a decision table for each of its stages.
type Plan struct {
	Program  string // version of the program that made it
	Protocol Protocol
	Stages   []*StagePlan
	// Season is what the plan does over the season; nil where the protocol promises
	// nothing for it.
	Season *SeasonResult
}

// A StagePlan is the plan of one growth stage.
type StagePlan struct {
	Stage
	Method Method
	Table  Table
	// ByLast are the plans of a visit by what earlier visits found in the field, where
	// these have tables of their own: the first is that of fields in which nothing was
	// ever found, and what stands here is said of it. Nil where one table serves all.
	ByLast []*StagePlan
	// Last says, of a plan in ByLast, for which fields it is.
	Last Last
	// Worth is what a stop counts in the totals of Table; its zero value is what was
	// found there.
	Worth rule.Worth
	Lines *LinePair // where the table was made from lines
	// Risks are the exact risks over the clumping range, from the least to the
	// most clumped.
	Risks []Risk
	// Held are the worst exact risks in the worlds beside these in which the promise
	// must hold; see [HoldUnder].
	Held []HeldRisk
	// Effort is what a visit takes at the lower bound, the threshold and the
	// upper bound, at both ends of the clumping range.
	Effort []Effort
	// Weighted is what the design made least: the expected stops in the most
	// clumped worlds, averaged over the two bounds and the threshold.
	Weighted float64
	// Weights are those of the lower bound, the threshold and the upper bound in
	// Weighted; their sum is 1.
	Weights [3]float64
	// NoPlanBelow is a number of weighted expected stops that no plan keeping the
	// risks can beat; 0 where it was not computed.
	NoPlanBelow float64
	// BreaksAt is, for a plan that keeps its promise for leaves that are independent
	// (see [StagePlan.Independent]), the smallest correlation of counts that breaks
	// it; nil for other plans, and where none does.
	BreaksAt *float64
	// Unheld is what Weighted would be if the promise had to hold in the plain worlds
	// only; 0 where it was not computed.
	Unheld float64
	// Rivals are what could be had in place of a table of one's own.
	Rivals []Rival

	// Later are the stages that follow in the protocol, whose thresholds count for
	// the next visit.
	Later []Stage
	// Costs are the protocol's; nil where it has none.
	Costs *Costs
	// Route is how the protocol has fields walked; nil where it does not say.
	Route *protocol.Route
	About About // the protocol
}

// stagePlan returns the plan, still without a table, of a protocol's stage.
func stagePlan(p Protocol, i int) *StagePlan {
	return &StagePlan{Stage: p.Stages[i], Later: p.Stages[i+1:], Costs: p.Costs, Route: p.Route, About: p.About()}
}

// Risk is what a plan risks at one value of the clumping range, with its whole rule:
// count and further sign. Where a chance of the sign is not known, Needless is
// that of the count, which the sign can only lower, and Missed is not known.
type Risk struct {
	Clump    ClumpValue `json:"clump"`
	Needless float64    `json:"needless"` // P(act) at the lower bound, at most
	Missed   float64    `json:"missed"`   // P(leave) at the upper bound; NaN where it is not known
}

// Effort is what a visit takes in one field situation.
type Effort struct {
	At       string     `json:"at"` // "lower", "threshold" or "upper"
	Level    float64    `json:"level"`
	Clump    ClumpValue `json:"clump"`
	Act      float64    `json:"p_act"` // of the whole rule; NaN where it is not known
	Stops    float64    `json:"expected_stops"`
	Plants   float64    `json:"expected_plants"`
	Minutes  float64    `json:"expected_minutes"`
	Within90 int        `json:"stops_90_percent"` // nine visits in ten need no more stops
}

// bounded reports whether a unit counts for at most one.
func (s *StagePlan) bounded() bool { return s.Measure.Bounded() }

// Plants returns the plants examined at each stop.
func (s *StagePlan) Plants() int { return s.Table.Units / s.UnitsPerPlant() }

// judge computes the plan's exact risks and effort.
func (s *StagePlan) judge(weights [3]float64) {
	s.Risks, s.Effort = nil, nil
	lower, upper := s.Worlds(s.Lower), s.Worlds(s.Upper)
	for i := range lower {
		s.Risks = append(s.Risks, Risk{
			Clump:    lower[i].Value(),
			Needless: s.NeedlessIn(lower[i].Population()),
			Missed:   s.MissedIn(upper[i].Population()),
		})
	}
	for _, at := range []struct {
		name  string
		level float64
	}{{"lower", s.Lower}, {"threshold", s.Threshold}, {"upper", s.Upper}} {
		ws := s.Worlds(at.level)
		ends := ws[len(ws)-1:]
		if len(ws) > 1 {
			ends = []World{ws[0], ws[len(ws)-1]}
		}
		for _, w := range ends {
			s.Effort = append(s.Effort, s.effort(at.name, w, s.Count(w.Population())))
		}
	}
	s.Weights = weights
	s.Held = s.heldRisks()
	s.Weighted = s.problem(weights).Counting(s.Worth).Stops(s.Table)
}

// effort returns what a visit takes in a world, of which e is what the count does.
func (s *StagePlan) effort(at string, w World, e Evaluation) Effort {
	plants := e.ExpectedUnits / float64(s.UnitsPerPlant())
	return Effort{
		At: at, Level: w.Level, Clump: w.Value(), Act: e.WithSign(s.SignMet(w.Level)).Act,
		Stops: e.ExpectedStops, Plants: plants,
		Minutes:  s.Minutes(e.ExpectedStops, plants),
		Within90: e.StopsWithin(0.9),
	}
}

// WorstNeedless returns the largest chance of acting at the lower bound over the
// clumping range, and where it occurs.
func (s *StagePlan) WorstNeedless() Risk {
	worst := s.Risks[0]
	for _, r := range s.Risks {
		if r.Needless > worst.Needless {
			worst = r
		}
	}
	return worst
}

// WorstMissed returns the largest chance of leaving at the upper bound over the
// clumping range, and where it occurs; NaN where it is not known.
func (s *StagePlan) WorstMissed() Risk {
	worst := s.Risks[0]
	for _, r := range s.Risks {
		if r.Missed > worst.Missed || math.IsNaN(r.Missed) {
			worst = r
		}
	}
	return worst
}

// Slack is what rounding may add to a chance that is kept exactly.
const Slack = 1e-12

const riskSlack = Slack

// Keeps reports whether the whole rule is known to keep both promised risks over
// the whole clumping range, and in every world besides in which they must hold.
func (s *StagePlan) Keeps() bool {
	return s.WorstNeedless().Needless <= s.NeedlessRisk+riskSlack &&
		s.WorstMissed().Missed <= s.MissedRisk+riskSlack &&
		!slices.ContainsFunc(s.Held, func(r HeldRisk) bool { return !r.Keeps(s.Stage) })
}

// Breaks reports whether the whole rule is known to break a promised risk. A plan
// with a sign whose chance is not known may neither keep nor break.
func (s *StagePlan) Breaks() bool {
	breaks := func(needless, missed float64) bool { return s.NeedlessBroken(needless) || s.MissedBroken(missed) }
	return breaks(s.WorstNeedless().Needless, s.WorstMissed().Missed) ||
		slices.ContainsFunc(s.Held, func(r HeldRisk) bool { return breaks(r.Needless, r.Missed) })
}

// NeedlessBroken reports whether a chance of acting at the lower bound is known to
// be more than the stage allows: not where it is that of the count alone.
func (s *StagePlan) NeedlessBroken(chance float64) bool {
	return s.NeedlessKnown() && chance > s.NeedlessRisk+riskSlack
}

// MissedBroken does so of a chance of leaving at the upper bound, NaN where it is
// not known.
func (s *StagePlan) MissedBroken(chance float64) bool { return chance > s.MissedRisk+riskSlack }

// A CurvePoint is a point of a plan's exact curves.
type CurvePoint struct {
	Level   float64
	Clump   ClumpValue
	Act     float64 // P(act): the chance that the whole rule acts; NaN where it is not known
	Leave   float64 // P(leave): the operating characteristic; likewise
	Stops   float64
	Plants  float64
	Minutes float64
}

// Curve returns the exact curves at the given levels, each in the world that at
// gives for it: at [Stage.Clumped] as clumped as the plan takes fields of that
// level to be, at [StagePlan.As] as a number says.
func (s *StagePlan) Curve(levels []float64, at func(level float64) World) []CurvePoint {
	points := make([]CurvePoint, len(levels))
	exact := rule.NewEvaluator(s.Table)
	var share sampling.Infested
	for i, level := range levels {
		w := at(level)
		count := exact.In(s.Worth.Of(w.PopulationIn(&share)))
		v := count.WithSign(s.SignMet(level))
		e := s.effort("", w, count)
		points[i] = CurvePoint{level, w.Value(), v.Act, v.Leave, e.Stops, e.Plants, e.Minutes}
	}
	return points
}

// With returns the field situations with one k and one correlation of the counts at
// all levels, in place of the clumped end of the stage's own (nil).
func (s *StagePlan) With(k, countRho *float64) func(level float64) World {
	return s.Law().With(k, countRho).Clumped
}

// As returns the field situations with one clumping (rho, or k) at all levels.
func (s *StagePlan) As(clump float64) func(level float64) World {
	return func(level float64) World { return s.World(level, clump) }
}

// Stage returns the plan of the named stage; the name may be left empty where
// there is only one. The error lists the known stages.
func (p *Plan) Stage(name string) (*StagePlan, error) {
	if name == "" && len(p.Stages) == 1 {
		return p.Stages[0], nil
	}
	var known []string
	for _, s := range p.Stages {
		if strings.EqualFold(s.Name, strings.TrimSpace(name)) {
			return s, nil
		}
		known = append(known, s.Name)
	}
	list := strings.Join(known, ", ")
	if name == "" {
		return nil, sampling.Refusef("the plan has %d stages; say which: %s", len(p.Stages), list)
	}
	if len(p.Stages) == 1 && known[0] == "" {
		return nil, sampling.Refusef("the plan has one unnamed stage; leave the stage name out")
	}
	return nil, sampling.RefuseName(name, known, "no stage %q in the plan; it has: %s", name, list)
}

// Textbook returns Wald's approximations for the stage's lines at the lower
// bound, at the slope and at the upper bound; nil where it was not made from
// lines.
func (s *StagePlan) Textbook() []WaldPoint {
	if s.Lines == nil {
		return nil
	}
	return s.Lines.WaldPoints(s.Lower, s.Upper, s.NeedlessRisk, s.MissedRisk, func(level float64) sampling.Population {
		w := s.Clumped(level)
		if s.bounded() {
			w.Clump = 0 // the textbook takes plants as independent
		}
		return w.Population()
	})
}
