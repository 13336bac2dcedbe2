package validate

import (
	"fmt"

	"stopwise/plans"
)

// A Sampled is a field and what one visit to it saw.
type Sampled struct {
	Level   float64 // the field's true share or mean
	Seen    float64 // the share or mean among what was examined
	Stops   int
	Verdict plans.Verdict
	Zone    Zone // where the true level lies
}

// Wrong reports whether the verdict is wrong: act at or below the lower bound, leave at
// or above the upper one. Between them either may come.
func (s Sampled) Wrong() bool {
	return s.Zone == Low && s.Verdict == plans.Act || s.Zone == High && s.Verdict == plans.Leave
}

// SampleFields visits fields once each, by the count alone, at the clumped end of a
// plan's own range. The same seed gives the same visits. It errs without a level.
func SampleFields(s *plans.StagePlan, levels []float64, seed uint64) ([]Sampled, error) {
	if len(levels) == 0 {
		return nil, fmt.Errorf("validate: no fields to visit; give levels")
	}
	r := newRand(seed, sampleStream, 0)
	units := s.Units(s.Plants())
	worth := func(found int) int { return found }
	if !s.Worth.Plain() {
		values := s.Worth.Values(units)
		worth = func(found int) int { return values(found, units) }
	}
	out := make([]Sampled, len(levels))
	for i, level := range levels {
		stop := s.Clumped(level).Population().Stop(units)
		chances := uncut(s, stop)
		if s.Worth.Plain() {
			chances = stop.Probs(largestTotal(s))
		}
		g := newGuide(chances)
		found, total := 0, 0
		for stop := 1; stop <= s.Table.Stops(); stop++ {
			x := g.draw(r)
			found += x
			total += worth(x)
			if v := s.Table.Verdict(stop, total); v != plans.Continue {
				out[i] = Sampled{level, float64(found) / float64(stop*units), stop, v, ZoneOf(s, level)}
				break
			}
		}
	}
	return out, nil
}

// largestTotal is the most that a stop is drawn to hold: all its units, or for counts
// what brings act at once.
func largestTotal(s *plans.StagePlan) int {
	if s.Measure.Bounded() {
		return s.Units(s.Plants())
	}
	return largestAct(s.Table)
}
