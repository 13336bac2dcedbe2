package fit

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"stopwise/sampling"
)

// A StopTotal is what was seen at a stop: infested plants of so many, or insects
// on so many leaves.
type StopTotal struct{ Units, Total int }

// A Visit is one visit of a field, ended early or not.
type Visit struct {
	Field int // its number
	// Course numbers the visits of one field between which nothing was done to the
	// pest: they share one course of its level.
	Course int
	Day    float64 // in days from any day
	Stops  []StopTotal
}

// found reports whether the visit saw the pest.
func (v Visit) found() bool {
	return slices.ContainsFunc(v.Stops, func(s StopTotal) bool { return s.Total > 0 })
}

// carries reports whether the visit says anything of clumping by itself.
func (v Visit) carries() bool { return len(v.Stops) > 1 && v.found() }

// A Scale is what the level of the pest grows evenly on with the days.
type Scale struct {
	level     func(x float64) float64
	low, high float64 // the ends that are looked at: below low nothing is found
}

// The scales of shares infested and of means.
var (
	LogitScale = Scale{func(x float64) float64 { return 1 / (1 + math.Exp(-x)) }, -12, 5}
	LogScale   = Scale{math.Exp, math.Log(1e-4), math.Log(3000)}
)

// placeStep is how far apart the levels are over which visits are spread: finer
// than a visit tells.
const placeStep = 0.35

// places returns the levels over which visits are spread, the first of them with
// nothing to be found.
func (s Scale) places() []float64 {
	levels := []float64{s.level(s.low)}
	for x := s.low + 5; x <= s.high; x += placeStep {
		levels = append(levels, s.level(x))
	}
	return levels
}

// A visitSet is a set of visits by what they saw: the same stops in any order say
// the same.
type visitSet struct {
	classes []StopTotal // distinct stops
	most    map[int]int // largest total by units
	saw     [][]stopShare
	times   []float64 // visits that saw the same
	of      []int     // which of saw each visit is
}

type stopShare struct {
	class int
	n     float64
}

func newVisitSet(visits []Visit) (*visitSet, error) {
	s := &visitSet{most: map[int]int{}}
	index := map[StopTotal]int{}
	seen := map[string]int{}
	for i, v := range visits {
		var saw []stopShare
		for _, stop := range v.Stops {
			if stop.Units < 1 || stop.Total < 0 {
				return nil, fmt.Errorf("fit: visit %d has a stop of %d units with %d on them; units must be at least 1, and the total 0 or more", i+1, stop.Units, stop.Total)
			}
			c, known := index[stop]
			if !known {
				c = len(s.classes)
				index[stop] = c
				s.classes = append(s.classes, stop)
				s.most[stop.Units] = max(s.most[stop.Units], stop.Total)
			}
			at := slices.IndexFunc(saw, func(x stopShare) bool { return x.class == c })
			if at < 0 {
				at, saw = len(saw), append(saw, stopShare{class: c})
			}
			saw[at].n++
		}
		slices.SortFunc(saw, func(a, b stopShare) int { return a.class - b.class })
		key := fmt.Sprint(saw)
		k, known := seen[key]
		if !known {
			k = len(s.saw)
			seen[key] = k
			s.saw, s.times = append(s.saw, saw), append(s.times, 0)
		}
		s.times[k]++
		s.of = append(s.of, k)
	}
	return s, nil
}

// leastLog is the logarithm of the least chance that is told from 0.
const leastLog = -700

// logLiks returns the log-likelihood at every level of what visits saw.
func (s *visitSet) logLiks(levels []float64, family func(level float64) sampling.Population) [][]float64 {
	out := make([][]float64, len(s.saw))
	for i := range out {
		out[i] = make([]float64, len(levels))
	}
	logs := make([]float64, len(s.classes))
	for g, level := range levels {
		pop := family(level)
		for units, most := range s.most {
			probs := pop.Stop(units).Probs(most)
			for c, stop := range s.classes {
				if stop.Units == units {
					logs[c] = leastLog
					if stop.Total < len(probs) {
						logs[c] = math.Max(leastLog, math.Log(probs[stop.Total]))
					}
				}
			}
		}
		for i, saw := range s.saw {
			sum := 0.0
			for _, x := range saw {
				sum += x.n * logs[x.class]
			}
			out[i][g] = sum
		}
	}
	return out
}

// A mixture finds the shares of the cases that lie at each place of a grid, such
// that the log-likelihood is highest: no form is taken for how levels are spread
// over a region.
//
// Laird, N. (1978) Nonparametric maximum likelihood estimation of a mixing
// distribution. J. Am. Stat. Assoc. 73: 805-811.
type mixture struct{ weights []float64 }

// mixSteps and mixGap end the search: the log-likelihood is then below the highest
// by mixGap at most.
const (
	mixSteps = 150
	mixGap   = 0.03
)

// fit returns the highest log-likelihood of cases, each with its log-likelihood
// at every place and the number of times it stands there. It begins where the
// last search ended.
func (m *mixture) fit(cases [][]float64, times []float64) float64 {
	places := len(cases[0])
	if m.weights == nil {
		m.weights = make([]float64, places)
		for i := range m.weights {
			m.weights[i] = 1 / float64(places)
		}
	}
	n := floats.Sum(times)
	// None starts at 0, from which it would not come back.
	for i := range m.weights {
		m.weights[i] = (m.weights[i] + 1e-6) / (1 + 1e-6*float64(places))
	}
	rel := make([][]float64, len(cases))
	base := 0.0
	for i, c := range cases {
		highest := floats.Max(c)
		base += times[i] * highest
		rel[i] = make([]float64, places)
		for g, ll := range c {
			rel[i][g] = math.Exp(ll - highest)
		}
	}
	gain := make([]float64, places)
	value := 0.0
	for range mixSteps {
		value = 0
		clear(gain)
		for i, row := range rel {
			mix := floats.Dot(m.weights, row)
			value += times[i] * math.Log(mix)
			floats.AddScaled(gain, times[i]/mix, row)
		}
		gap := floats.Max(gain) - n
		for g := range m.weights {
			m.weights[g] *= gain[g] / n
		}
		if gap < mixGap {
			break
		}
	}
	return base + value
}
