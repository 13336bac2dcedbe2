package validate

import (
	"fmt"
	"math"
	"slices"

	"stopwise/plans"
	"stopwise/sampling"
)

// A Sampled is a field and what one visit to it saw.
type Sampled struct {
	Level   float64 // the field's true share or mean
	Seen    float64 // the share or mean that the visit shows, see [SampleFields]
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
// plan's own range. What a visit shows is the share or mean among what was examined.
// Where looking ends at a cap, that is not known: then it is the estimate of
// [plans.StagePlan.Known], and where that has no upper end, as after stops full of
// insects, the lower end of its 95% interval. The same seed gives the same visits. It errs without a
// level.
func SampleFields(s *plans.StagePlan, levels []float64, seed uint64) ([]Sampled, error) {
	if len(levels) == 0 {
		return nil, fmt.Errorf("validate: no fields to visit; give levels")
	}
	r, c, shown := newRand(seed, sampleStream, 0), newCounter(s, nil), showing(s)
	units := s.Table.Units
	out := make([]Sampled, len(levels))
	for i, level := range levels {
		g := newGuide(almostAll(s.Clumped(level).Population().Stop(units)))
		found, total := 0, 0
		for stop := 1; stop <= s.Table.Stops(); stop++ {
			x := g.draw(r)
			found += x
			total += c.value(x, units)
			v := s.Table.Verdict(stop, total)
			if v == plans.Continue {
				continue
			}
			seen, err := shown(stop, found, total)
			if err != nil {
				return nil, err
			}
			out[i] = Sampled{level, seen, stop, v, ZoneOf(s, level)}
			break
		}
	}
	return out, nil
}

// almostAll returns the chances of a stop's total; for one without a largest value, up
// to one that next to no stop exceeds, which stands for all above.
func almostAll(stop sampling.StopTotal) []float64 {
	if top := stop.Max(); top != sampling.Unbounded {
		return stop.Probs(top)
	}
	const beyond, most = 1e-9, 1 << 24
	n := 64
	for n < most && stop.Tails(n)[n] > beyond {
		n *= 2
	}
	p := stop.Probs(n)
	p[n] = stop.Tails(n)[n]
	return p
}

// showing returns what a visit shows of the level that ended after a stop with so much
// found, and so much counted.
func showing(s *plans.StagePlan) func(stop, found, total int) (float64, error) {
	if s.Worth.Cap == 0 {
		return func(stop, found, _ int) (float64, error) {
			return float64(found) / float64(stop*s.Table.Units), nil
		}
	}
	told := map[[2]int]float64{}
	return func(stop, _, total int) (float64, error) {
		end := [2]int{stop, total}
		if x, ok := told[end]; ok {
			return x, nil
		}
		k, err := s.Known(plans.Answer{ToldPlants: slices.Repeat([]int{s.Plants()}, stop), ToldTotal: total}, oneOfMany, s.Sure())
		if math.IsInf(k.Estimate, 1) {
			k.Estimate = k.Interval.Lower
		}
		told[end] = k.Estimate
		return k.Estimate, err
	}
}

// oneOfMany is the confidence of an interval that hardly anybody looks at.
const oneOfMany = 0.95
