package search

import (
	"math"

	"stopwise/plans/rule"
)

// Where stops have means of their own, every exact evaluation of many thousands of
// totals walks through all stops. Tables are then searched for with totals in
// small steps, whose rounding changes a risk in its third digit; the exact risks
// of the full totals decide at the end, and what rounding let through is asked for
// once more with a little less risk allowed.

// coarseTotals is about how many steps that are; visits that are longer get more,
// so that the totals of a stop stay apart.
const (
	coarseTotals = 1200
	coarseStop   = 40
)

// large reports whether the full totals are too many to search on: totals that add
// up over stops are evaluated much faster.
func (p *Problem) large() bool {
	return !p.Bounded && p.Top >= 2*coarseTotals && !additive(p.Effort[len(p.Effort)-1].Population)
}

// coarseTries bounds how often less risk is asked for.
const coarseTries = 6

// fromCoarse returns what find finds for totals in steps, back at full size, where
// it keeps the limits there.
func (p *Problem) fromCoarse(top int, find func(q *Problem, step int) (Table, bool)) (Table, bool) {
	full := *p
	full.Top = top
	q, step := full.onLattice(max(coarseTotals, coarseStop*p.Maximum))
	return p.fromSteps(q, step, find)
}

// fromSteps returns what find finds for the problem q, whose totals are those of p in
// steps, back at full size, where it keeps the limits there.
func (p *Problem) fromSteps(q Problem, step int, find func(q *Problem, step int) (Table, bool)) (Table, bool) {
	for range coarseTries {
		t, ok := find(&q, step)
		if !ok || p.stopped() {
			return Table{}, false
		}
		t = fullSize(t, step)
		kept := true
		for i, l := range p.Limits {
			if over := l.Risk(t) - l.Allowed; over > RiskSlack {
				kept = false
				q.Limits[i].Allowed -= 1.2*over + 1e-4*l.Allowed
			}
		}
		if kept {
			return t, true
		}
	}
	return Table{}, false
}

// coarsely returns tables on the lattice; those that do not fit on it are left out.
func coarsely(ts []Table, step int) []Table {
	var out []Table
	for _, t := range ts {
		t = t.Clone()
		for j := range t.Leave {
			if t.Leave[j] != rule.NeverLeave {
				t.Leave[j] = max(rule.NeverLeave, int(math.Round(float64(t.Leave[j]-(step-1)/2)/float64(step))))
			}
			if t.Act[j] != rule.NeverAct {
				t.Act[j] = max(t.Leave[j]+1, int(math.Round(float64(t.Act[j]+step/2)/float64(step))))
			}
		}
		last := len(t.Leave) - 1
		t.Act[last] = t.Leave[last] + 1
		if t.Check() == nil {
			out = append(out, t)
		}
	}
	return out
}
