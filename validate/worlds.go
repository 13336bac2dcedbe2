package validate

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"

	"stopwise/plans"
	"stopwise/sampling"
)

// A Row is what a plan does in one kind of world.
type Row struct {
	World string // the kind, one of the constants below
	// Numbers are the setting, by name in snake_case.
	Numbers []Number
	// Needless is the chance of acting at the lower bound, Missed that of leaving
	// at the upper bound, each in the worst world that the setting holds.
	Needless, Missed Chance
	// Stops and Minutes are what is expected at the lower bound, the threshold
	// and the upper bound, in the most clumped world that the setting holds.
	Stops, Minutes [3]Mean
}

// A Number is a named number.
type Number struct {
	Name  string
	Value float64
}

// The kinds of worlds.
const (
	OtherRho    = "rho"       // more or less clumped than the plan takes fields to be
	OtherK      = "k"         // likewise, for counts
	OtherAlike  = "count-rho" // the counts of a stop more or less alike
	Mixture     = "mixture"   // the clumping differs from field to field
	PatchesOnly = "patches"   // the same level and correlation, but nothing outside patches
	Misreading  = "misread"   // plants are taken for what they are not
	ShortStops  = "short"     // fewer plants at a stop than planned
)

// Keeps reports whether the row's risks are within those that the stage allows.
func (r Row) Keeps(s *plans.StagePlan) Standing {
	return max(r.Needless.Against(s.NeedlessRisk), r.Missed.Against(s.MissedRisk))
}

// levels returns the levels at which rows are computed.
func levels(s *plans.StagePlan) [3]float64 { return [3]float64{s.Lower, s.Threshold, s.Upper} }

// A family holds the fields of one level that a row is the worst case of, from
// the least to the most clumped.
type family func(level float64) []sampling.Population

// assumed is the family of the plan's own worlds, changed by f.
func assumed(s *plans.StagePlan, f func(plans.World) sampling.Population) family {
	return func(level float64) []sampling.Population {
		var all []sampling.Population
		for _, w := range s.Worlds(level) {
			all = append(all, f(w))
		}
		return all
	}
}

// risks returns the worst exact risks over a family.
func (f family) risks(s *plans.StagePlan) (needless, missed float64) {
	for _, pop := range f(s.Lower) {
		needless = math.Max(needless, s.NeedlessIn(pop))
	}
	for _, pop := range f(s.Upper) {
		missed = math.Max(missed, s.MissedIn(pop))
	}
	return needless, missed
}

// row fills a row with the exact worst risks over a family, and with what its
// most clumped fields take.
func (f family) row(s *plans.StagePlan, r Row) Row {
	needless, missed := f.risks(s)
	r.Needless, r.Missed = exactNeedless(s, needless), Exact(missed)
	for i, level := range levels(s) {
		all := f(level)
		r.effort(s, i, s.Count(all[len(all)-1]))
	}
	return r
}

// effort sets what is expected at level i.
func (r *Row) effort(s *plans.StagePlan, i int, e plans.Evaluation) {
	plants := e.ExpectedUnits / float64(s.Units(1))
	r.Stops[i] = Mean{Value: e.ExpectedStops}
	r.Minutes[i] = Mean{Value: s.Minutes(e.ExpectedStops, plants)}
}

// lawFamily is that of all the worlds of a law.
func lawFamily(law plans.Law) family {
	return func(level float64) []sampling.Population {
		var all []sampling.Population
		for _, w := range law.Worlds(level) {
			all = append(all, w.Population())
		}
		return all
	}
}

// A degree is a number of clumping that worlds are tried with.
type degree struct {
	world, name string // as of [Row]
	law         func(s *plans.StagePlan, x float64) plans.Law
}

// The degrees: rho for shares infested; for counts k, and how alike those of one
// stop are. What is not changed is all that the plan was made for.
var (
	degreeRho = degree{OtherRho, "rho", func(s *plans.StagePlan, x float64) plans.Law { return s.Law().With(&x, nil) }}
	degreeK   = degree{OtherK, "k", func(s *plans.StagePlan, x float64) plans.Law { return s.Law().With(&x, nil) }}
	// Where few insects make a correlation impossible, it is the largest there can be.
	degreeAlike = degree{OtherAlike, countRho, func(s *plans.StagePlan, x float64) plans.Law { return s.Law().With(nil, &x) }}
)

// countRho is the name of the correlation of the counts of a stop among numbers.
const countRho = "count_rho"

// ownDegree is the first degree of a plan: rho or k.
func ownDegree(s *plans.StagePlan) degree {
	if s.Measure == plans.MeanPerLeaf {
		return degreeK
	}
	return degreeRho
}

func (d degree) family(s *plans.StagePlan, x float64) family { return lawFamily(d.law(s, x)) }

// at returns the worst of what the plan does in worlds with exactly one value.
func (d degree) at(s *plans.StagePlan, x float64) Row {
	return d.family(s, x).row(s, Row{World: d.world, Numbers: []Number{{d.name, x}}})
}

// mixturePoints is the number of Gauss-Legendre points over a mixture: plenty,
// because the risks are smooth in the clumping.
const mixturePoints = 16

// mixed returns what the plan does on average over fields whose clumping lies evenly
// between two values. Its risks are those of a field drawn at random; single fields can
// have more.
func (d degree) mixed(s *plans.StagePlan, between plans.Range) Row {
	r := Row{World: Mixture,
		Numbers: []Number{{d.name + "_low", between.Low}, {d.name + "_high", between.High}}}
	needless, missed := d.mixedRisks(s, between)
	r.Needless, r.Missed = exactNeedless(s, needless), Exact(missed)
	xs, shares := points(between)
	for i, x := range xs {
		one := d.at(s, x)
		for j := range one.Stops {
			r.Stops[j].Value += shares[i] * one.Stops[j].Value
			r.Minutes[j].Value += shares[i] * one.Minutes[j].Value
		}
	}
	return r
}

// mixedRisks averages the risks over a mixture of one number, and takes the worst
// over all others of the plan's clumping.
func (d degree) mixedRisks(s *plans.StagePlan, between plans.Range) (needless, missed float64) {
	xs, shares := points(between)
	var low, high []float64 // by the other numbers
	for i, x := range xs {
		f := d.family(s, x)
		for j, pop := range f(s.Lower) {
			low = atLeast(low, j)
			low[j] += shares[i] * s.NeedlessIn(pop)
		}
		for j, pop := range f(s.Upper) {
			high = atLeast(high, j)
			high[j] += shares[i] * s.MissedIn(pop)
		}
	}
	return slices.Max(low), slices.Max(high)
}

func atLeast(sums []float64, j int) []float64 {
	if j == len(sums) {
		return append(sums, 0)
	}
	return sums
}

// points returns where an even mixture is computed, and with what weights.
func points(between plans.Range) (x, share []float64) {
	if between.Single() {
		return []float64{between.Low}, []float64{1}
	}
	x, share = make([]float64, mixturePoints), make([]float64, mixturePoints)
	quad.Legendre{}.FixedLocations(x, share, between.Low, between.High)
	floats.Scale(1/(between.High-between.Low), share)
	return x, share
}

// patches is the degree by which plans are tried in patches: how alike the units of
// a stop are.
func patches(s *plans.StagePlan) degree {
	if s.Measure == plans.MeanPerLeaf {
		return degreeAlike
	}
	return degreeRho
}

// InPatches returns the worst of what the plan does where the pest sits in patches
// only, with one value of rho (see [sampling.Patches]), or of the correlation of
// counts (see [sampling.PatchyCounts]).
func InPatches(s *plans.StagePlan, rho float64) Row {
	d := patches(s)
	return patchFamily(s, rho).row(s, Row{World: PatchesOnly, Numbers: []Number{{d.name, rho}}})
}

func patchFamily(s *plans.StagePlan, rho float64) family {
	law := patches(s).law(s, rho)
	return func(level float64) []sampling.Population {
		var all []sampling.Population
		for _, w := range law.Worlds(level) {
			all = append(all, w.Patchy())
		}
		return all
	}
}

// Misreads returns the worst of what the plan does over its own clumping range
// when plants are misread (see [Misread]); for counts, when insects are
// overlooked.
func Misreads(s *plans.StagePlan, slip Slip) Row {
	r := Row{World: Misreading, Numbers: []Number{{"overlooked", slip.Overlooked}}}
	if s.Measure == plans.ShareInfested {
		r.Numbers = append(r.Numbers, Number{"false_alarm", slip.FalseAlarm})
	}
	return slip.family(s).row(s, r)
}

// A Slip is a pair of misreading rates, as of [Misread].
type Slip struct{ Overlooked, FalseAlarm float64 }

func (x Slip) family(s *plans.StagePlan) family {
	return assumed(s, func(w plans.World) sampling.Population {
		return w.Misread(x.Overlooked, x.FalseAlarm)
	})
}

// Short returns what the plan does in its most clumped world when the plants seen
// at a stop are any number, each as likely, from a share least of those planned
// up to all of them. It is simulated. The table is read at the plants really
// seen, as [plans.Table.At] does.
func Short(ctx context.Context, s *plans.StagePlan, least float64, o Options) (Row, error) {
	r := Row{World: ShortStops, Numbers: []Number{{"least", least}}}
	low := max(1, int(math.Ceil(least*float64(s.Plants())-1e-9)))
	for i, level := range levels(s) {
		v, err := walkShort(ctx, s, s.Clumped(level), low, o, shortStream+uint64(i))
		if err != nil {
			return r, err
		}
		switch i {
		case 0:
			r.Needless = v.ActAtMost()
		case 2:
			r.Missed = v.LeaveChance()
		}
		r.Stops[i], r.Minutes[i] = v.MeanStops(), v.MeanMinutes()
	}
	return r, nil
}
