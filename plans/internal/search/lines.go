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
	for _, tilt := range tilts {
		l, m := s.near(rule.LinePair{Slope: tilt * textbook.Slope, LeaveGap: textbook.LeaveGap, ActGap: textbook.ActGap})
		if m < merit {
			best, merit = l, m
		}
	}
	if math.IsInf(s.keptMerit, 1) {
		s.sweep(textbook)
	}
	if math.IsInf(s.keptMerit, 1) {
		return best, p.table(best), false
	}
	return s.kept, p.table(s.kept), true
}

// A lineSearch walks on the pair of lines with the least effort and penalty; the
// best pair that keeps every limit is remembered apart from it.
type lineSearch struct {
	p         *Problem
	e         *engine
	kept      rule.LinePair
	keptMerit float64
	seen      *seen // since the walk began
}

// consider looks at a pair of lines and reports whether it is better than one of
// the given merit.
func (s *lineSearch) consider(l rule.LinePair, merit float64) (float64, bool) {
	if !(l.LeaveGap > 0 && l.ActGap > 0 && l.Slope > 0) {
		return 0, false
	}
	t := s.p.table(l)
	if !s.seen.first(&t) || t.Check() != nil { // a table met before is no better now
		return 0, false
	}
	sc, ok := s.e.within(&t, max(merit, s.keptMerit), merit)
	if !ok {
		return 0, false
	}
	m, keeps := s.e.total(&sc, 0), s.e.keeps(&sc)
	better, best := m < merit-leastGain, keeps && m < s.keptMerit-leastGain
	if !better && !best || keeps && !s.p.Keeps(t) {
		return m, false
	}
	if best {
		s.kept, s.keptMerit = l, m
	}
	return m, better
}

// tilts are the slopes tried, as factors of the textbook's.
var tilts = []float64{0.9, 0.95, 1, 1.05, 1.1}

// gridSteps is the number of steps of either gap in a grid; together they make a
// factor of ten.
const gridSteps = 20

// gridGap returns a gap of the grid from a textbook's.
func gridGap(textbook float64, i int) float64 {
	return math.Exp(math.Log(0.6*textbook) + float64(i)*math.Log(10)/(gridSteps-1))
}

// near searches around a pair of lines, first over a grid of gaps and then by ever
// smaller steps, and returns the best pair with its merit.
func (s *lineSearch) near(from rule.LinePair) (rule.LinePair, float64) {
	s.seen = newSeen()
	best, merit := from, math.Inf(1)
	// From 0.6 to 6 times the gaps: clumping asks for wider ones.
	for i := range gridSteps * gridSteps {
		if s.p.stopped() {
			return best, merit
		}
		l := rule.LinePair{Slope: from.Slope, LeaveGap: gridGap(from.LeaveGap, i/gridSteps), ActGap: gridGap(from.ActGap, i%gridSteps)}
		if m, ok := s.consider(l, merit); ok {
			best, merit = l, m
		}
	}
	return s.nearer(best, merit)
}

// nearer goes on from a pair of lines by ever smaller steps.
func (s *lineSearch) nearer(best rule.LinePair, merit float64) (rule.LinePair, float64) {
	for size := 0.08; size > 0.001 && !s.p.stopped(); size /= 1.6 {
		for moved := true; moved && !s.p.stopped(); {
			moved = false
			for i := range 27 {
				step := func(i int) float64 { return float64(i%3 - 1) }
				l := rule.LinePair{
					Slope:    best.Slope * (1 + 0.3*size*step(i)),
					LeaveGap: best.LeaveGap * (1 + size*step(i/3)),
					ActGap:   best.ActGap * (1 + size*step(i/9)),
				}
				if m, ok := s.consider(l, merit); ok {
					best, merit, moved = l, m, true
				}
			}
		}
	}
	return best, merit
}

// sweepSteps is the number of gaps on either side that are looked at before it is
// said that there are no lines.
const sweepSteps = 60

// sweep looks at a grid of gaps, from a third of the textbook's to nine times them,
// for pairs that keep every limit.
func (s *lineSearch) sweep(textbook rule.LinePair) {
	s.seen = newSeen()
	for i := range sweepSteps * sweepSteps {
		if s.p.stopped() {
			return
		}
		grow := func(i int) float64 { return math.Pow(3, 3*float64(i)/(sweepSteps-1)-1) }
		s.consider(rule.LinePair{Slope: textbook.Slope, LeaveGap: textbook.LeaveGap * grow(i/sweepSteps), ActGap: textbook.ActGap * grow(i%sweepSteps)}, math.Inf(-1))
	}
}

// table groups a pair of lines by stops. Lines count what a stop is worth.
func (p *Problem) table(l rule.LinePair) Table {
	t := l.Table(p.perStop(), p.Minimum, p.Maximum, p.Bounded)
	t.Units = p.Units
	return t
}

// perStop is what the slope of lines is per stop for.
func (p *Problem) perStop() int {
	if p.Bounded {
		return p.counts()
	}
	return p.Units
}

// Textbook returns [rule.NormalLines] of the first and the last world of Effort, per
// unit that a stop can be worth: a place to start from.
func (p *Problem) Textbook() (rule.LinePair, bool) {
	alpha, beta := 0.0, 0.0
	for _, l := range p.Limits {
		if l.onLeave() {
			beta = max(beta, l.Allowed)
		} else {
			alpha = max(alpha, l.Allowed)
		}
	}
	l, err := rule.NormalLines(p.Effort[0].Stop(p.Units), p.Effort[len(p.Effort)-1].Stop(p.Units), alpha, beta)
	l.Slope /= float64(p.perStop())
	return l, err == nil
}
