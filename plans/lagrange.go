package plans

import "math"

// prices are what a design pays for its risks while it is searched for: needless
// per unit chance of acting at the lower bound, missed per unit chance of
// leaving at the upper bound, in stops.
type prices struct{ needless, missed float64 }

// maxSweeps bounds the sweeps for one pair of prices. Each lowers the objective;
// a handful is usual.
const maxSweeps = 30

// faint is the weight given to how likely a total would be if no walk ended
// early. It settles the numbers of totals that the present table cannot reach.
const faint = 1e-9

// descend lowers weighted stops + prices * risks by sweeps over the stops, from
// the last to the first: at each, the leave and act numbers are set to the best
// ones given how the walk arrives there and what comes after. Where plants are
// independent the total carries all that was seen, and one sweep from the table
// without early verdicts is exactly optimal.
func (e *engine) descend(t Table, pr prices) Table {
	t = t.Clone()
	for range maxSweeps {
		before := t.Clone()
		e.forward(&t)
		e.backward(&t, func(j int) { e.choose(&t, j, pr) })
		if t.Equal(before) {
			break
		}
	}
	return t
}

// choose sets the numbers of stop j to the best ones.
func (e *engine) choose(t *Table, j int, pr prices) {
	n := e.size(j)
	last := j == e.maximum-1
	if j+1 < e.minimum && !last {
		t.Leave[j], t.Act[j] = NeverLeave, NeverAct
		return
	}
	chance := func(i, s int) float64 { return e.arrive[i][j][s] + faint*e.free[i][j][s] }
	leave := func(s int) float64 { return pr.missed * chance(missedWorld, s) }
	act := func(s int) float64 { return pr.needless * chance(needlessWorld, s) }
	if last {
		// No walking on: cut where the sum of both is least.
		sum, best, a := 0.0, 0.0, NeverLeave
		for s := range n {
			sum += leave(s) - act(s)
			if sum < best {
				best, a = sum, s
			}
		}
		t.Leave[j], t.Act[j] = a, a+1
		return
	}
	walkOn := func(s int) float64 {
		c := pr.needless*chance(needlessWorld, s)*e.ahead[needlessWorld][j][s] +
			pr.missed*chance(missedWorld, s)*e.ahead[missedWorld][j][s]
		for i, w := range e.weights {
			c += w * chance(i, s) * e.ahead[i][j][s]
		}
		return c
	}
	maxLeave, maxAct := t.Leave[j+1], t.Act[j+1]
	sum, best, a := 0.0, 0.0, NeverLeave
	for s := 0; s < n && s <= maxLeave; s++ {
		sum += leave(s) - walkOn(s)
		if sum < best {
			best, a = sum, s
		}
	}
	sum, best = 0, math.Inf(1)
	r := n
	for s := n; s > a; s-- {
		if maxAct == NeverAct && s < n {
			break
		}
		if s < n {
			sum += act(s) - walkOn(s)
		}
		if s <= maxAct && sum < best {
			best, r = sum, s
		}
	}
	if r == n {
		r = NeverAct
	}
	t.Leave[j], t.Act[j] = a, r
}
