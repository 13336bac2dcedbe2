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
	for i := range e.worlds {
		w := &e.worlds[i]
		for s := range n {
			w.chance[s] = w.arrive[j][s] + faint*w.free[j][s]
		}
	}
	leave, act, on := e.costs[0][:n], e.costs[1][:n], e.costs[2][:n]
	clear(leave)
	clear(act)
	clear(on)
	for i, k := range e.limits() {
		chance, price := e.worlds[k.world].chance[:n], prices[i]
		onLeave, onAct, ahead := k.leave[j], k.act[j], k.ahead[j][:n]
		for s := range n {
			c := price * chance[s]
			leave[s] += c * onLeave
			act[s] += c * onAct
			on[s] += c * ahead[s]
		}
	}
	if last {
		// No walking on: cut where the sum of both is least.
		sum, best, a := 0.0, 0.0, rule.NeverLeave
		for s := range n {
			sum += leave[s] - act[s]
			if sum < best {
				best, a = sum, s
			}
		}
		t.Leave[j], t.Act[j] = a, a+1
		return
	}
	for i := range e.efforts {
		k := &e.terms[i]
		chance, ahead := e.worlds[k.world].chance[:n], k.ahead[j][:n]
		for s := range n {
			on[s] += k.weight * chance[s] * ahead[s]
		}
	}
	maxLeave, maxAct := t.Leave[j+1], t.Act[j+1]
	sum, best, a := 0.0, 0.0, rule.NeverLeave
	for s := 0; s < n && s <= maxLeave; s++ {
		sum += leave[s] - on[s]
		if sum < best {
			best, a = sum, s
		}
	}
	sum, best = 0, math.Inf(1)
	r := n
	for s := n; s > a; s-- {
		if maxAct == rule.NeverAct && s < n {
			break
		}
		if s < n {
			sum += act[s] - on[s]
		}
		if s <= maxAct && sum < best {
			best, r = sum, s
		}
	}
	if r == n {
		r = rule.NeverAct
	}
	t.Leave[j], t.Act[j] = a, r
}
