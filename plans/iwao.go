package plans

import (
	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/plans/internal/search"
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
func (s *StagePlan) iwaoTable(p *search.Problem) Table {
	c := s.Threshold
	perUnit := s.Law().Variance(c, p.Units) / float64(p.Units)
	low := distuv.UnitNormal.Quantile(1 - s.MissedRisk)
	high := distuv.UnitNormal.Quantile(1 - s.NeedlessRisk)
	return p.Curves(c, perUnit, low, high)
}
