package search

import (
	"math"
	"slices"
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
	met := surely
	if p.Acts != nil {
		met = p.Acts
	}
	// The chance to act is told along with the risks, of every number at once.
	q := *p
	q.Limits = append(slices.Clone(p.Limits), Needless(p.Effort[len(p.Effort)/2].Population, 1, met))
	sums := q.newTotals()
	for j := 1; j <= stops; j++ {
		sums.next(j, j == stops)
	}
	best, nearest := u.Leave[stops-1], math.Inf(1)
	sums.cuts(stops, func(c int, risks []float64) {
		act := risks[len(p.Limits)]
		for i, l := range p.Limits {
			if risks[i] > l.Allowed {
				return
			}
		}
		if off := math.Abs(act - 0.5); off < nearest {
			best, nearest = c, off
		}
	})
	if even := single(p.Units, stops, best); p.Keeps(even) {
		return even
	}
	return t
}
