package plans

import (
	"errors"
	"fmt"
	"math"

	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// A PrecisionAnswer is what a scout is told after a stop.
type PrecisionAnswer struct {
	// Done says that sampling may end: the estimate is precise enough, or the last
	// stop was reached.
	Done    bool
	Precise bool // the estimate has the precision asked for
	Stop    int
	Plants  int
	Units   int // plants, or leaves for a mean
	Total   int // infested plants, or insects
	StopAt  int // total that suffices with these units, or NeverAct
	// DoneAt is the stop at which sampling could end; 0 while it cannot.
	DoneAt int
	// Next is what the next stop would have to show at least to end the sampling,
	// with the planned plants; NeverAct where it cannot.
	Next     int
	Estimate float64
	// RelativeError is the standard error relative to the estimate, Half the half
	// width of the interval relative to it; both +Inf where nothing was seen.
	RelativeError, Half float64
	Interval            sampling.Interval
}

// Check answers the scout after the stops seen so far. The interval of a mean
// is normal, and as clumped as the plan's law says (its upper end is +Inf where
// nothing was seen and the counts are so clumped that this tells nothing); that of
// a share is Wilson's.
func (p *PrecisionPlan) Check(counts []Count) (PrecisionAnswer, error) {
	if len(counts) == 0 {
		return PrecisionAnswer{}, errors.New("no counts; give one for each stop, for example 3 5 2/18")
	}
	if n := p.Stop.Maximum; len(counts) > n {
		return PrecisionAnswer{}, fmt.Errorf("%d counts, but the plan ends at stop %d", len(counts), n)
	}
	a := PrecisionAnswer{Stop: len(counts), Next: NeverAct, StopAt: NeverAct}
	var plants []int
	for i, c := range counts {
		m := c.Plants
		if m == 0 {
			m = p.Stop.Plants
		}
		switch {
		case m > protocol.MaxPlants:
			return PrecisionAnswer{}, fmt.Errorf("stop %d: %d plants; accepted: up to %d", i+1, m, protocol.MaxPlants)
		case p.Measure == ShareInfested && c.Total > m:
			return PrecisionAnswer{}, fmt.Errorf("stop %d: %d infested of %d plants; write %d/PLANTS if more plants were seen", i+1, c.Total, m, c.Total)
		}
		plants = append(plants, m)
		a.Plants += m
		a.Total += c.Total
		a.StopAt = p.stopAfter(plants)
		a.Precise = a.Total >= a.StopAt
		if a.DoneAt == 0 && (a.Precise || i+1 == p.Stop.Maximum) {
			a.DoneAt = i + 1
		}
	}
	a.Done = a.DoneAt > 0
	a.Units = p.Units(a.Plants)
	n := p.sampleOf(plants)
	a.Estimate = float64(a.Total) / n.units
	a.RelativeError = p.relativeError(a.Estimate, n)
	a.Half = p.z() * a.RelativeError
	a.Interval = p.interval(a, n)
	if !a.Done {
		if t := p.stopAfter(append(plants, p.Stop.Plants)); t != NeverAct {
			next := max(0, t-a.Total)
			if p.Measure == MeanPerLeaf || next <= p.Stop.Plants {
				a.Next = next
			}
		}
	}
	return a, nil
}

// stopAfter returns the total that suffices after stops with the given plants.
func (p *PrecisionPlan) stopAfter(plants []int) int {
	if len(plants) < p.Stop.Minimum {
		return NeverAct
	}
	return p.stopAt(p.sampleOf(plants))
}

func (p *PrecisionPlan) interval(a PrecisionAnswer, n sample) sampling.Interval {
	if p.Measure == ShareInfested {
		return sampling.Wilson(a.Estimate*n.effective, n.effective, p.Confidence)
	}
	if a.Total == 0 {
		// The likelihood's upper limit, with the clumping at one insect in all; the
		// normal interval has none.
		in, err := sampling.MeanLikelihood(0, a.Units, tally.K(p.law(), 1/n.units), p.Confidence)
		if err != nil { // k so small that nothing seen says nothing
			in = sampling.Interval{Lower: 0, Upper: math.Inf(1), Confidence: p.Confidence}
		}
		return in
	}
	half := a.Half * a.Estimate
	return sampling.Interval{Lower: math.Max(0, a.Estimate-half), Upper: a.Estimate + half, Confidence: p.Confidence}
}
