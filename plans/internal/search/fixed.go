package search

import (
	"math"
	"slices"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Fixed returns the plan that always walks the same number of stops, at most
// maximum, and then acts when the total is above one number: the fewest stops
// that keep every limit. Whether a number of stops can keep them is not monotone
// in it (the risks move in steps); the smallest that can is taken, and of the numbers
// that keep the limits there the most even one. It reports false if there is none.
func (p *Problem) Fixed(maximum int) (Table, bool) {
	q := *p
	if !p.Bounded && maximum > p.Maximum {
		q.Top = max(p.Top, p.ceiling(maximum))
	}
	t, ok := p.anyFixed(maximum)
	if ok && !p.stopped() {
		t = q.evened(t)
	}
	return t, ok
}

// anyFixed is Fixed with any of the numbers that keep the limits.
func (p *Problem) anyFixed(maximum int) (Table, bool) {
	q := *p
	q.Maximum = maximum
	if p.large() {
		q.Top = max(p.Top, p.ceiling(maximum))
		return q.fromCoarse(q.Top, func(c *Problem, _ int) (Table, bool) { return c.fixed() })
	}
	if !p.Bounded && maximum > p.Maximum {
		q.Top = max(p.Top, p.ceiling(maximum))
	}
	return q.fixed()
}

// fixed looks first at the limits that are likely to bind: where they cannot be
// kept, the others need not be computed.
func (p *Problem) fixed() (Table, bool) {
	few := *p
	few.Limits = nil
	for _, i := range p.likely() {
		few.Limits = append(few.Limits, p.Limits[i])
	}
	sums, all := few.newTotals(), p.newTotals()
	for j, known := 1, 0; j <= p.Maximum && !p.stopped(); j++ {
		sums.next(j, j >= p.Minimum)
		if j < p.Minimum {
			continue
		}
		if _, worst := sums.cut(j); worst > 1+RiskSlack {
			continue
		}
		for ; known < j; known++ {
			all.next(known+1, known+1 == j)
		}
		if c, worst := all.cut(j); worst <= 1+RiskSlack {
			return single(p.Units, j, c), true
		}
	}
	return Table{}, false
}

// Affordable returns by how much all allowed risks would have to grow, as a
// factor, for a fixed plan of the maximum number of stops to keep them.
func (p *Problem) Affordable() float64 {
	if p.large() {
		q, _ := p.onLattice(max(coarseTotals, coarseStop*p.Maximum))
		return q.Affordable()
	}
	sums := p.newTotals()
	for j := 1; j <= p.Maximum; j++ {
		sums.next(j, j == p.Maximum)
	}
	_, worst := sums.cut(p.Maximum)
	return worst
}

// totals holds the distributions of the total after j stops in the worlds of all
// limits.
type totals struct {
	p     *Problem
	ones  [][]float64
	probs [][]float64
}

func (p *Problem) newTotals() *totals {
	t := &totals{p: p, ones: make([][]float64, len(p.Limits)), probs: make([][]float64, len(p.Limits))}
	for i, w := range p.Limits {
		t.probs[i] = []float64{1}
		if !additive(w.Population) {
			t.ones[i] = w.Stop(p.Units).Probs(p.counts())
		}
	}
	return t
}

func additive(p sampling.Population) bool {
	_, ok := p.(sampling.Additive)
	return ok
}

// next moves on to the total after j stops; wanted says whether it will be looked
// at.
func (t *totals) next(j int, wanted bool) {
	parallel.Each(len(t.probs), func(i int) {
		w := t.p.Limits[i].Population
		switch {
		case !additive(w):
			t.probs[i] = sampling.ConvolveLong(t.probs[i], t.ones[i])
			if !t.p.Bounded && len(t.probs[i]) > t.p.Top+1 {
				t.probs[i] = t.probs[i][:t.p.Top+1]
			}
		case wanted:
			t.probs[i] = w.Stop(t.p.Units * j).Probs(t.p.ceiling(j))
		}
	})
}

// ceiling returns a total of j stops that hardly any walk exceeds in the world of
// the highest level.
func (p *Problem) ceiling(j int) int {
	top := 0
	for _, l := range p.Limits {
		if l.onLeave() {
			top = max(top, p.topOf(l.Population, j, 6))
		}
	}
	return top
}

// cut returns the number c at which leaving at c or less and acting above it, after
// stop j, has the smallest worst risk as a multiple of the allowed one.
func (t *totals) cut(j int) (c int, worst float64) {
	worst = math.Inf(1)
	t.cuts(j, func(s int, risks []float64) {
		ratio := 0.0
		for i, l := range t.p.Limits {
			ratio = max(ratio, risks[i]/l.Allowed)
		}
		if ratio < worst {
			worst, c = ratio, s
		}
	})
	return c, worst
}

// cuts tells of every number c the risks of leaving at c or less and acting above it
// after stop j, from acting always on. The slice is used again.
func (t *totals) cuts(j int, tell func(c int, risks []float64)) {
	limits := t.p.Limits
	act, leave := make([]float64, len(limits)), make([]float64, len(limits))
	above, below := make([]float64, len(limits)), make([]float64, len(limits))
	longest := 0
	for i, l := range limits {
		act[i], leave[i], above[i] = l.cost(rule.Act, j), l.cost(rule.Leave, j), 1
		longest = max(longest, len(t.probs[i]))
	}
	risks := slices.Clone(act)
	tell(rule.NeverLeave, risks)
	for s := range longest {
		for i := range limits {
			if s < len(t.probs[i]) {
				above[i] -= t.probs[i][s]
				below[i] += t.probs[i][s]
			}
			risks[i] = act[i]*above[i] + leave[i]*below[i]
		}
		tell(s, risks)
	}
}

// single returns the table that decides at stop j only, at the number c.
func single(units, j, c int) Table {
	p := Problem{Units: units, Maximum: j}
	t := p.allContinue()
	t.Leave[j-1], t.Act[j-1] = c, c+1
	return t
}

// SingleCut returns the table of a visit that always walks stops stops and acts
// when the share of units seen reaches share ("25% seen or more").
func SingleCut(units, stops int, share float64) Table {
	act := int(math.Ceil(share*float64(units*stops) - rule.NearInteger))
	return single(units, stops, act-1)
}
