package precision

import (
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// An Answer is what a scout is told after a stop.
type Answer struct {
	// Done says that sampling may end: the estimate is precise enough, or the last
	// stop was reached.
	Done    bool
	Precise bool // the estimate has the precision asked for
	Stop    int
	Plants  int
	Units   int // plants, or leaves for a mean
	Total   int // infested plants, or insects
	StopAt  int // total that suffices with these units, or rule.NeverAct
	// DoneAt is the stop at which sampling could end; 0 while it cannot.
	DoneAt int
	// Next is what the next stop would have to show at least to end the sampling,
	// with the planned plants; rule.NeverAct where it cannot.
	Next int
	// Seen is the share or mean seen. RelativeError is its standard error relative
	// to it, from which the rule to stop is made, and Half that many of them as half
	// an interval has; both +Inf where nothing was seen.
	Seen                float64
	RelativeError, Half float64
	// Known is what the visit tells of the level: because sampling stops early where
	// much is seen, the estimate is not quite what was seen.
	rule.Known
}

// Check answers the scout after the stops seen so far. The estimate is
// median-unbiased and the interval holds after stopping early, as
// [plans.StagePlan.Known] tells: its upper end is +Inf where the counts are so clumped
// that what was seen sets none. Stops after the one at which sampling could end
// do not count for them.
func (p *Plan) Check(counts []plans.Count) (Answer, error) {
	if len(counts) == 0 {
		return Answer{}, sampling.Refusef("no counts; give one for each stop, for example 3 5 2/18")
	}
	if n := p.Stop.Maximum; len(counts) > n {
		return Answer{}, sampling.Refusef("%d counts, but the plan ends at stop %d", len(counts), n)
	}
	a := Answer{Stop: len(counts), Next: rule.NeverAct, StopAt: rule.NeverAct}
	var plants []int
	for i, c := range counts {
		m := c.Plants
		if m == 0 {
			m = p.Stop.Plants
		}
		switch {
		case m > protocol.MaxPlants:
			return Answer{}, plans.AtStop(i+1, "%d plants; accepted: up to %d", m, protocol.MaxPlants)
		case p.Measure == protocol.ShareInfested && c.Total > m:
			return Answer{}, plans.AtStop(i+1, "%d infested of %d plants; write %d/PLANTS if more plants were seen", c.Total, m, c.Total)
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
	a.Seen = float64(a.Total) / n.units
	a.RelativeError = p.relativeError(a.Seen, n)
	a.Half = p.z() * a.RelativeError
	var err error
	if a.Known, err = p.known(counts, plants, a.DoneAt); err != nil {
		return Answer{}, err
	}
	if !a.Done {
		if t := p.stopAfter(append(plants, p.Stop.Plants)); t != rule.NeverAct {
			next := max(0, t-a.Total)
			if p.Measure == protocol.MeanPerLeaf || next <= p.Stop.Plants {
				a.Next = next
			}
		}
	}
	return a, nil
}

// stopAfter returns the total that suffices after stops with the given plants.
func (p *Plan) stopAfter(plants []int) int {
	if len(plants) < p.Stop.Minimum {
		return rule.NeverAct
	}
	return p.stopAt(p.sampleOf(plants))
}

// Visit returns a walk by the plan whose first stops have the given plants, and
// what it can tell of a field.
func (p *Plan) Visit(plants ...int) rule.Visit {
	v := rule.Visit{High: p.Measure.Top(), Family: p.Population}
	walked := append([]int(nil), plants...)
	for len(walked) < p.Stop.Maximum {
		walked = append(walked, p.Stop.Plants)
	}
	for j, m := range walked {
		step := rule.Step{Units: p.Units(m), Leave: rule.NeverLeave, Act: p.stopAfter(walked[:j+1])}
		if j+1 == p.Stop.Maximum {
			step.Act = 0 // any total ends it
		}
		v.Steps = append(v.Steps, step)
	}
	return v
}

func (p *Plan) known(counts []plans.Count, plants []int, doneAt int) (rule.Known, error) {
	told := plants
	if doneAt > 0 {
		told = plants[:doneAt]
	}
	total := 0
	for _, c := range counts[:len(told)] {
		total += c.Total
	}
	return p.Visit(told...).Told(len(told), total, p.Confidence, protocol.DefaultComingBack.Confidence)
}
