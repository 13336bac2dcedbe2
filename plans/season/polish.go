package season

import (
	"slices"

	"stopwise/plans/rule"
)

// polish moves single numbers of the tables as long as that brings the state nearer to
// the promises, or to fewer minutes that keep them.
func (s *searcher) polish(at schedule, x state) {
	s.look(at, &x)
	s.consider(at, x)
	for range 3 {
		moved := false
		for n := range x.tables {
			for _, t := range s.moves(n, x.tables[n]) {
				if s.stop() {
					return
				}
				y := x
				y.tables = slices.Clone(x.tables)
				y.tables[n] = t
				s.look(at, &y)
				s.consider(at, y)
				if s.cost(y) < s.cost(x)-1e-6 {
					x, moved = y, true
				}
			}
		}
		if !moved {
			return
		}
	}
}

// cost returns the minutes of a state with what it lacks of the promises, dear enough
// that keeping them is worth it.
func (s *searcher) cost(x state) float64 {
	return x.minutes + 2*x.prices.needless*max(0, x.needless-s.asked.Needless) + 2*x.prices.late*max(0, x.late-s.asked.Late)
}

// seldom is the chance of a stop, in a field at the threshold, below which its numbers
// are not worth moving.
const seldom = 0.01

// moves returns the tables that differ from one by one in a number.
func (s *searcher) moves(n int, t rule.Table) []rule.Table {
	i := n / s.tablesPerStage()
	pop := s.Worlds[len(s.Worlds)-1][i](s.Season.Stages[i].Threshold)
	left := 1.0
	var out []rule.Table
	for j, o := range rule.Evaluate(t, pop).Stops {
		if left < seldom || j+1 == t.Stops() {
			break
		}
		left -= o.Leave + o.Act
		for _, by := range []int{1, -1} {
			if t.Leave[j] == rule.NeverLeave && t.Act[j] == rule.NeverAct {
				continue
			}
			u := t.Clone()
			u.Leave[j] += by
			if u.Leave[j] >= rule.NeverLeave && u.Check() == nil {
				out = append(out, u)
			}
			if t.Act[j] != rule.NeverAct {
				u = t.Clone()
				u.Act[j] += by
				if u.Check() == nil {
					out = append(out, u)
				}
			}
		}
	}
	return out
}

// plan returns what was found.
func (s *searcher) plan() *Plan {
	x, at, r := s.nearest, s.nearestAt, s.nearestWorst
	if s.best != nil {
		x, at, r = s.best, s.bestAt, s.bestWorst
	}
	tables := make([]rule.Table, len(x.tables))
	for i, t := range x.tables {
		tables[i] = t.Trimmed()
	}
	p := &Plan{
		Season: s.layout(at, tables, len(s.Worlds)-1), Minutes: x.minutes,
		Needless: r.needless, Late: r.late, Kept: s.best != nil, Tried: len(s.tuned),
	}
	if !p.Kept {
		p.Hindrance = s.hindrance(r)
	}
	return p
}

// hindrance says what keeps the promises from being kept together.
func (s *searcher) hindrance(r risks) string {
	switch {
	case r.needless <= s.Promise.Needless+slack:
		return "late treatments: allow shorter intervals or more days, or widen the bounds"
	case r.late <= s.Promise.Late+slack:
		return "needless treatments: allow more stops a visit or longer intervals, or widen the bounds"
	}
	return "both promises together: allow more stops a visit, or widen the bounds"
}
