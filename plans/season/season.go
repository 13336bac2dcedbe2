package season

import (
	"errors"
	"fmt"
	"math"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Class is how fields of which earlier visits said the same are looked after.
type Class struct {
	Table rule.Table // of the next visit
	// Interval is the number of days, at least 1, from a visit that puts a field in
	// this class, with the verdict leave, to its next visit.
	Interval int
	// Limit, if set, returns the most days to the next visit after a visit with this
	// class's table that ended with leave at an end point, inStage days after the
	// stage began. Less than 1 counts as 1. The end point is one of act by the count
	// where a sign kept the field from it.
	Limit func(end rule.End, inStage int) int
}

// A Stage is a time of the season with bounds and tables of its own.
type Stage struct {
	// Days is how long the stage lasts, at least 1; the last one lasts until the
	// season's end.
	Days int
	// Family returns the field at a level, with everything else held. At level 0
	// nothing is ever seen.
	Family func(level float64) sampling.Population
	// Worth is what a stop of these fields counts in the totals of the tables.
	Worth rule.Worth
	// Sign, if set, is a further sign: the chance, by stop, that it allows the verdict act
	// in a field at a level, independently of the counts. Where it does not, the field is
	// left.
	Sign                    func(level float64) func(stop int) float64
	Effort                  Effort // of a visit
	Lower, Threshold, Upper float64
	// Classes of fields. The first is that of fields in which nothing was ever found;
	// the others, by rising finds of the last visit, those of fields in which something
	// was. One class only is visited without regard to the past. Every
	// stage has the same number.
	Classes []Class
	// Cuts separate the classes after the first: a field whose last visit saw at least
	// Cuts[i] per sample unit, or where stops count something else than what was found
	// counted so much per stop ([rule.Worth.Shown]), is above class i+1. There are two
	// less than classes.
	Cuts []float64
}

// Effort is what scouting takes, in minutes.
type Effort struct {
	Visit float64 // getting to the field
	Stop  float64 // walking to a stop
	Unit  float64 // looking at a sample unit
}

// Minutes returns the minutes of visits with stops and units.
func (e Effort) Minutes(visits, stops, units float64) float64 {
	return visits*e.Visit + stops*e.Stop + units*e.Unit
}

// A Season is the rule of all visits of a season. Days are whole; day 0 is the one on
// which the pest becomes known in the district and the first stage begins.
type Season struct {
	Stages  []Stage
	Means   bool // levels are means, not shares
	LastDay int  // on which a visit can be
	Lead    int  // days from the verdict act to the treatment
}

// maxDays bounds a season: chains longer than this are not meant.
const maxDays = 10000

// Check returns an error if the season does not hold together.
func (s Season) Check() error {
	switch {
	case len(s.Stages) == 0:
		return sampling.Refusef("no stages; at least one is needed")
	case s.LastDay < 0 || s.LastDay > maxDays:
		return sampling.Refusef("last day %d, must be between 0 and %d", s.LastDay, maxDays)
	case s.Lead < 0:
		return sampling.Refusef("lead of %d days, must be at least 0", s.Lead)
	}
	for i := range s.Stages {
		if err := s.checkStage(i); err != nil {
			return fmt.Errorf("season: stage %d: %w", i+1, err)
		}
	}
	return nil
}

func (s Season) checkStage(i int) error {
	st := s.Stages[i]
	n := len(st.Classes)
	switch {
	case n == 0 || n != len(s.Stages[0].Classes):
		return fmt.Errorf("%d classes of fields; every stage needs the same number, at least 1", n)
	case len(st.Cuts) != max(0, n-2):
		return fmt.Errorf("%d cuts for %d classes, must be %d", len(st.Cuts), n, max(0, n-2))
	case !(st.Effort.Visit >= 0 && st.Effort.Stop >= 0 && st.Effort.Unit >= 0):
		return errors.New("minutes must be at least 0")
	case st.Family == nil:
		return errors.New("no family of fields")
	case st.Worth.Check() != nil:
		return st.Worth.Check()
	case st.Days < 1 && i+1 < len(s.Stages):
		return fmt.Errorf("lasts %d days, must be at least 1", st.Days)
	case !(st.Lower >= 0 && st.Lower <= st.Threshold && st.Threshold <= st.Upper):
		return fmt.Errorf("bounds %g, %g and %g; need 0 <= lower <= threshold <= upper", st.Lower, st.Threshold, st.Upper)
	case !s.Means && st.Upper > 1:
		return fmt.Errorf("upper bound %g, must be at most 1", st.Upper)
	}
	for k, cut := range st.Cuts {
		if !(cut > 0) || k > 0 && cut <= st.Cuts[k-1] {
			return fmt.Errorf("cut %g; cuts must be above 0 and rise", cut)
		}
	}
	for k, c := range st.Classes {
		if err := c.Table.Check(); err != nil {
			return fmt.Errorf("class %d: %w", k+1, err)
		}
		if c.Interval < 1 {
			return fmt.Errorf("class %d: interval of %d days, must be at least 1", k+1, c.Interval)
		}
	}
	return nil
}

// stage returns the index of the stage of a day, and the day on which it began.
func (s Season) stage(day int) (at, began int) {
	for at+1 < len(s.Stages) && day >= began+s.Stages[at].Days {
		began += s.Stages[at].Days
		at++
	}
	return at, began
}

// field returns what stops count in a field at a level; a clean field needs no model.
func (st Stage) field(level float64) sampling.Population {
	if level == 0 {
		return sampling.Infested{}
	}
	return st.Worth.Of(st.Family(level))
}

// class returns the class of a field after a visit of some stops and units that counted
// a total; found says that the pest was found before.
func (st Stage) class(found bool, stops, units, total int) int {
	if len(st.Classes) == 1 || !found && total == 0 {
		return 0
	}
	c, seen := 1, st.Worth.Shown(stops, units, total)
	// A share on a cut is at it, whatever its last digits.
	for c-1 < len(st.Cuts) && seen >= st.Cuts[c-1]-1e-12 {
		c++
	}
	return c
}

// A Course is how the level of the pest in a field goes through the season.
type Course struct {
	Start float64 // level on day 0; 0 is a clean field
	// Growth is r per day: a share grows as logit p(d) = logit p(0) + r d, a mean as
	// e^(rd). 0 is a field that stays.
	Growth float64
	// AtLower is a field that is at the lower bound of every stage, whatever Start
	// and Growth say.
	AtLower bool
}

// level returns the level on a day.
func (s Season) level(c Course, day int) float64 {
	if c.AtLower {
		i, _ := s.stage(day)
		return s.Stages[i].Lower
	}
	return c.Level(float64(day), s.Means)
}

// mostMean is a mean at which a field that grows on is left: far above any action.
const mostMean = 1e9

// Level returns the level on a day of a course by its Start and Growth.
func (c Course) Level(day float64, means bool) float64 {
	switch {
	case c.Growth == 0 || c.Start == 0 || !means && c.Start >= 1:
		return c.Start
	case means:
		return math.Min(mostMean, c.Start*math.Exp(c.Growth*day))
	}
	return 1 / (1 + (1-c.Start)/c.Start*math.Exp(-c.Growth*day))
}

// reaches returns the first time from day 0 on at which a level that grows for ever
// is at least another, +Inf where it never is.
func (c Course) reaches(level float64, means bool) float64 {
	gap := math.Log(level) - math.Log(c.Start)
	if !means {
		gap += math.Log1p(-c.Start) - math.Log1p(-level)
	}
	switch {
	case c.Start >= level:
		return 0
	case c.Start == 0 || c.Growth <= 0:
		return math.Inf(1)
	}
	return gap / c.Growth
}

// crossing returns the first time at which the course is at or above a bound of the
// stage that it is then in, +Inf where it is not within the season.
func (s Season) crossing(c Course, bound func(Stage) float64) float64 {
	if c.AtLower {
		return math.Inf(1)
	}
	began := 0.0
	for i, st := range s.Stages {
		end := math.Inf(1)
		if i+1 < len(s.Stages) {
			end = began + float64(st.Days)
		}
		if at := math.Max(began, c.reaches(bound(st), s.Means)); at < end {
			return at
		}
		began = end
	}
	return math.Inf(1)
}
