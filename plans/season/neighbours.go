package season

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats/scalar"
)

// leastMinimum returns the least minimum of stops of a stage.
func (s *searcher) leastMinimum() int {
	return slices.MinFunc(s.Walks, func(a, b Walk) int { return cmp.Compare(a.Minimum, b.Minimum) }).Minimum
}

// tidy returns a cut with two digits, as a person can remember it.
func tidy(cut float64) float64 {
	return scalar.Round(cut, 1-int(math.Floor(math.Log10(cut))))
}

// neighbours returns the schedules next to one.
func (s *searcher) neighbours(at schedule) []schedule {
	var out []schedule
	for k := range s.Classes {
		if s.Intervals != nil && s.Intervals[k] > 0 {
			continue
		}
		steps := []int{1, -1}
		if k == 0 {
			steps = []int{1, -1, 3, -3}
		}
		for _, by := range steps {
			to := at
			to.intervals[k] += by
			if to.intervals[k] < 1 || to.intervals[k] > s.LongestInterval || k > 0 && to.intervals[k] > to.intervals[k-1] ||
				k+1 < s.Classes && to.intervals[k] < to.intervals[k+1] {
				continue
			}
			out = append(out, to)
		}
	}
	if s.Classes == 3 {
		for _, by := range []float64{0.75, 1 / 0.75} {
			to := at
			to.cut = tidy(to.cut * by)
			out = append(out, to)
		}
	}
	for _, by := range []int{1, -1} {
		to := at
		to.minimum += by
		if least := s.leastMinimum(); to.minimum >= least && to.minimum <= least+3 {
			out = append(out, to)
		}
	}
	return out
}

// begun tunes the plan that the search is given to start from; it returns no tables
// where there is none.
func (s *searcher) begun() (schedule, state) {
	if s.Start == nil {
		return schedule{}, state{}
	}
	at := s.Start.at
	if s.Classes == 3 && at.intervals[2] == 0 {
		at.intervals[2] = at.intervals[1]
	}
	if s.Classes == 3 && at.cut == 0 {
		at.cut = s.cut(0.75)
	}
	x := state{prices: s.Start.state.prices}
	per := len(s.Start.state.tables) / len(s.Walks)
	for i := range s.Walks {
		for k := range s.tablesPerStage() {
			x.tables = append(x.tables, s.Start.state.tables[i*per+min(k, per-1)])
		}
	}
	s.look(at, &x)
	s.consider(at, x)
	return at, s.estimate(at, x, firstRounds, 2)
}

// begin tunes the first schedules and returns the best.
func (s *searcher) begin() (schedule, state) {
	at, now := s.begun()
	for _, from := range s.start() {
		if _, known := s.tuned[from]; known || s.stop() {
			continue
		}
		x := s.estimate(from, state{tables: s.firstTables(), prices: prices{200, 300}}, firstRounds, 4)
		if now.tables == nil || x.tables != nil && s.apart(x) < s.apart(now) {
			at, now = from, x
		}
	}
	return at, now
}
