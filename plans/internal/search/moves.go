package search

import (
	"math"

	"stopwise/plans/rule"
)

// A move shifts one number of a table by one.
type move struct {
	stop  int
	act   bool // the act number, else the leave number; at the last stop both
	by    int
	delta score // exact change for this move alone
}

// moves returns every legal single move from a table, with its exact effect,
// read off what arrives at the one total that changes its verdict and what would
// come after it.
func (e *engine) moves(t *Table) []move {
	e.score(t)
	var out []move
	add := func(j int, act bool, by, s int, from, to rule.Verdict) {
		out = append(out, move{j, act, by, e.swap(j, s, from, to)})
	}
	for j := range e.maximum {
		last := j == e.maximum-1
		if j+1 < e.minimum && !last {
			continue
		}
		a, r, n := t.Leave[j], t.Act[j], e.size(j)
		if last {
			if a+1 < n {
				add(j, false, +1, a+1, rule.Act, rule.Leave)
			}
			if a >= 0 {
				add(j, false, -1, a, rule.Leave, rule.Act)
			}
			continue
		}
		if a+1 < min(r, n) {
			add(j, false, +1, a+1, rule.Continue, rule.Leave)
		}
		if a >= 0 {
			add(j, false, -1, a, rule.Leave, rule.Continue)
		}
		switch {
		case r == rule.NeverAct:
			if n-1 > a {
				add(j, true, -1, n-1, rule.Continue, rule.Act)
			}
		default:
			if r-1 > a {
				add(j, true, -1, r-1, rule.Continue, rule.Act)
			}
			add(j, true, +1, r, rule.Act, rule.Continue)
		}
	}
	return out
}

// swap returns the effect of giving total s at stop j another verdict.
func (e *engine) swap(j, s int, from, to rule.Verdict) score {
	var d score
	for i := range e.terms {
		k := &e.terms[i]
		change := e.worlds[k.world].arrive[j][s] * (e.outcome(i, j, s, to) - e.outcome(i, j, s, from))
		if i < e.efforts {
			d.effort += k.weight * change
		} else {
			d.risks[i-e.efforts] = change
		}
	}
	return d
}

// outcome returns what is to come of term i at a total with a verdict.
func (e *engine) outcome(i, j, s int, v rule.Verdict) float64 {
	k := &e.terms[i]
	switch {
	case v == rule.Continue:
		return k.ahead[j][s]
	case i < e.efforts:
		return 0
	case v == rule.Act:
		return k.act[j]
	}
	return k.leave[j]
}

// apply returns the table with moves made, or false where the result is no decision
// table.
func (e *engine) apply(t Table, ms ...move) (Table, bool) {
	t = t.Clone()
	for _, m := range ms {
		j := m.stop
		switch {
		case j == e.maximum-1:
			t.Leave[j] += m.by
			t.Act[j] = t.Leave[j] + 1
		case !m.act:
			t.Leave[j] += m.by
		case t.Act[j] == rule.NeverAct:
			t.Act[j] = e.size(j) - 1
		default:
			t.Act[j] += m.by
			if t.Act[j] >= e.size(j) {
				t.Act[j] = rule.NeverAct
			}
		}
	}
	return t, t.Check() == nil
}

// tries bounds how many combined moves are evaluated exactly in a round: they
// are taken in the order of what they seem to save.
const tries = 400

// leastGain is the least saving of expected stops worth a change.
const leastGain = 1e-10

// improve brings a table to keep the risks and then lowers its effort, by
// single, double and triple moves, until none helps. The effects of moves at
// different stops nearly add up, so the sums pick the candidates and an exact
// evaluation decides. The result may still break the risks where it began so, and
// limits that are not looked at.
func (e *engine) improve(t Table, p *Problem) Table {
	now := e.quick(&t)
	for !p.stopped() {
		ms := e.moves(&t)
		e.mark(&t)
		u, sc, ok := e.bestOf(t, now, ms, e.combine(ms, &now))
		if !ok {
			break
		}
		t, now = u, sc
	}
	return t
}

// bestOf returns the table after the first of the combined moves that makes it better.
func (e *engine) bestOf(t Table, now score, ms []move, candidates []combination) (Table, score, bool) {
	before, broken := e.total(&now, 0)-leastGain, math.Inf(1)
	if e.keeps(&now) {
		broken = math.Inf(-1)
	}
	for _, c := range candidates {
		var made [3]move
		first := e.maximum
		for i, m := range c.moves[:c.n] {
			made[i] = ms[m]
			first = min(first, made[i].stop)
		}
		u, ok := e.apply(t, made[:c.n]...)
		if !ok {
			continue
		}
		if sc, ok := e.better(&u, first, before, broken); ok && e.total(&sc, 0) < before {
			return u, sc, true
		}
	}
	return t, now, false
}
