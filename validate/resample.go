package validate

import (
	"context"
	"math/rand/v2"

	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/pilot"
)

// A Zone says where a field's own level lies.
type Zone int

// The zones.
const (
	Low     Zone = iota // at or below the lower bound: a treatment is needless
	Between             // between the bounds: neither verdict is grave
	High                // at or above the upper bound: a missed treatment is harmful
)

// String returns "low", "between" or "high".
func (z Zone) String() string { return [...]string{"low", "between", "high"}[z] }

// ZoneOf returns the zone of a level.
func ZoneOf(s *plans.StagePlan, level float64) Zone {
	switch {
	case level <= s.Lower:
		return Low
	case level >= s.Upper:
		return High
	}
	return Between
}

// A FieldResult is what a plan does in one field that was seen.
type FieldResult struct {
	Name   string
	Stops  int     // in the data
	Plants int     // in the data
	Level  float64 // the field's own share infested, or mean per leaf, over all its stops
	Zone   Zone
	Visits Visits
	// Wrong is the share of visits that act at or below the lower bound, or leave at
	// or above the upper one. Between the bounds either verdict may come: it says
	// nothing there.
	Wrong Chance
}

// A Pool sums up the fields of one zone, each counting the same.
type Pool struct {
	Zone    Zone
	Fields  int
	Wrong   Chance // as of FieldResult; meaningless without fields
	Act     Chance // meaningless without fields
	Stops   Mean
	Minutes Mean
}

// Pools returns the results by zone.
func Pools(fields []FieldResult) [3]Pool {
	var pools [3]Pool
	var all [3]Visits
	for z := range pools {
		pools[z].Zone = Zone(z)
	}
	for _, f := range fields {
		pools[f.Zone].Fields++
		all[f.Zone].join(f.Visits)
	}
	for z := range pools {
		if pools[z].Fields > 0 {
			pools[z].Act = all[z].ActChance()
			switch Zone(z) {
			case Low:
				pools[z].Wrong = all[z].ActAtMost()
			case High:
				pools[z].Wrong = all[z].LeaveChance()
			}
			pools[z].Stops = all[z].MeanStops()
			pools[z].Minutes = all[z].MeanMinutes()
		}
	}
	return pools
}

// Resample walks the plan through fields that were seen: at each stop of a visit
// it draws one of the field's own stops, with replacement, and compares the
// verdict with the field's own level over all its stops (the method of Naranjo,
// S.E. & Hutchison, W.D. 1997, Validation of arthropod sampling plans using a
// resampling approach: software and analysis. Am. Entomol. 43: 48-57).
//
// Of a stop with more plants than the plan examines, so many are drawn without
// replacement; a stop with fewer is taken whole, and the table is read at the
// plants really seen. The fields must not be those that the plan's constants
// were fitted to; see [Split].
func Resample(ctx context.Context, s *plans.StagePlan, fields []pilot.Field, o Options) ([]FieldResult, error) {
	var results []FieldResult
	for i, f := range fields {
		stops, level, err := stopsOf(s, f)
		if err != nil {
			return nil, err
		}
		v, err := resampleField(ctx, s, level, stops, o, resampleStream+uint64(i))
		if err != nil {
			return nil, err
		}
		r := FieldResult{Name: f.Label(), Stops: len(f.Stops), Plants: f.Plants(), Level: level, Zone: ZoneOf(s, level), Visits: v}
		switch r.Zone {
		case Low:
			r.Wrong = v.ActAtMost()
		case High:
			r.Wrong = v.LeaveChance()
		}
		results = append(results, r)
	}
	return results, nil
}

func resampleField(ctx context.Context, s *plans.StagePlan, level float64, stops []seenStop, o Options, stream uint64) (Visits, error) {
	rule := newCounter(s, s.Clumped(level).Population())
	look, parts := newLook(s, level), make([]Visits, blockCount(o))
	err := inBlocks(ctx, o, stream, func(b, n int, r *rand.Rand) {
		for range n {
			var w tally
			for {
				total, plants, units := stops[r.IntN(len(stops))].draw(r, s.Plants())
				if act, done := w.stop(rule, total, plants, units, r); done {
					parts[b].add(act && look.allows(w.stops, r), w.stops, w.plants, s.Minutes(float64(w.stops), float64(w.plants)))
					break
				}
			}
		}
	})
	return look.told(joined(parts)), err
}

// A seenStop is a stop of a field that a visit can draw.
type seenStop interface {
	// draw returns what a scout sees of at most so many plants there.
	draw(r *rand.Rand, most int) (total, plants, units int)
}

// stopsOf returns a field's stops in the plan's measure, and the field's level.
func stopsOf(s *plans.StagePlan, f pilot.Field) ([]seenStop, float64, error) {
	if len(f.Stops) == 0 {
		return nil, 0, sampling.Refusef("field %q has no stops", f.Label())
	}
	var stops []seenStop
	if s.Measure == plans.ShareInfested {
		for _, x := range f.Stops {
			stops = append(stops, seenPlants{x.Plants, x.Infested})
		}
		return stops, f.Share(), nil
	}
	insects, leaves := 0, 0
	for _, x := range f.Stops {
		if len(x.PlantCounts) == 0 {
			return nil, 0, sampling.Refusef("field %q has no counts per leaf, which a plan for a mean per leaf needs", f.Label())
		}
		stops = append(stops, seenCounts(x.PlantCounts))
		for _, p := range x.PlantCounts {
			insects += p.Insects
			leaves += p.Leaves
		}
	}
	return stops, float64(insects) / float64(leaves), nil
}

// seenPlants is a stop whose plants were taken as infested or not.
type seenPlants struct{ plants, infested int }

func (x seenPlants) draw(r *rand.Rand, most int) (total, plants, units int) {
	if x.plants <= most {
		return x.infested, x.plants, x.plants
	}
	return urn(r, most, float64(x.infested), float64(x.plants-x.infested), -1), most, most
}

// urn returns how many marked balls n draws from an urn bring, when each ball
// drawn is put back with back more of its kind: -1 is drawing without
// replacement (hypergeometric), 0 the binomial, and shares a and b of balls with
// back = rho/(1-rho) the beta-binomial (the urn of Eggenberger and Pólya:
// Johnson, N.L. & Kotz, S. 1977, Urn Models and Their Application, Wiley).
func urn(r *rand.Rand, n int, marked, others, back float64) int {
	got, all := 0, marked+others
	for range n {
		if r.Float64()*all < marked {
			got++
			marked += back
		}
		all += back
	}
	return got
}

// seenCounts is a stop whose insects were counted, plant by plant.
type seenCounts []pilot.PlantCount

func (x seenCounts) draw(r *rand.Rand, most int) (total, plants, units int) {
	left := most
	for i, p := range x {
		// The next plant is taken with the chance that keeps all choices alike.
		if rest := len(x) - i; left < rest && r.Float64()*float64(rest) >= float64(left) {
			continue
		}
		left--
		total += p.Insects
		plants++
		units += p.Leaves
		if left == 0 {
			break
		}
	}
	return total, plants, units
}
