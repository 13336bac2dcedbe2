package search

import (
	"math"

	"stopwise/plans/rule"
)

// riskLines returns the pair of parallel lines whose table keeps every limit
// with the least weighted expected stops, of those that a search over a grid of
// gaps and slopes around the textbook lines finds, and its table. It reports false
// if the search finds none.
func (p *Problem) riskLines(textbook rule.LinePair) (rule.LinePair, Table, bool) {
	s := &lineSearch{p: p, e: newEngine(p, p.likely()), keptMerit: math.Inf(1)}
	best, merit := rule.LinePair{}, math.Inf(1)
	// The search is caught by steps of the integers, so it starts from several
	// slopes.
	for _, tilt := range []float64{0.9, 0.95, 1, 1.05, 1.1} {
		l, m := s.near(rule.LinePair{Slope: tilt * textbook.Slope, LeaveGap: textbook.LeaveGap, ActGap: textbook.ActGap})
		if m < merit {
			best, merit = l, m
		}
	}
	if math.IsInf(s.keptMerit, 1) {
		t, _, _ := s.at(best)
		return best, t, false
	}
	t, _, _ := s.at(s.kept)
	return s.kept, t, true
}

// A lineSearch walks on the pair of lines with the least effort and penalty; the
// best pair that keeps every limit is remembered apart from it.
type lineSearch struct {
	p         *Problem
	e         *engine
	kept      rule.LinePair
	keptMerit float64
}

func (s *lineSearch) at(l rule.LinePair) (t Table, merit float64, keeps bool) {
	t = l.Table(s.p.Units, s.p.Minimum, s.p.Maximum, s.p.Bounded)
	if t.Check() != nil {
		return t, math.Inf(1), false
	}
	sc := s.e.quick(&t)
	return t, s.e.total(&sc, 0), s.e.keeps(&sc)
}

// near searches around a pair of lines, first over a grid of gaps and then by ever
// smaller steps, and returns the best pair with its merit.
func (s *lineSearch) near(from rule.LinePair) (rule.LinePair, float64) {
	best, merit := from, math.Inf(1)
	consider := func(l rule.LinePair) bool {
		if !(l.LeaveGap > 0 && l.ActGap > 0 && l.Slope > 0) {
			return false
		}
		t, m, keeps := s.at(l)
		if m >= merit-leastGain && !(keeps && m < s.keptMerit-leastGain) {
			return false
		}
		if keeps {
			if !s.p.Keeps(t) {
				return false
			}
			if m < s.keptMerit-leastGain {
				s.kept, s.keptMerit = l, m
			}
		}
		if m < merit-leastGain {
			best, merit = l, m
			return true
		}
		return false
	}
	const steps = 20
	for i := range steps * steps {
		if s.p.stopped() {
			return best, merit
		}
		// From 0.6 to 6 times the gaps: clumping asks for wider ones.
		grow := func(i int) float64 { return 0.6 * math.Pow(10, float64(i)/(steps-1)) }
		consider(rule.LinePair{Slope: from.Slope, LeaveGap: from.LeaveGap * grow(i/steps), ActGap: from.ActGap * grow(i%steps)})
	}
	for size := 0.08; size > 0.001 && !s.p.stopped(); size /= 1.6 {
		for moved := true; moved && !s.p.stopped(); {
			moved = false
			for i := range 27 {
				step := func(i int) float64 { return float64(i%3 - 1) }
				moved = consider(rule.LinePair{
					Slope:    best.Slope * (1 + 0.3*size*step(i)),
					LeaveGap: best.LeaveGap * (1 + size*step(i/3)),
					ActGap:   best.ActGap * (1 + size*step(i/9)),
				}) || moved
			}
		}
	}
	return best, merit
}
