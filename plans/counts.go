package plans

import (
	"math"

	"stopwise/sampling"
)

// Insect counts run to thousands a stop, too many totals for the search of
// risktrue.go. So it is done on a lattice first: the totals are taken in steps,
// each lattice point standing for the totals around it. The numbers found are
// then put back to full size and moved, by ever smaller steps, with the exact
// evaluation of the full counts deciding.

// latticeTotals is about how many lattice points a design is searched on.
const latticeTotals = 250

// A latticed population sees totals in steps.
type latticed struct {
	sampling.Population
	step int
}

func (l latticed) Stop(units int) sampling.StopTotal {
	return latticedStop{l.Population.Stop(units), l.step}
}

type latticedStop struct {
	sampling.StopTotal
	step int
}

func (l latticedStop) Mean() float64     { return l.StopTotal.Mean() / float64(l.step) }
func (l latticedStop) Variance() float64 { return l.StopTotal.Variance() / float64(l.step*l.step) }

// Tails returns P(total >= the lowest of point x's totals).
func (l latticedStop) Tails(n int) []float64 {
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

// onLattice returns the problem with totals in steps, and the step.
func (p *problem) onLattice() (problem, int) {
	step := max(1, p.top/latticeTotals)
	q := *p
	q.top = p.top / step
	q.rough = true
	wrap := func(x sampling.Population) sampling.Population { return latticed{x, step} }
	all := func(xs []sampling.Population) []sampling.Population {
		out := make([]sampling.Population, len(xs))
		for i, x := range xs {
			out[i] = wrap(x)
		}
		return out
	}
	q.lower, q.middle, q.upper = wrap(p.lower), wrap(p.middle), wrap(p.upper)
	q.needless, q.missed = all(p.needless), all(p.missed)
	return q, step
}

// fullSize puts a lattice table back on the full totals: a leave number at the
// highest total of its point, an act number at the lowest of its own.
func fullSize(t Table, step int) Table {
	t = t.Clone()
	for j := range t.Leave {
		if t.Leave[j] != NeverLeave {
			t.Leave[j] = t.Leave[j]*step + (step-1)/2
		}
		if t.Act[j] != NeverAct {
			t.Act[j] = max(t.Act[j]*step-step/2, t.Leave[j]+1)
		}
	}
	t.Act[len(t.Act)-1] = t.Leave[len(t.Leave)-1] + 1
	return t
}

// countTable searches for the table of a count plan with the least weighted
// stops that keeps both risks.
func (p *problem) countTable(starts []Table, stop func() bool) (Table, bool) {
	q, step := p.onLattice()
	candidates := starts
	if t, ok := q.riskTrue(nil, stop); ok {
		candidates = append(candidates, fullSize(t, step))
	}
	best, found, effort := Table{}, false, math.Inf(1)
	for _, t := range candidates {
		t = p.refine(t, step, stop)
		if x := p.effort(t); p.keeps(t) && x < effort-leastGain {
			best, found, effort = t, true, x
		}
	}
	return best, found
}

// countLines searches for the pair of lines of a count plan that keeps both
// risks: on the lattice, then with gaps widened until the full counts keep them.
func (p *problem) countLines(textbook LinePair, stop func() bool) (LinePair, Table, bool) {
	q, step := p.onLattice()
	scale := func(l LinePair, by float64) LinePair { return LinePair{l.Slope * by, l.LeaveGap * by, l.ActGap * by} }
	small, _, ok := q.riskLines(scale(textbook, 1/float64(step)), stop)
	lines := scale(small, float64(step))
	for range 40 {
		t := lines.Table(p.units, p.minimum, p.maximum, p.bounded)
		if !ok || stop() {
			return lines, t, false
		}
		if t.Check() == nil && p.keeps(t) {
			return lines, t, true
		}
		lines.LeaveGap *= 1.01
		lines.ActGap *= 1.01
	}
	return lines, Table{}, false
}

// refine moves the numbers of a table by ever smaller steps while that brings it
// closer to keeping the risks, and then saves stops.
func (p *problem) refine(t Table, step int, stop func() bool) Table {
	now := p.exactScore(t)
	for ; step >= 1; step /= 2 {
		for again := true; again && !stop(); {
			again = false
			for j := range t.Leave {
				if j+1 < p.minimum && j < p.maximum-1 || !p.reached(t, j) {
					continue
				}
				for _, m := range []move{{stop: j, by: step}, {stop: j, by: -step}, {stop: j, act: true, by: step}, {stop: j, act: true, by: -step}} {
					u, ok := moved(t, m)
					if !ok {
						continue
					}
					sc := p.exactScore(u)
					if now.keeps(p) && !sc.keeps(p) {
						continue
					}
					if sc.total(p, 0) < now.total(p, 0)-leastGain && (!sc.keeps(p) || p.keeps(u)) {
						t, now, again = u, sc, true
					}
				}
			}
		}
	}
	return t
}

// moved returns the table with one number moved, and whether it is still one.
func moved(t Table, m move) (Table, bool) {
	t = t.Clone()
	j, last := m.stop, len(t.Leave)-1
	switch {
	case j == last:
		t.Leave[j] = max(NeverLeave, t.Leave[j]+m.by)
		t.Act[j] = t.Leave[j] + 1
	case m.act && t.Act[j] == NeverAct, !m.act && t.Leave[j] == NeverLeave && m.by < 0:
		return t, false
	case m.act:
		t.Act[j] += m.by
	default:
		t.Leave[j] = max(NeverLeave, t.Leave[j]+m.by)
	}
	return t, t.Check() == nil
}

// reached reports whether walks come to a stop (from 0) at all often enough for
// its numbers to matter.
func (p *problem) reached(t Table, j int) bool {
	if j < p.minimum {
		return true
	}
	before := 0.0
	for _, o := range Evaluate(t, p.middle).Stops[:j] {
		before += o.Leave + o.Act
	}
	return before < 1-1e-6
}

// exactScore is the score of a table by the exact evaluation, in the worlds that
// a search takes as the worst.
func (p *problem) exactScore(t Table) score {
	lower, upper := Evaluate(t, p.lower), Evaluate(t, p.upper)
	sc := score{needless: lower.Act, missed: upper.Leave}
	if w := p.needless[p.needlessAt]; w != p.lower {
		sc.needless = Evaluate(t, w).Act
	}
	if w := p.missed[p.missedAt]; w != p.upper {
		sc.missed = Evaluate(t, w).Leave
	}
	sc.effort = p.weights[0]*lower.ExpectedStops + p.weights[1]*Evaluate(t, p.middle).ExpectedStops + p.weights[2]*upper.ExpectedStops
	return sc
}
