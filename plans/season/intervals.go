package season

// cutsTried are the cuts tried with given tables, as parts of the lower bound.
var cutsTried = []float64{0.5, 0.75, 1}

// runGiven tries all intervals that do not rise from class to class with the given tables.
func (s *searcher) runGiven() {
	cuts := []float64{0}
	if s.Classes == 3 {
		cuts = nil
		for _, x := range cutsTried {
			cuts = append(cuts, s.cut(x))
		}
	}
	for _, cut := range cuts {
		s.tryIntervals(schedule{cut: cut}, 0)
	}
}

// tryIntervals tries all intervals of the classes from k on.
func (s *searcher) tryIntervals(at schedule, k int) {
	if s.stop() {
		return
	}
	if k == s.Classes {
		x := state{tables: s.Tables}
		s.look(at, &x)
		s.consider(at, x)
		s.tried(at, x)
		return
	}
	most := s.LongestInterval
	if k > 0 {
		most = at.intervals[k-1]
	}
	for days := 1; days <= most; days++ {
		if s.Intervals != nil && s.Intervals[k] > 0 && days != s.Intervals[k] {
			continue
		}
		at.intervals[k] = days
		s.tryIntervals(at, k+1)
	}
}
