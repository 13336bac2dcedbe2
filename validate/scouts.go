package validate

import (
	"context"
	"math"
	"math/rand/v2"

	"stopwise/plans"
	"stopwise/sampling"
)

// A FixedVisit always walks the same number of stops, and acts when the share
// infested that was seen reaches the threshold.
type FixedVisit struct {
	Stops     int     // at least 1
	Plants    int     // at each stop, at least 1
	Threshold float64 // above 0 and at most 1
}

// mostPlants is the largest visit that is studied: exact chances of all its totals
// take well under a second.
const mostPlants = 20_000

// Check returns an error if a value is out of its range.
func (v FixedVisit) Check() error {
	if v.Stops < 1 || v.Plants < 1 || v.Stops > mostPlants/v.Plants {
		return sampling.Refusef("%d stops of %d plants, must be from 1 to %d plants in all", v.Stops, v.Plants, mostPlants)
	}
	if !(v.Threshold > 0 && v.Threshold <= 1) {
		return sampling.Refuse("threshold", v.Threshold, "above 0 and at most 1")
	}
	return nil
}

// Total returns the plants of a visit.
func (v FixedVisit) Total() int { return v.Stops * v.Plants }

// Act returns the smallest total of infested plants at which the visit ends with
// act.
func (v FixedVisit) Act() int {
	t := plans.SingleCut(v.Plants, v.Stops, v.Threshold)
	return t.Act[v.Stops-1]
}

// Scouts is what many scouts find who visit one and the same field.
type Scouts struct {
	Visit   FixedVisit
	Field   sampling.Infested
	N       int       // scouts
	Seen    []int     // scouts that found 0, 1, ... infested plants
	Chances []float64 // exact chance of 0, 1, ... infested plants
}

// ManyScouts sends o.Visits scouts through the same field, one after the other:
// each picks stops of its own. It holds what they find, and the exact chances of
// what they can find.
func ManyScouts(ctx context.Context, v FixedVisit, f sampling.Infested, o Options) (Scouts, error) {
	if err := v.Check(); err != nil {
		return Scouts{}, err
	}
	if _, err := sampling.NewInfested(f.P, f.Rho); err != nil {
		return Scouts{}, err
	}
	one := f.Stop(v.Plants)
	g := newGuide(one.Probs(v.Plants))
	parts := make([][]int, blockCount(o))
	err := inBlocks(ctx, o, scoutStream, func(b, n int, r *rand.Rand) {
		seen := make([]int, v.Total()+1)
		for range n {
			total := 0
			for range v.Stops {
				total += g.draw(r)
			}
			seen[total]++
		}
		parts[b] = seen
	})
	if err != nil {
		return Scouts{}, err
	}
	s := Scouts{Visit: v, Field: f, N: o.Visits, Seen: make([]int, v.Total()+1), Chances: sampling.Total(one, v.Stops)}
	for _, part := range parts {
		for x, n := range part {
			s.Seen[x] += n
		}
	}
	return s, nil
}

// ShouldAct reports whether the field's true share reaches the threshold.
func (s Scouts) ShouldAct() bool { return s.Field.P >= s.Visit.Threshold }

// wrong reports whether a total brings the wrong verdict.
func (s Scouts) wrong(total int) bool { return (total >= s.Visit.Act()) != s.ShouldAct() }

// Wrong returns the share of scouts with the wrong verdict.
func (s Scouts) Wrong() Chance {
	n := 0
	for x, c := range s.Seen {
		if s.wrong(x) {
			n += c
		}
	}
	return Chance{Value: float64(n) / float64(s.N), Visits: s.N}
}

// WrongChance returns the exact chance of the wrong verdict.
func (s Scouts) WrongChance() float64 {
	sum := 0.0
	for x, p := range s.Chances {
		if s.wrong(x) {
			sum += p
		}
	}
	return sum
}

// Estimate returns the scouts' mean estimate of the share infested. The exact
// value is the true share.
func (s Scouts) Estimate() Mean {
	m, v, _ := s.moments()
	return Mean{m, math.Sqrt(v / float64(s.N))}
}

// Spread returns the standard deviation of the scouts' estimates. Its standard
// error is sqrt((m4 - m2^2)/N) / (2 sqrt(m2)), of the second and fourth central
// moments (Kendall, M. & Stuart, A. 1977, The Advanced Theory of Statistics,
// vol. 1, 10.6).
func (s Scouts) Spread() Mean {
	_, m2, m4 := s.moments()
	if m2 == 0 {
		return Mean{}
	}
	return Mean{math.Sqrt(m2), math.Sqrt(math.Max(0, m4-m2*m2)/float64(s.N)) / (2 * math.Sqrt(m2))}
}

// StandardError returns the exact standard deviation of an estimate,
// sqrt(p(1-p) deff/n).
func (s Scouts) StandardError() float64 {
	one := s.Field.Stop(s.Visit.Plants)
	return math.Sqrt(float64(s.Visit.Stops)*one.Variance()) / float64(s.Visit.Total())
}

// moments returns the mean and the second and fourth central moments of the
// estimates.
func (s Scouts) moments() (mean, m2, m4 float64) {
	n, plants := float64(s.N), float64(s.Visit.Total())
	for x, c := range s.Seen {
		mean += float64(c) * float64(x) / plants
	}
	mean /= n
	for x, c := range s.Seen {
		d := float64(x)/plants - mean
		m2 += float64(c) * d * d
		m4 += float64(c) * d * d * d * d
	}
	return mean, m2 / n, m4 / n
}

// Quantile returns the smallest estimate that an exact share q of scouts do not
// exceed.
func (s Scouts) Quantile(q float64) float64 {
	sum := 0.0
	for x, p := range s.Chances {
		if sum += p; sum >= q-plans.Slack {
			return float64(x) / float64(s.Visit.Total())
		}
	}
	return 1
}
