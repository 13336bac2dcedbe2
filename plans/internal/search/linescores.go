package search

import (
	"encoding/binary"
	"math"

	"stopwise/plans/rule"
)

// LineScores remembers what tables of lines need and risk, which does not depend on
// the risks allowed: problems that differ in these only may share one, and then look
// for lines on one grid. It is for one goroutine.
type LineScores struct{ known map[string]score }

// NewLineScores returns an empty memory.
func NewLineScores() *LineScores { return &LineScores{map[string]score{}} }

func (m *LineScores) of(e *engine, t *Table) score {
	key := make([]byte, 0, 4*len(t.Leave))
	for j := range t.Leave {
		key = binary.AppendVarint(key, int64(t.Leave[j]))
		key = binary.AppendVarint(key, int64(t.Act[j]))
	}
	sc, ok := m.known[string(key)]
	if !ok {
		sc = e.quick(t)
		m.known[string(key)] = sc
	}
	return sc
}

// gridRatio is the step of the shared grid of gaps, that of the search around one
// pair of lines: twenty steps make a factor of ten.
var gridRatio = math.Pow(10, 1./19)

// onGrid returns the pair of lines on the shared grid with the least effort and
// penalty, from 0.6 to 6 times the textbook's gaps, and remembers the best one that
// keeps every limit.
func (s *lineSearch) onGrid(textbook rule.LinePair) (rule.LinePair, float64) {
	place := func(gap float64) int { return int(math.Round(math.Log(0.6*gap) / math.Log(gridRatio))) }
	leave, act := place(textbook.LeaveGap), place(textbook.ActGap)
	best, merit := rule.LinePair{}, math.Inf(1)
	for _, tilt := range tilts {
		for i := range gridSteps * gridSteps {
			if s.p.stopped() {
				return best, merit
			}
			gap := func(k int) float64 { return math.Pow(gridRatio, float64(k)) }
			l := rule.LinePair{Slope: tilt * textbook.Slope, LeaveGap: gap(leave + i/gridSteps), ActGap: gap(act + i%gridSteps)}
			if m, ok := s.consider(l, merit); ok {
				best, merit = l, m
			}
		}
	}
	return best, merit
}
