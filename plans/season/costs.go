package season

import (
	"errors"
	"math"
)

// Costs are what a field's season costs, in any one currency, for a whole field.
type Costs struct {
	Treatment  float64 // of a field
	LatePerDay float64 // lost for each day that a treatment comes after the upper bound
	MostLate   float64 // lost at the most, however late
	Hour       float64 // of a scout
}

// A Loss is what is expected to be lost in a field and season.
type Loss struct {
	// Needless is lost by treatments of fields that do not grow while they are at or
	// below the lower bound: one that grows has to be treated anyway.
	Needless float64 `json:"needless"`
	Late     float64 `json:"late"`     // by treatments of growing fields that come after the upper bound
	Scouting float64 `json:"scouting"` // the scout's time
}

// Total returns the sum of the losses.
func (l Loss) Total() float64 { return l.Needless + l.Late + l.Scouting }

func (l *Loss) add(share float64, m Loss) {
	l.Needless += share * m.Needless
	l.Late += share * m.Late
	l.Scouting += share * m.Scouting
}

// Of returns the expected loss of a field.
func (k Costs) Of(p *Path) Loss {
	l := Loss{Scouting: p.Minutes / 60 * k.Hour}
	if p.Course.Growth > 0 {
		l.Late = p.AfterUpper.mean(k.late)
	} else {
		l.Needless = p.Early * k.Treatment
	}
	return l
}

// late returns what a treatment loses that comes some days after the upper bound.
func (k Costs) late(days float64) float64 { return math.Min(k.MostLate, days*k.LatePerDay) }

func (k Costs) check() error {
	if !(k.Treatment >= 0 && k.LatePerDay >= 0 && k.MostLate >= 0 && k.Hour >= 0) {
		return errors.New("season: costs must be at least 0")
	}
	return nil
}

// Expected returns the expected minutes and loss of a field of a mix whose pest grows as
// said, by a season's chain.
func (c *Chain) Expected(m Mix, g Growth, k Costs) (minutes float64, loss Loss) {
	for _, f := range mixed(m, g) {
		path, _ := c.follow(f.course, c.season.firstDays())
		minutes += f.share * path.Minutes
		loss.add(f.share, k.Of(path))
	}
	return minutes, loss
}
