package search

import (
	"math"

	"stopwise/plans/rule"
)

// maxSweeps bounds the sweeps for one set of prices. Each lowers the objective;
// a handful is usual.
const maxSweeps = 30

// faint is the weight given to how likely a total would be if no walk ended
// early. It settles the numbers of totals that the present table cannot reach.
const faint = 1e-9

// descend lowers weighted stops + prices * risks by sweeps over the stops, from
// the last to the first: at each, the leave and act numbers are set to the best
// ones given how the walk arrives there and what comes after. Where plants are
// independent the total carries all that was seen, and one sweep from the table
// without early verdicts is exactly optimal. A price is paid in stops, per unit of
// the limit's risk.
func (e *engine) descend(t Table, prices []float64) Table {
	t = t.Clone()
	for range maxSweeps {
		before := t.Clone()
		e.forward(&t)
		e.backward(&t, func(j int) { e.choose(&t, j, prices) })
		if t.Equal(before) {
			break
		}
	}
	return t
}

// choose sets the numbers of stop j to the best ones.
func (e *engine) choose(t *Table, j int, prices []float64) {
	n := e.size(j)
	last := j == e.maximum-1
	if j+1 < e.minimum && !last {
		t.Leave[j], t.Act[j] = rule.NeverLeave, rule.NeverAct
		return
	}
	first, end := e.likely[j][0], e.likely[j][1]+1
	for i := range e.worlds {
		w := &e.worlds[i]
		chance, arrive, free := w.chance[first:end], w.arrive[j][first:end], w.free[j][first:end]
		for s, x := range arrive {
			chance[s] = x + faint*free[s]
		}
	}
	leave, act, on := e.costs[0][first:end], e.costs[1][first:end], e.costs[2][first:end]
	clear(leave)
	clear(act)
	clear(on)
	for i, k := range e.limits() {
		chance, price := e.worlds[k.world].chance[first:end], prices[i]
		onLeave, onAct, ahead := k.leave[j], k.act[j], k.ahead[j][first:end]
		for s, x := range chance {
			c := price * x
			leave[s] += c * onLeave
			act[s] += c * onAct
			on[s] += c * ahead[s]
		}
	}
	if last {
		// No walking on: cut where the sum of both is least.
		sum, best, a := 0.0, 0.0, rule.NeverLeave
		for s := range leave {
			sum += leave[s] - act[s]
			if sum < best {
				best, a = sum, first+s
			}
		}
		t.Leave[j], t.Act[j] = a, a+1
		return
	}
	for i := range e.efforts {
		k := &e.terms[i]
		chance, ahead := e.worlds[k.world].chance[first:end], k.ahead[j][first:end]
		for s, x := range chance {
			on[s] += k.weight * x * ahead[s]
		}
	}
	maxLeave, maxAct := t.Leave[j+1], t.Act[j+1]
	sum, best, a := 0.0, 0.0, rule.NeverLeave
	for s := first; s < end && s <= maxLeave; s++ {
		sum += leave[s-first] - on[s-first]
		if sum < best {
			best, a = sum, s
		}
	}
	sum, best = 0, math.Inf(1)
	r := rule.NeverAct
	if maxAct >= end { // nothing likely lies above
		best = 0
		if maxAct < n {
			r = maxAct
		}
	}
	for s := end - 1; s > a && maxAct != rule.NeverAct; s-- {
		sum += act[s-first] - on[s-first]
		if s <= maxAct && sum < best {
			best, r = sum, s
		}
	}
	t.Leave[j], t.Act[j] = a, r
}
