package search

import (
	"cmp"
	"encoding/binary"
	"slices"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/rule"
)

// A Catalogue lists simple plans with what they need and risk, which does not depend
// on the risks allowed: scored once, it answers for any number of these. It is for
// one goroutine.
type Catalogue struct {
	entries []entry  // the fewest stops first
	scored  *Problem // in whose worlds
	step    int      // of the lattice that they were scored on
	active  []int    // the limits scored
}

// An entry is a table with its weighted stops and risks.
type entry struct {
	t     Table
	score score
	full  []float64 // risks of all limits, each once it was asked for
}

// catalogueStep is the factor between the gaps of neighbouring lines.
const catalogueStep = 1.12

// LineCatalogue scores lines with the slope of a textbook's pair and a little more and
// less, and all gaps between 0.6 times those of least and six times those of most:
// clumping asks for wider ones. Totals beyond any share infested are taken in steps, so
// that its answers are good to the third digit there.
func (p *Problem) LineCatalogue(least, most rule.LinePair) *Catalogue {
	c := p.catalogue()
	q := c.scored
	by := 1 / float64(c.step)
	leave, act := between(by*least.LeaveGap, by*most.LeaveGap), between(by*least.ActGap, by*most.ActGap)
	found := make([][]entry, len(tilts))
	parallel.Each(len(tilts), func(i int) {
		e := newEngine(q, c.active)
		seen := newSeen()
		for _, h1 := range leave {
			for _, h2 := range act {
				t := q.table(rule.LinePair{Slope: tilts[i] * by * most.Slope, LeaveGap: h1, ActGap: h2})
				if q.stopped() || t.Check() != nil {
					continue
				}
				if seen.first(&t) {
					found[i] = append(found[i], entry{t: t, score: e.quick(&t)})
				}
			}
		}
	})
	for _, f := range found {
		c.entries = append(c.entries, f...)
	}
	return c.sorted()
}

// seen knows the tables that it was asked for.
type seen struct {
	keys map[string]bool
	key  []byte
}

func newSeen() *seen { return &seen{keys: map[string]bool{}} }

// first reports whether it is asked for a table of these numbers for the first time.
func (s *seen) first(t *Table) bool {
	s.key = s.key[:0]
	for j := range t.Leave {
		s.key = binary.AppendVarint(binary.AppendVarint(s.key, int64(t.Leave[j])), int64(t.Act[j]))
	}
	if s.keys[string(s.key)] {
		return false
	}
	s.keys[string(s.key)] = true
	return true
}

func between(least, most float64) []float64 {
	var gaps []float64
	for g := 0.6 * least; g < 6*catalogueStep*most; g *= catalogueStep {
		gaps = append(gaps, g)
	}
	return gaps
}

// FixedCatalogue scores the plans of every number of stops after which one number
// decides.
func (p *Problem) FixedCatalogue() *Catalogue {
	c := p.catalogue()
	q := c.scored
	few := *q
	few.Limits = nil
	for _, i := range c.active {
		few.Limits = append(few.Limits, q.Limits[i])
	}
	sums := few.newTotals()
	for j := 1; j <= q.Maximum && !q.stopped(); j++ {
		sums.next(j, j >= q.Minimum)
		if j < q.Minimum {
			continue
		}
		sums.cuts(j, func(cut int, risks []float64) {
			if slices.Max(risks) < 0.5 { // a rule that errs more often is none
				sc := score{effort: float64(j)}
				copy(sc.risks[:], risks)
				c.entries = append(c.entries, entry{t: single(q.Units, j, cut), score: sc})
			}
		})
	}
	return c.sorted()
}

// catalogue returns an empty one for the problem.
func (p *Problem) catalogue() *Catalogue {
	q, step := *p, 1
	if !p.Bounded {
		q, step = p.onLattice(latticeTotals)
	}
	return &Catalogue{scored: &q, step: step, active: q.likely()}
}

func (c *Catalogue) sorted() *Catalogue {
	slices.SortStableFunc(c.entries, func(a, b entry) int { return cmp.Compare(a.score.effort, b.score.effort) })
	return c
}

// Least returns the table with the least stops that keeps the limits of a problem that
// differs from the catalogue's in what it allows only. It reports false if none keeps
// them.
func (c *Catalogue) Least(p *Problem) (t Table, ok bool) {
	for i := range c.entries {
		x := &c.entries[i]
		if c.keeps(x, p) {
			t = x.t
			if c.step > 1 {
				t = fullSize(t, c.step)
			}
			return t.Lengthened(p.Maximum), true
		}
	}
	return Table{}, false
}

// keeps looks at the limits that are likely to bind first, and then at all.
func (c *Catalogue) keeps(x *entry, p *Problem) bool {
	for k, i := range c.active {
		if x.score.risks[k] > p.Limits[i].Allowed {
			return false
		}
	}
	if x.full == nil {
		x.full = make([]float64, len(c.scored.Limits))
		for i := range x.full {
			x.full[i] = unknown
		}
		for k, i := range c.active {
			x.full[i] = x.score.risks[k]
		}
	}
	var t Table
	for i, l := range c.scored.Limits {
		if x.full[i] == unknown {
			if t.Leave == nil {
				t = x.t.Lengthened(c.scored.Maximum)
			}
			x.full[i] = l.Risk(t)
		}
		if x.full[i] > p.Limits[i].Allowed+RiskSlack {
			return false
		}
	}
	return true
}

// unknown stands for a risk that was not asked for.
const unknown = -1
