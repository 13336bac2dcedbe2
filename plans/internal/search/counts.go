package search

import (
	"math"
	"slices"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Insect counts run to thousands a stop, too many totals for the search of
// risktrue.go. So it is done on a lattice first: the totals are taken in steps,
// each lattice point standing for the totals around it. The numbers found are
// then put back to full size and moved, by ever smaller steps, with the exact
// evaluation of the full counts deciding.

// latticeTotals is about how many lattice points a design is searched on.
const latticeTotals = 250

// A latticed population sees totals in steps. The stop of the planned units is
// computed once, as far as the lattice reaches.
type latticed struct {
	sampling.Population
	step, units int
	stop        latticedStop
}

func (l *latticed) Stop(units int) sampling.StopTotal {
	if units == l.units {
		return l.stop
	}
	return latticedStop{StopTotal: l.Population.Stop(units), step: l.step}
}

type latticedStop struct {
	sampling.StopTotal
	step  int
	known []float64 // Tails of the first points
}

func (l latticedStop) Mean() float64     { return l.StopTotal.Mean() / float64(l.step) }
func (l latticedStop) Variance() float64 { return l.StopTotal.Variance() / float64(l.step*l.step) }

// Tails returns P(total >= the lowest of point x's totals).
func (l latticedStop) Tails(n int) []float64 {
	if n < len(l.known) {
		return slices.Clone(l.known[:n+1])
	}
	all := l.StopTotal.Tails(n*l.step + 1)
	t := make([]float64, n+1)
	for x := range t {
		t[x] = all[max(0, x*l.step-l.step/2)]
	}
	return t
}

func (l latticedStop) Probs(n int) []float64 {
	t := l.Tails(n + 1)
	for x := range n + 1 {
		t[x] -= t[x+1]
	}
	return t[:n+1]
}

// onLattice returns the problem with totals in steps, about so many of them, and
// the step.
func (p *Problem) onLattice(points int) (Problem, int) {
	step := max(1, p.Top/points)
	q := *p
	q.Top = p.Top / step
	q.Effort, q.Limits = slices.Clone(p.Effort), slices.Clone(p.Limits)
	seen := map[sampling.Population]*latticed{}
	lattice := func(pop sampling.Population) sampling.Population {
		if l := seen[pop]; l != nil {
			return l
		}
		l := &latticed{Population: pop, step: step, units: p.Units}
		l.stop = latticedStop{StopTotal: pop.Stop(p.Units), step: step}
		l.stop.known = l.stop.Tails(q.Top + 2)
		seen[pop] = l
		return l
	}
	for i := range q.Effort {
		q.Effort[i].Population = lattice(q.Effort[i].Population)
	}
	for i := range q.Limits {
		q.Limits[i].Population = lattice(q.Limits[i].Population)
	}
	return q, step
}

// fullSize puts a lattice table back on the full totals: a leave number at the
// highest total of its point, an act number at the lowest of its own.
func fullSize(t Table, step int) Table {
	t = t.Clone()
	for j := range t.Leave {
		if t.Leave[j] != rule.NeverLeave {
			t.Leave[j] = t.Leave[j]*step + (step-1)/2
		}
		if t.Act[j] != rule.NeverAct {
			t.Act[j] = max(t.Act[j]*step-step/2, t.Leave[j]+1)
		}
	}
	t.Act[len(t.Act)-1] = t.Leave[len(t.Leave)-1] + 1
	return t
}

// countTable searches for the table of a count plan with the least weighted
// stops that keeps both risks.
func (p *Problem) countTable(starts []Table) (Table, bool) {
	if p.large() {
		return p.fromCoarse(p.Top, func(q *Problem, step int) (Table, bool) { return q.countTable(coarsely(starts, step)) })
	}
	q, step := p.onLattice(latticeTotals)
	q.Rough = true
	candidates := starts
	if t, ok := q.riskTrue(nil); ok {
		candidates = append(candidates, fullSize(t, step))
	}
	best, found, effort := Table{}, false, math.Inf(1)
	for _, t := range candidates {
		t = p.refine(t, step)
		if x := p.Stops(t); p.Keeps(t) && x < effort-leastGain {
			best, found, effort = t, true, x
		}
	}
	return best, found
}

// countLines searches for the pair of lines of a count plan that keeps both
// risks: on the lattice, then with gaps widened until the full counts keep them.
func (p *Problem) countLines(textbook rule.LinePair) (rule.LinePair, Table, bool) {
	q, step := p.onLattice(latticeTotals)
	q.Rough = true
	scale := func(l rule.LinePair, by float64) rule.LinePair {
		return rule.LinePair{Slope: l.Slope * by, LeaveGap: l.LeaveGap * by, ActGap: l.ActGap * by}
	}
	small, _, ok := q.riskLines(scale(textbook, 1/float64(step)))
	lines := scale(small, float64(step))
	for range 40 {
		t := lines.Table(p.Units, p.Minimum, p.Maximum, p.Bounded)
		if !ok || p.stopped() {
			return lines, t, false
		}
		if t.Check() == nil && p.Keeps(t) {
			return lines, t, true
		}
		lines.LeaveGap *= 1.01
		lines.ActGap *= 1.01
	}
	return lines, Table{}, false
}

// refine moves the numbers of a table by ever smaller steps while that brings it
// closer to keeping the limits, and then saves stops.
func (p *Problem) refine(t Table, step int) Table {
	x := newExact(p)
	now := x.merit(t)
	for ; step >= 1; step /= 2 {
		for again := true; again && !p.stopped(); {
			again = false
			for j := range t.Leave {
				if j+1 < p.Minimum && j < p.Maximum-1 || !p.reached(t, j) {
					continue
				}
				for _, m := range []move{{stop: j, by: step}, {stop: j, by: -step}, {stop: j, act: true, by: step}, {stop: j, act: true, by: -step}} {
					u, ok := moved(t, m)
					if !ok {
						continue
					}
					merit := x.merit(u)
					if now.keeps && !merit.keeps {
						continue
					}
					if merit.total < now.total-leastGain && (!merit.keeps || p.Keeps(u)) {
						t, now, again = u, merit, true
					}
				}
			}
		}
	}
	return t
}

// An exact judge looks at a table through the exact evaluation, in the worlds that
// a search looks at first.
type exact struct {
	p      *Problem
	limits []Limit
}

type merit struct {
	total float64 // expected stops and penalties
	keeps bool
}

func newExact(p *Problem) *exact {
	x := &exact{p: p}
	for _, i := range p.likely() {
		x.limits = append(x.limits, p.Limits[i])
	}
	return x
}

func (x *exact) merit(t Table) merit {
	seen := map[sampling.Population]rule.Evaluation{}
	evaluate := func(pop sampling.Population) rule.Evaluation {
		e, ok := seen[pop]
		if !ok {
			e = rule.Evaluate(t, pop)
			seen[pop] = e
		}
		return e
	}
	m := merit{keeps: true}
	for _, w := range x.p.Effort {
		m.total += w.Weight * evaluate(w.Population).ExpectedStops
	}
	over := 0.0
	for _, l := range x.limits {
		risk := l.of(evaluate(l.Population))
		over += max(0, risk/l.Allowed-1)
		m.keeps = m.keeps && risk <= l.Allowed
	}
	m.total += penalty * over
	return m
}

// moved returns the table with one number moved, and whether it is still one.
func moved(t Table, m move) (Table, bool) {
	t = t.Clone()
	j, last := m.stop, len(t.Leave)-1
	switch {
	case j == last:
		t.Leave[j] = max(rule.NeverLeave, t.Leave[j]+m.by)
		t.Act[j] = t.Leave[j] + 1
	case m.act && t.Act[j] == rule.NeverAct, !m.act && t.Leave[j] == rule.NeverLeave && m.by < 0:
		return t, false
	case m.act:
		t.Act[j] += m.by
	default:
		t.Leave[j] = max(rule.NeverLeave, t.Leave[j]+m.by)
	}
	return t, t.Check() == nil
}

// reached reports whether walks come to a stop (from 0) at all often enough for
// its numbers to matter.
func (p *Problem) reached(t Table, j int) bool {
	if j < p.Minimum {
		return true
	}
	before := 0.0
	for _, o := range rule.Evaluate(t, p.Effort[len(p.Effort)/2].Population).Stops[:j] {
		before += o.Leave + o.Act
	}
	return before < 1-1e-6
}
