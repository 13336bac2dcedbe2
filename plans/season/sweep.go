package season

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/rule"
)

// beyond is the share of the walks that a table ends which a sweep still carries on:
// so little that it does not change what is best, and enough to tell what would be
// best where the table ends all walks.
const beyond = 1e-5

// vanishing is the chance of a total below which a sweep does not carry it on.
const vanishing = 1e-15

// A sweeper improves tables of one size. Totals above top count as top.
type sweeper struct {
	units, minimum, maximum, top int
}

// reached returns the chances of the totals after each stop of a table, before they
// are read.
func (w sweeper) reached(t rule.Table, x *stopTotals) [][]float64 {
	out := make([][]float64, w.maximum)
	carry := []float64{1}
	for j := range out {
		next := w.stop(carry, x)
		out[j] = next
		carry = append([]float64(nil), next...)
		for s := range carry {
			if t.Verdict(j+1, s) != rule.Continue {
				carry[s] *= beyond
			}
		}
	}
	return out
}

// stop returns the chances of the totals after one more stop.
func (w sweeper) stop(carry []float64, x *stopTotals) []float64 {
	n := min(w.top, len(carry)-1+len(x.probs)-1)
	next := make([]float64, n+1)
	for s, f := range carry {
		if f < vanishing {
			continue
		}
		k := min(len(x.probs), n-s)
		floats.AddScaled(next[s:s+k], f, x.probs[:k])
		next[n] += f * x.tails[min(k, len(x.tails)-1)]
	}
	return next
}

// sweep returns the table in which every total has the verdict of least cost, summed
// over the models as often as the table t brings each of them there, with what the new
// table does at later stops. It goes from the last stop to the first. classes tells
// the class of a field that is left with a total at a stop.
func (w sweeper) sweep(t rule.Table, models []*model, classes func(stop, total int) int) rule.Table {
	out := t.Clone()
	reach := make([][][]float64, len(models))
	later := make([][]float64, len(models)) // cost of a total after the later stop
	parallel.Each(len(models), func(n int) { reach[n] = w.reached(t, models[n].stop) })
	onwards := make([][]float64, len(models))
	for j := w.maximum - 1; j >= 0; j-- {
		size := 0
		for n := range models {
			size = max(size, len(reach[n][j]))
		}
		class := make([]int, size)
		for s := range class {
			class[s] = classes(j+1, s)
		}
		var leave, act, walk = make([]float64, size), make([]float64, size), make([]float64, size)
		parallel.Each(len(models), func(n int) {
			if j+1 < w.maximum {
				onwards[n] = w.walkOn(models[n], later[n], len(reach[n][j]))
			}
		})
		for n, m := range models {
			met := m.allowed(j + 1)
			for s, f := range reach[n][j] {
				leave[s] += f * m.leave[class[s]]
				act[s] += f * (met*m.act + (1-met)*m.leave[class[s]])
				if j+1 < w.maximum {
					walk[s] += f * onwards[n][s]
				}
			}
		}
		w.choose(&out, j, leave, walk, act)
		for n, m := range models {
			met, cost := m.allowed(j+1), make([]float64, len(reach[n][j]))
			for s := range cost {
				switch out.Verdict(j+1, s) {
				case rule.Leave:
					cost[s] = m.leave[class[s]]
				case rule.Act:
					cost[s] = met*m.act + (1-met)*m.leave[class[s]]
				default:
					cost[s] = onwards[n][s]
				}
			}
			later[n] = cost
		}
	}
	return out
}

// walkOn returns the cost of walking on from every total below size.
func (w sweeper) walkOn(m *model, later []float64, size int) []float64 {
	out := make([]float64, size)
	for s := range out {
		k := min(len(m.stop.probs), len(later)-1-s)
		sum := m.walk
		if k > 0 {
			sum += floats.Dot(m.stop.probs[:k], later[s:s+k])
		}
		k = max(k, 0)
		out[s] = sum + m.stop.tails[min(k, len(m.stop.tails)-1)]*later[len(later)-1]
	}
	return out
}

// choose sets the numbers of the stop with index j to those of least cost that do not
// lie above the later stop's.
func (w sweeper) choose(t *rule.Table, j int, leave, walk, act []float64) {
	last := j+1 == w.maximum
	if j+1 < w.minimum && !last {
		t.Leave[j], t.Act[j] = rule.NeverLeave, rule.NeverAct
		return
	}
	top := len(act)
	maxLeave, maxAct := top-1, top
	if !last {
		maxLeave = min(maxLeave, t.Leave[j+1])
		if t.Act[j+1] != rule.NeverAct {
			maxAct = min(maxAct, t.Act[j+1])
		}
	}
	best, left := math.Inf(1), math.Inf(1)
	bestLeave := rule.NeverLeave
	sumL, sumC, sumA := 0.0, 0.0, 0.0
	// r is the act number, r-1 the largest leave number that it allows.
	for r := 0; r <= maxAct; r++ {
		if r > 0 {
			sumL, sumC, sumA = sumL+leave[r-1], sumC+walk[r-1], sumA+act[r-1]
		}
		if last {
			if x := sumL - sumA; x < best {
				best, t.Leave[j], t.Act[j] = x, r-1, r
			}
			continue
		}
		if x := sumL - sumC; r-1 <= maxLeave && x <= left {
			left, bestLeave = x, r-1
		}
		if x := left + sumC - sumA; x < best {
			best, t.Leave[j], t.Act[j] = x, bestLeave, r
		}
	}
	if t.Act[j] >= top && !last {
		t.Act[j] = rule.NeverAct
	}
}
