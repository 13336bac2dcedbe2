package search

import (
	"sort"

	"stopwise/plans/rule"
)

// evened returns, where every walk has the same length and so all numbers that keep
// the limits need the same effort, the table whose whole rule, count and sign, acts in
// the middle world of Effort with a chance nearest one half; another table as it is.
func (p *Problem) evened(t Table) Table {
	u := t.Trimmed()
	stops := u.Stops()
	if u.First() != stops || len(p.Effort) == 0 {
		return t
	}
	at := func(c int) Table { return single(p.Units, stops, c) }
	middle := p.Effort[len(p.Effort)/2].Population
	met := 1.0
	if p.Acts != nil {
		met = p.Acts(stops)
	}
	act := func(c int) float64 { return met * rule.Evaluate(at(c), middle).Act }
	top := p.counts()
	if p.Bounded {
		top *= stops
	}
	wanted := sort.Search(top, func(c int) bool { return act(c) <= 0.5 })
	if wanted > 0 && act(wanted-1)-0.5 < 0.5-act(wanted) {
		wanted--
	}
	// The numbers that keep the limits lie together.
	from, way, far := u.Leave[stops-1], 1, wanted-u.Leave[stops-1]
	if far < 0 {
		way, far = -1, -far
	}
	steps := sort.Search(far, func(d int) bool { return !p.Keeps(at(from + way*(d+1))) })
	return at(from + way*steps)
}
