package plans

import (
	"math"
	"stopwise/plans/rule"

	"gonum.org/v1/gonum/stat/distuv"
)

// iwaoTable returns the table of Iwao's decision curves around the threshold c
// after n units,
//
//	n c - z sqrt(n v)  and  n c + z sqrt(n v)
//
// where v is the variance per unit at the threshold: of a count, or of a clumped
// share c(1-c) times the design effect. z belongs to the allowed missed risk on
// the lower curve and to the needless risk on the upper one. The curves test the
// threshold anew at every stop and have no risk guarantee at all: the exact risks
// at the bounds are what to go by.
//
// Iwao, S. (1975) A new method of sequential sampling to classify populations
// relative to a critical density. Res. Popul. Ecol. 16: 281-288.
func (s *StagePlan) iwaoTable(p *problem) Table {
	c := s.Threshold
	perUnit := s.Law().Variance(c, p.units) / float64(p.units)
	low := distuv.UnitNormal.Quantile(1 - s.MissedRisk)
	high := distuv.UnitNormal.Quantile(1 - s.NeedlessRisk)
	t := p.allContinue()
	last := rule.Int(math.Floor(c*float64(p.units*p.maximum) + rule.NearInteger))
	for j := range t.Leave {
		n := float64(p.units * (j + 1))
		if j+1 < p.minimum {
			continue
		}
		t.Leave[j] = min(last, max(NeverLeave, rule.Int(math.Floor(n*c-low*math.Sqrt(n*perUnit)+rule.NearInteger))))
		if act := rule.Int(math.Ceil(n*c + high*math.Sqrt(n*perUnit) - rule.NearInteger)); !p.bounded || act <= p.units*(j+1) {
			t.Act[j] = min(last+1, act)
		}
	}
	t.Leave[p.maximum-1], t.Act[p.maximum-1] = last, last+1
	return t
}
