package season

import (
	"errors"
	"fmt"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Promise is what a season's plan must keep.
type Promise struct {
	// Needless is the largest chance, above 0, that a field which stays at the lower
	// bound of each stage, or below it, is treated in the season. Of the fields below,
	// those of [Harmless] are looked at.
	Needless float64
	// Late is the largest chance, above 0, that a growing field is treated more than
	// LateDays after its level reached the upper bound, or not in the season.
	Late, LateDays float64
}

// Harmless returns the courses of fields that need no treatment, over which a season's
// needless risk is the worst: at the lower bound of each stage, where it is as a rule, and
// as tables by what the last visit found may treat fields that show less, at half of the
// lowest one, clean, and staying as the mix says.
func Harmless(s Season, m Mix) []Course {
	lowest := s.Stages[0].Lower
	for _, st := range s.Stages {
		lowest = min(lowest, st.Lower)
	}
	all := []Course{{AtLower: true}, {}, {Start: lowest / 2}}
	if m.Staying > 0 && m.StayingLevel > 0 && m.StayingLevel < lowest {
		all = append(all, Course{Start: m.StayingLevel})
	}
	return all
}

// A Mix is what the fields of a region are like; the shares sum to 1.
type Mix struct {
	Clean        float64
	Staying      float64 // at StayingLevel, all season
	StayingLevel float64
	Growing      float64 // as the middle of Growth says
}

// Growth is how the pest grows: from the level Start on day 0, by Low to High a day.
type Growth struct{ Start, Low, High float64 }

// A World is one way in which the pest may sit in the fields: a family of fields for
// every stage.
type World []func(level float64) sampling.Population

// A Walk is how a field may be walked in a stage.
type Walk struct {
	Units            int // sample units at a stop
	Minimum, Maximum int // stops before the first verdict, and at most
}

// A Problem asks for the tables and intervals of a season with the least expected
// minutes per field and season that keep a promise.
type Problem struct {
	// Season has the stages with their bounds and effort, and the days; its classes,
	// cuts and families are what is looked for or stands in Worlds.
	Season Season
	Walks  []Walk // by stage
	// Worlds are those in which the promise must hold. The minutes are those in the
	// last, the most clumped one.
	Worlds  []World
	Mix     Mix
	Growth  Growth
	Promise Promise
	// Classes is the number of classes of fields, 1 to 3; OneTable asks for one table
	// in each stage, so that the classes differ by their intervals only.
	Classes  int
	OneTable bool
	// Intervals, if set, fixes the intervals of the classes that are not 0.
	Intervals []int
	// Tables, if set, are taken as they are, and intervals and cuts are all that is
	// chosen: one for each class of each stage, or one for each stage with OneTable, stage
	// by stage.
	Tables []rule.Table
	// Start, if set, is a plan with fewer tables for the same stages, from which the search
	// begins too: what it finds takes no more minutes where that plan keeps the promise.
	Start *Plan
	// Costs, if set, asks for the least expected loss of a field and season in the last
	// world instead of the least minutes. Nothing is then promised.
	Costs *Costs
	// Rough asks for a good plan quickly, to tell one problem from another by.
	Rough bool
	// LongestInterval bounds the intervals that are chosen.
	LongestInterval int
	// Progress, if set, is told how many schedules were tried, and the least minutes (or loss)
	// that kept the promise so far, 0 while there are none.
	Progress func(tried int, minutes float64)
}

// Check returns an error if the problem does not hold together.
func (p Problem) Check() error {
	m := p.Mix
	sum := m.Clean + m.Staying + m.Growing
	switch {
	case len(p.Walks) != len(p.Season.Stages):
		return fmt.Errorf("season: %d walks for %d stages", len(p.Walks), len(p.Season.Stages))
	case len(p.Worlds) == 0:
		return errors.New("season: no worlds; at least one is needed")
	case p.Costs != nil && p.Costs.check() != nil:
		return p.Costs.check()
	case p.Costs == nil && !(p.Promise.Needless > 0 && p.Promise.Needless < 1 && p.Promise.Late > 0 && p.Promise.Late < 1):
		return fmt.Errorf("season: promises of %g needless and %g late; both must be above 0 and below 1", p.Promise.Needless, p.Promise.Late)
	case !(p.Promise.LateDays >= 0):
		return fmt.Errorf("season: late after %g days, must be at least 0", p.Promise.LateDays)
	case !(m.Clean >= 0 && m.Staying >= 0 && m.Growing >= 0) || sum < 0.999 || sum > 1.001:
		return fmt.Errorf("season: the mix is %g clean, %g staying and %g growing; they must sum to 1", m.Clean, m.Staying, m.Growing)
	case !(p.Growth.Start > 0 && p.Growth.Low > 0 && p.Growth.Low <= p.Growth.High):
		return fmt.Errorf("season: growth from %g by %g to %g a day; all must be above 0, and rise", p.Growth.Start, p.Growth.Low, p.Growth.High)
	case p.Classes < 1 || p.Classes > 3:
		return fmt.Errorf("season: %d classes of fields, must be 1 to 3", p.Classes)
	case p.Intervals != nil && len(p.Intervals) != p.Classes:
		return fmt.Errorf("season: %d intervals for %d classes", len(p.Intervals), p.Classes)
	case p.LongestInterval < 1:
		return fmt.Errorf("season: intervals of at most %d days, must be at least 1", p.LongestInterval)
	}
	for _, d := range p.Intervals {
		if d < 0 || d > p.LongestInterval {
			return fmt.Errorf("season: interval of %d days, must be between 0 and %d", d, p.LongestInterval)
		}
	}
	for i, w := range p.Walks {
		if w.Units < 1 || w.Minimum < 1 || w.Maximum < w.Minimum {
			return fmt.Errorf("season: stage %d: %d units a stop, %d to %d stops; all must be at least 1, and rise", i+1, w.Units, w.Minimum, w.Maximum)
		}
	}
	for i, w := range p.Worlds {
		if len(w) != len(p.Walks) {
			return fmt.Errorf("season: world %d: %d families for %d stages", i+1, len(w), len(p.Walks))
		}
		for k := range w {
			if w[k] == nil {
				return fmt.Errorf("season: world %d: no family of fields for stage %d", i+1, k+1)
			}
		}
	}
	tables := p.Tables
	if tables == nil {
		tables = p.firstTables()
	}
	if n := len(p.Walks) * p.tablesPerStage(); len(tables) != n {
		return fmt.Errorf("season: %d tables, must be %d", len(tables), n)
	}
	for w := range p.Worlds {
		if err := p.layout(schedule{}, tables, w).Check(); err != nil {
			return err
		}
	}
	return nil
}

// treatedMinutes is what a search takes a treatment of a clean or staying field to cost:
// about the scouting that it ends. Else it would save minutes by treating fields.
const treatedMinutes = 60

// mixed returns the fields of a mix.
func mixed(m Mix, g Growth) []field {
	var fs []field
	for _, f := range []field{
		{share: m.Clean},
		{share: m.Staying, course: Course{Start: m.StayingLevel}},
		{share: m.Growing, course: Course{Start: g.Start, Growth: (g.Low + g.High) / 2}},
	} {
		if f.share > 0 {
			fs = append(fs, f)
		}
	}
	return fs
}

// fields returns the fields of the mix with what is to be made least in them, to be
// followed in the last world.
func (p Problem) fields() []field {
	fs := mixed(p.Mix, p.Growth)
	for i := range fs {
		f := &fs[i]
		f.world, f.weight = len(p.Worlds)-1, f.share
		grows := f.course.Growth > 0
		switch k := p.Costs; {
		case k != nil && grows:
			f.loss = func(days float64) float64 { return f.share * k.late(days) }
		case k != nil:
			f.early = f.share * k.Treatment
		case !grows:
			f.act = f.share * treatedMinutes
		}
		if p.Costs != nil {
			f.weight *= p.Costs.Hour / 60
		}
	}
	return fs
}

// least returns what is to be made least of a field that took a path.
func (p Problem) least(f field, path *Path) float64 {
	if p.Costs != nil {
		return f.share * p.Costs.Of(path).Total()
	}
	return f.share * path.Minutes
}
