package season

import (
	"cmp"
	"slices"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/rule"
)

// atOnce is the number of moves that are tried side by side.
const atOnce = 4

// polish moves single numbers of the tables as long as that brings the state nearer to
// the promises, or to fewer minutes that keep them.
func (s *searcher) polish(at schedule, x state, passes int) {
	s.look(at, &x)
	s.consider(at, x)
	for range passes {
		moved := false
		for n := range x.tables {
			for ts := range slices.Chunk(s.moves(n, x.tables[n]), atOnce) {
				if s.stop() {
					return
				}
				ys := make([]state, len(ts))
				parallel.Each(len(ts), func(i int) {
					ys[i] = x
					ys[i].tables = slices.Clone(x.tables)
					ys[i].tables[n] = ts[i]
					s.look(at, &ys[i])
				})
				y := slices.MinFunc(ys, func(a, b state) int { return cmp.Compare(s.cost(a), s.cost(b)) })
				s.consider(at, y)
				if s.cost(y) < s.cost(x)-1e-6 {
					// The others of the table start from the old numbers.
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
	if s.Costs != nil {
		return x.least
	}
	return x.least + 2*x.prices.needless*max(0, x.needless-s.asked.Needless) + 2*x.prices.late*max(0, x.late-s.asked.Late)
}

// seldom is the chance of a stop, in a field at the threshold, below which its numbers
// are not worth moving.
const seldom = 0.01

// moves returns the tables that differ from one by one in a number, or in all numbers
// from a stop on.
func (s *searcher) moves(n int, t rule.Table) []rule.Table {
	i := n / s.tablesPerStage()
	pop := s.field(len(s.Worlds)-1, i)(s.Season.Stages[i].Threshold)
	left := 1.0
	var out []rule.Table
	add := func(j, to, leave, act int) {
		u := t.Clone()
		for k := j; k < to; k++ {
			last := k+1 == t.Stops()
			if u.Leave[k] != rule.NeverLeave || leave > 0 && to == j+1 && !last {
				u.Leave[k] += leave
			}
			if u.Act[k] != rule.NeverAct {
				u.Act[k] += act
			}
			if last {
				u.Act[k] = u.Leave[k] + 1
			}
		}
		if u.Check() == nil {
			out = append(out, u)
		}
	}
	for j, o := range rule.Evaluate(t, pop).Stops {
		if left < seldom || j+1 == t.Stops() {
			break
		}
		left -= o.Leave + o.Act
		if t.Leave[j] == rule.NeverLeave && t.Act[j] == rule.NeverAct {
			continue
		}
		for _, by := range []int{1, -1} {
			for _, to := range []int{j + 1, t.Stops()} {
				add(j, to, by, 0)
				add(j, to, 0, by)
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
		Season:   s.layout(at, tables, len(s.Worlds)-1),
		Needless: r.needless, Late: r.late, Kept: s.best != nil, Tried: len(s.tuned),
		at: at, state: *x,
	}
	var costs Costs
	if s.Costs != nil {
		costs = *s.Costs
	}
	last := len(s.Worlds) - 1
	chain := chainOf(p.Season, func(i int, tb rule.Table) *visits { return s.visits(last, i, tb) })
	p.Minutes, p.Loss = chain.Expected(s.Mix, s.Growth, costs)
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
