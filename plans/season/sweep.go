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
	carry := make([]float64, 1, w.top+1)
	carry[0] = 1
	for j := range out {
		next := w.stop(carry, x)
		out[j] = next
		carry = append(carry[:0], next...)
		for s := range carry[:min(t.Leave[j]+1, len(carry))] {
			carry[s] *= beyond
		}
		for s := t.Act[j]; s < len(carry); s++ {
			carry[s] *= beyond
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

// A swept model is a model with what a sweep knows of it.
type sweptModel struct {
	*model
	reach   [][]float64
	onwards []float64 // cost of walking on from a total
	later   []float64 // cost of a total after the later stop
}

// sweep returns the table in which every total has the verdict of least cost, summed
// over the models as often as the table t brings each of them there, with what the new
// table does at later stops. It goes from the last stop to the first. classes tells
// the class of a field that is left with a total at a stop.
func (w sweeper) sweep(t rule.Table, models []*model, classes func(stop, total int) int) rule.Table {
	out := t.Clone()
	swept := make([]sweptModel, len(models))
	parallel.Each(len(models), func(n int) {
		swept[n] = sweptModel{
			model: models[n], reach: w.reached(t, models[n].stop),
			onwards: make([]float64, w.top+1), later: make([]float64, w.top+1),
		}
	})
	memory := make([]float64, 3*(w.top+1))
	for j := w.maximum - 1; j >= 0; j-- {
		last := j+1 == w.maximum
		size := 0
		for n := range swept {
			size = max(size, len(swept[n].reach[j]))
		}
		// From the later stop's act number on nothing but act can be best.
		open := size
		if !last && j+1 >= w.minimum {
			open = min(open, out.Act[j+1])
		}
		class := make([]int, size)
		for s := range class {
			class[s] = classes(j+1, s)
		}
		clear(memory)
		leave, act, walk := memory[:size], memory[w.top+1:][:size], memory[2*(w.top+1):][:size]
		if !last {
			parallel.Each(len(swept), func(n int) {
				m := &swept[n]
				m.walkOn(min(open, len(m.reach[j])), len(m.reach[j+1]))
			})
		}
		for n := range swept {
			m := &swept[n]
			met, reach := m.allowed(j+1), m.reach[j]
			for s, f := range reach[:min(open, len(reach))] {
				leave[s] += f * m.leave[class[s]]
				act[s] += f * (met*m.act + (1-met)*m.leave[class[s]])
				if !last {
					walk[s] += f * m.onwards[s]
				}
			}
		}
		w.choose(&out, j, leave, walk, act)
		for n := range swept {
			m := &swept[n]
			met := m.allowed(j + 1)
			for s := range m.reach[j] {
				switch out.Verdict(j+1, s) {
				case rule.Leave:
					m.later[s] = m.model.leave[class[s]]
				case rule.Act:
					m.later[s] = met*m.act + (1-met)*m.model.leave[class[s]]
				default:
					m.later[s] = m.onwards[s]
				}
			}
		}
	}
	return out
}

// walkOn sets the cost of walking on from every total below size; after the later stop
// there are so many totals.
func (m *sweptModel) walkOn(size, totals int) {
	later := m.later[:totals]
	for s := range m.onwards[:size] {
		k := min(len(m.stop.probs), len(later)-1-s)
		sum := m.walk
		if k > 0 {
			sum += floats.Dot(m.stop.probs[:k], later[s:s+k])
		}
		k = max(k, 0)
		m.onwards[s] = sum + m.stop.tails[min(k, len(m.stop.tails)-1)]*later[len(later)-1]
	}
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
