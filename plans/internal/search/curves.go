package search

import (
	"math"

	"stopwise/plans/rule"
)

// Curves returns the table of a pair of curves around the level c after n units,
//
//	n c - low sqrt(n v)  and  n c + high sqrt(n v)
//
// where v is the variance per unit at that level.
func (p *Problem) Curves(c, v, low, high float64) Table {
	t := p.allContinue()
	last := rule.Int(math.Floor(c*float64(p.Units*p.Maximum) + rule.NearInteger))
	for j := range t.Leave {
		n := float64(p.Units * (j + 1))
		if j+1 < p.Minimum {
			continue
		}
		t.Leave[j] = min(last, max(rule.NeverLeave, rule.Int(math.Floor(n*c-low*math.Sqrt(n*v)+rule.NearInteger))))
		if act := rule.Int(math.Ceil(n*c + high*math.Sqrt(n*v) - rule.NearInteger)); !p.Bounded || act <= p.Units*(j+1) {
			t.Act[j] = min(last+1, act)
		}
	}
	t.Leave[p.Maximum-1], t.Act[p.Maximum-1] = last, last+1
	return t
}
