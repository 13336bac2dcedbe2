package validate

import (
	"context"
	"math"
	"math/rand/v2"

	"stopwise/plans"
	"stopwise/sampling"
)

// WalkOptions says how made fields are walked.
type WalkOptions struct {
	Options
	Patterns []Pattern // all where empty
	Routes   []Route   // all where empty
	Ground   Ground    // DefaultGround where zero
	Rho      float64   // correlation of two plants, or of the counts of two units, at a stop anywhere in the field
	K        float64   // for a mean per unit, the k of one unit in all fields; 0 for the clumped end of the plan's own
	Speed    float64   // metres walked in a minute
}

// WalkSpeed is how many metres a scout walks in a minute through a standing crop.
// Common practice, no source.
const WalkSpeed = 60

// A WalkRow is what a plan does on one route through fields of one pattern.
type WalkRow struct {
	Pattern Pattern
	Route   Route
	At      [3]Visits // in fields at the lower bound, the threshold and the upper bound
}

// Needless returns the chance of acting at the lower bound.
func (r WalkRow) Needless() Chance { return r.At[0].ActAtMost() }

// Missed returns the chance of leaving at the upper bound.
func (r WalkRow) Missed() Chance { return r.At[2].LeaveChance() }

// Effort returns the expected stops and minutes at the lower bound, the threshold
// and the upper bound.
func (r WalkRow) Effort() (stops, minutes [3]Mean) {
	for i, v := range r.At {
		stops[i], minutes[i] = v.MeanStops(), v.MeanMinutes()
	}
	return stops, minutes
}

// Keeps reports whether the row's risks are within those that the stage allows.
func (r WalkRow) Keeps(s *plans.StagePlan) Standing {
	return max(r.Needless().Against(s.NeedlessRisk), r.Missed().Against(s.MissedRisk))
}

func (o *WalkOptions) fill(s *plans.StagePlan) error {
	if len(o.Patterns) == 0 {
		o.Patterns = Patterns
	}
	if len(o.Routes) == 0 {
		o.Routes = Routes
	}
	if o.Ground == (Ground{}) {
		o.Ground = DefaultGround
	}
	if err := sampling.CheckRho(o.Rho); err != nil {
		return err
	}
	if !(o.K >= 0) {
		return sampling.Refusef("k %g, must be above 0", o.K)
	}
	if !(o.Speed > 0) || math.IsInf(o.Speed, 1) {
		return sampling.Refusef("speed %g metres a minute, must be above 0", o.Speed)
	}
	return o.Ground.Check()
}

// field gives a shape a level and the clumping asked for.
func (o WalkOptions) field(s *plans.StagePlan, sh shape, level float64) Field {
	if s.Measure == plans.ShareInfested {
		return sh.field(o.Ground, level, o.Rho)
	}
	k := o.K
	if k == 0 {
		k = s.Law().K(level).Low
	}
	return sh.counts(o.Ground, level, k, math.Min(o.Rho, sampling.MaxCountRho(level, k)))
}

// spacing returns how far apart stops lie: what the protocol's walk to a stop
// covers at the walking speed.
func (o WalkOptions) spacing(s *plans.StagePlan) Spacing {
	return Spacing{o.Speed * s.Stop.WalkMinutes, s.Table.First(), s.Table.Stops(), EndsOf(s)}
}

// EndsOf returns the chance that a visit ends with each stop of a plan, on average
// over fields at the lower bound, the threshold and the upper bound.
func EndsOf(stages ...*plans.StagePlan) []float64 {
	var ends []float64
	for _, s := range stages {
		for _, level := range levels(s) {
			for j, o := range plans.Evaluate(s.Table, s.Clumped(level).Population()).Stops {
				if j == len(ends) {
					ends = append(ends, 0)
				}
				ends[j] += (o.Leave + o.Act) / float64(3*len(stages))
			}
		}
	}
	return ends
}

// Walks walks the plan along routes through made fields (see [Field]). Every
// visit has a field of its own; all routes go through the same fields, so that
// their differences are surer than the standard errors of the rows say. The rows
// come by pattern, then by route.
func Walks(ctx context.Context, s *plans.StagePlan, o WalkOptions) ([]WalkRow, error) {
	if err := o.fill(s); err != nil {
		return nil, err
	}
	laid := make([]lines, len(o.Routes))
	for i, route := range o.Routes {
		var err error
		if laid[i], err = routeLines(route, o.Ground, o.spacing(s), layouts, newRand(o.Seed, layoutStream, 0)); err != nil {
			return nil, err
		}
	}
	var rows []WalkRow
	for _, p := range o.Patterns {
		some, err := walkPattern(ctx, s, p, laid, o)
		if err != nil {
			return nil, err
		}
		rows = append(rows, some...)
	}
	return rows, nil
}

// layouts is how many balanced routes the visits of a simulation share; in a
// rectangle each is walked from all four corners.
const layouts = 24

func walkPattern(ctx context.Context, s *plans.StagePlan, p Pattern, laid []lines, o WalkOptions) ([]WalkRow, error) {
	var looks [3]look
	for i, level := range levels(s) {
		looks[i] = newLook(s, level)
	}
	spacing, rule := o.spacing(s), newCounter(s, nil)
	parts := make([][][3]Visits, blockCount(o.Options))
	stream := walkStream + number(Patterns, p)
	err := inBlocks(ctx, o.Options, stream, func(b, n int, r *rand.Rand) {
		seen := make([][3]Visits, len(o.Routes))
		// Fields and each route draw from numbers of their own, so that a row is the
		// same whichever others are asked for.
		own := make([]*rand.Rand, len(o.Routes))
		for j, route := range o.Routes {
			own[j] = newRand(o.Seed, stream+routeStream*(1+number(Routes, route)), b)
		}
		var w Walk
		for range n {
			shape := newShape(o.Ground, p, r)
			for i, level := range levels(s) {
				field := o.field(s, shape, level)
				look := looks[i]
				for j, l := range laid {
					w.begin(l, o.Ground, spacing, own[j])
					t, minutes, act := walkField(rule, field, &w, o.Speed, nil)
					seen[j][i].add(act && look.allows(t.stops, own[j]), t.stops, t.plants, minutes)
				}
			}
		}
		parts[b] = seen
	})
	if err != nil {
		return nil, err
	}
	rows := make([]WalkRow, len(o.Routes))
	for j := range rows {
		rows[j].Pattern, rows[j].Route = p, o.Routes[j]
		for _, part := range parts {
			for i := range rows[j].At {
				rows[j].At[i].join(part[j][i])
			}
		}
		for i, look := range looks {
			rows[j].At[i] = look.told(rows[j].At[i])
		}
	}
	return rows, nil
}

// number returns the place of a word in a list.
func number[T comparable](list []T, word T) uint64 {
	for i, x := range list {
		if x == word {
			return uint64(i)
		}
	}
	return uint64(len(list))
}

// walkField walks one visit. see, if set, is told of every stop.
func walkField(s counter, f Field, w *Walk, speed float64, see func(p Place, counted int)) (t tally, minutes float64, act bool) {
	plants, units := s.planned, s.Table.Units
	perPlant := s.Stop.PlantMinutes
	if f.counting != nil {
		s.within = f.counting.within
	}
	metres := 0.0
	for {
		p := w.Next()
		metres += p.Metres
		counted := f.Count(w.r, p.X, p.Y, units)
		if see != nil {
			see(p, counted)
		}
		if act, done := t.stop(s, counted, plants, units, w.r); done {
			return t, metres/speed + perPlant*float64(t.plants), act
		}
	}
}

// A Visit is one visit of a made field, for a picture.
type Visit struct {
	Field   Field
	Route   Route
	GateX   float64
	GateY   float64
	Path    []Place // corners of the route; none for Random
	Stops   []Place
	Counted []int         // at each stop: infested plants, or insects
	Plants  int           // at each stop
	Verdict plans.Verdict // of the count
	Minutes float64
}

// WalkOnce walks the plan once through a made field of a level, along the first of
// the options' patterns and routes. Only the seed of the simulation options is used.
func WalkOnce(s *plans.StagePlan, level float64, o WalkOptions) (Visit, error) {
	if err := o.fill(s); err != nil {
		return Visit{}, err
	}
	r := newRand(o.Seed, walkStream, 0)
	v := Visit{Field: o.field(s, newShape(o.Ground, o.Patterns[0], r), level), Route: o.Routes[0], Plants: s.Plants(), Verdict: plans.Leave}
	w, err := NewWalk(v.Route, o.Ground, o.spacing(s), r)
	if err != nil {
		return Visit{}, err
	}
	v.GateX, v.GateY = w.Gate()
	v.Path = w.Path()
	_, minutes, act := walkField(newCounter(s, nil), v.Field, w, o.Speed, func(p Place, counted int) {
		v.Stops = append(v.Stops, p)
		v.Counted = append(v.Counted, counted)
	})
	v.Minutes = minutes
	if act {
		v.Verdict = plans.Act
	}
	return v, nil
}
