// Package precision makes plans that estimate and decide nothing: after each stop they
// say whether what was seen suffices for an estimate with a precision laid down
// beforehand, by fixed-precision stop lines.
package precision

import (
	"fmt"
	"math"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// A Plan says after each stop whether what was seen suffices for an
// estimate with a relative precision laid down beforehand. It estimates, and
// decides nothing.
type Plan struct {
	Program string
	Spec
	Effort []Effort // what an estimate takes at the levels asked for
}

// Design returns the plan of a specification, with what it takes in fields
// of the given levels, or a FieldError for a value out of its range. It returns a NoLine
// where there is no stop line, or none that can be reached within the maximum of stops.
func Design(s Spec, levels ...float64) (*Plan, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	p := &Plan{Spec: s}
	if err := p.solvable(); err != nil {
		return nil, err
	}
	for _, level := range levels {
		e, err := p.EffortAt(level)
		if err != nil {
			return nil, err
		}
		p.Effort = append(p.Effort, e)
	}
	return p, nil
}

// StopAt returns the total at or above which the estimate is precise enough after
// a stop (from 1) with the planned plants, or rule.NeverAct: before the minimum number
// of stops, and where no total suffices yet.
func (p *Plan) StopAt(stop int) int {
	if stop < p.Stop.Minimum {
		return rule.NeverAct
	}
	return p.stopAt(p.planned(stop))
}

// A NoLine is the error of a specification that gives nothing to stop at.
type NoLine struct {
	Maximum int // stops allowed
	// B is Taylor's b where that is 2 or more: a denser field is then no easier to
	// estimate; 0 otherwise.
	B float64
	// Units and Stops are what it takes more than, and at least, in the densest field; 0
	// where no number of them is known to suffice.
	Units, Stops int
}

// Error says in short that there is none; a program that tells people words the numbers
// itself.
func (e *NoLine) Error() string {
	return fmt.Sprintf("no total gives this precision within %d stops", e.Maximum)
}

// solvable returns a NoLine where there is nothing to stop at.
func (p *Plan) solvable() error {
	none := &NoLine{Maximum: p.Stop.Maximum}
	if t := p.Taylor; t != nil && t.B >= 2 {
		none.B = t.B
		return none
	}
	if p.StopAt(p.Stop.Maximum) != rule.NeverAct {
		return nil
	}
	needed := math.Inf(1)
	switch {
	case p.Iwao != nil:
		needed = (p.Iwao.B - 1) / (p.D() * p.D())
	case p.K != nil:
		needed = 1 / (*p.K * p.D() * p.D())
	}
	if needed *= p.deff(); needed < mostTotal {
		none.Units = int(needed + rule.NearInteger)
		none.Stops = none.Units/p.Units(p.Stop.Plants) + 1
	}
	return none
}

// A Row is one stop of a precision plan; a nil number means never.
type Row struct {
	Stop   int      `json:"stop"`
	Plants int      `json:"plants"` // in all, up to this stop
	Units  int      `json:"units"`  // plants, or leaves for a mean
	StopAt *int     `json:"stop_at"`
	Level  *float64 `json:"level"` // the estimate at that total
}

// Rows returns the plan stop by stop.
func (p *Plan) Rows() []Row {
	rows := make([]Row, p.Stop.Maximum)
	for j := range rows {
		plants := p.Stop.Plants * (j + 1)
		rows[j] = Row{Stop: j + 1, Plants: plants, Units: p.Units(plants)}
		if t := p.StopAt(j + 1); t != rule.NeverAct {
			level := float64(t) / float64(rows[j].Units)
			rows[j].StopAt, rows[j].Level = &t, &level
		}
	}
	return rows
}

// NeededUnits returns the units that give the precision in a field of a known
// level, as if they were all examined at once: leaves for a mean, plants for a
// share. It is what size formulas give (Karandinos, M.G. 1976, Optimum sample size
// and comments on some published formulae. Bull. Entomol. Soc. Am. 22: 417-421),
// times the design effect of the stops.
func (p *Plan) NeededUnits(level float64) float64 {
	d2 := p.D() * p.D()
	if p.Measure == protocol.ShareInfested {
		return p.deff() * (1 - level) / (level * d2)
	}
	return p.deff() * math.Max(0, p.law().Variance(level)) / (level * level * d2)
}
