package plans

import (
	"stopwise/plans/internal/parallel"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// A Loss is what a plan loses on average in one field, in the protocol's
// currency. Treating at the threshold or above is no loss: it is what has to be
// done. So is leaving below it.
type Loss struct {
	Act      float64 `json:"p_act"`    // chance of acting
	Needless float64 `json:"needless"` // from treating below the threshold
	Missed   float64 `json:"missed"`   // from leaving at the threshold or above
	Scouting float64 `json:"scouting"` // the scout's time
}

// Total returns the sum of the losses.
func (l Loss) Total() float64 { return l.Needless + l.Missed + l.Scouting }

func (l *Loss) add(weight float64, m Loss) {
	l.Act += weight * m.Act
	l.Needless += weight * m.Needless
	l.Missed += weight * m.Missed
	l.Scouting += weight * m.Scouting
}

// LossAt returns the plan's exact expected loss in a field at a level, as
// clumped as the protocol's clumped end. The protocol must have costs.
//
// A field below the threshold that is treated loses the treatment; one at the
// threshold or above that is left is treated late and loses the stage's share of
// the crop; and every visit takes the scout's time. What depends on a chance of
// the sign that is not known is NaN.
func (s *StagePlan) LossAt(level float64) Loss {
	k := s.Costs
	w := s.Clumped(level)
	count := s.Count(w.Population())
	v := count.WithSign(s.SignMet(level))
	e := s.effort("", w, count)
	l := Loss{Act: e.Act, Scouting: e.Minutes / 60 * k.ScoutPerHour}
	if level < s.Threshold {
		l.Needless = e.Act * k.NeedlessCost()
	} else {
		l.Missed = v.Leave * k.MissedCost(s.Stage)
	}
	return l
}

// lossNodes is the number of levels on each side of the threshold at which the
// loss is computed for its average. Twice as many change it by less than 1e-4 of
// itself.
const lossNodes = 12

// ExpectedLoss returns the loss averaged over the levels of the fields visited:
// over [StagePlan.Prior] for a share infested. For a mean per leaf the mean is
// taken as exponentially distributed about the threshold, an assumption without
// a source. The protocol must have costs.
func (s *StagePlan) ExpectedLoss() Loss { return s.expectedLoss(lossNodes) }

func (s *StagePlan) expectedLoss(nodes int) Loss {
	var spread interface {
		CDF(float64) float64
		Quantile(float64) float64
	} = distuv.Gamma{Alpha: 1, Beta: 1 / s.Threshold}
	if s.bounded() {
		b := s.Prior()
		spread = distuv.Beta{Alpha: b.A, Beta: b.B}
	}
	// Averaged over the quantiles of the prior, because its density may have poles
	// at the ends; in two parts, because the loss jumps at the threshold.
	below := spread.CDF(s.Threshold)
	var mean Loss
	for _, part := range [][2]float64{{0, below}, {below, 1}} {
		x, weight := make([]float64, nodes), make([]float64, nodes)
		quad.Legendre{}.FixedLocations(x, weight, part[0], part[1])
		losses := make([]Loss, nodes)
		parallel.Each(nodes, func(i int) { losses[i] = s.LossAt(spread.Quantile(x[i])) })
		for i, l := range losses {
			mean.add(weight[i], l)
		}
	}
	return mean
}

// Prior returns the prior of a stage whose measure is a share infested.
func (s *StagePlan) Prior() BetaPrior {
	if k := s.Costs; k != nil && k.Prior != nil {
		return *k.Prior
	}
	return DefaultPrior(s.Threshold)
}
