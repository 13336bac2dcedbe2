package plans

import (
	"math"

	"stopwise/sampling"
)

// A problem is what a design must solve: the worlds, the risks allowed in them,
// and the walk allowed.
type problem struct {
	units, minimum, maximum int
	bounded                 bool
	top                     int // for counts: the largest total told apart
	// The three worlds that the effort is averaged over, with their weights.
	lower, middle, upper sampling.Population
	weights              [3]float64
	// The worlds in which the risks must be kept, over the clumping range, and
	// the two that a search takes as the worst.
	needless, missed     []sampling.Population
	needlessAt, missedAt int
	alpha, beta          float64
	// rough asks the search for a good table rather than the best one.
	rough bool
}

// risks returns the largest risks of a table over all worlds, and where.
func (p *problem) risks(t Table) (needless, missed float64, needlessAt, missedAt int) {
	for i, w := range p.needless {
		if x := Evaluate(t, w).Act; x > needless {
			needless, needlessAt = x, i
		}
	}
	for i, w := range p.missed {
		if x := Evaluate(t, w).Leave; x > missed {
			missed, missedAt = x, i
		}
	}
	return needless, missed, needlessAt, missedAt
}

// keeps reports whether a table keeps both risks in all worlds.
func (p *problem) keeps(t Table) bool {
	for i, w := range p.needless {
		if Evaluate(t, w).Act > p.alpha+riskSlack || Evaluate(t, p.missed[i]).Leave > p.beta+riskSlack {
			return false
		}
	}
	return true
}

// effort returns the weighted expected stops of a table.
func (p *problem) effort(t Table) float64 {
	return p.weights[0]*Evaluate(t, p.lower).ExpectedStops +
		p.weights[1]*Evaluate(t, p.middle).ExpectedStops +
		p.weights[2]*Evaluate(t, p.upper).ExpectedStops
}

// allContinue returns the table that walks to the last stop.
func (p *problem) allContinue() Table {
	t := Table{Units: p.units, Leave: make([]int, p.maximum), Act: make([]int, p.maximum)}
	for j := range t.Leave {
		t.Leave[j], t.Act[j] = NeverLeave, NeverAct
	}
	t.Act[p.maximum-1] = 0
	return t
}

// countCeiling returns a total of all stops above which a field at the upper
// bound is hardly ever: no act number of a sensible plan lies higher.
func countCeiling(p *problem) int {
	total := p.upper.Stop(p.units * p.maximum)
	return int(total.Mean() + 4*math.Sqrt(total.Variance()))
}
