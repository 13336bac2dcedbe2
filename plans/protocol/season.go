package protocol

import (
	"fmt"
	"math"
	"slices"
)

// A Season is what is promised for a season of visits instead of one. With it a
// stage's risks, the minimum of stops and the intervals of coming back may be 0,
// which leaves them to be chosen.
type Season struct {
	Weeks  int     `json:"weeks"` // the last day of a visit is 7 times that; the first is day 0
	Start  float64 `json:"start"` // level of a growing field on day 0
	Growth Range   `json:"growth"`
	// Needless is the largest allowed chance that a field which stays at the lower
	// bound is treated in the season.
	Needless float64 `json:"needless"`
	// Late is the largest allowed chance that a growing field is treated more than
	// LateDays after its level passed the upper bound, or not in the season.
	LateDays float64 `json:"late_days"`
	Late     float64 `json:"late"`
	// Tables is the most tables of a stage: one for all fields (1, or 0 where it is not
	// said), or by what earlier visits found, for two or three kinds of fields. More than
	// one is for risks that are left to be chosen.
	Tables int `json:"tables,omitempty"`
}

// LastDay returns the last day on which a visit can be.
func (s Season) LastDay() int { return 7 * s.Weeks }

// A Region is the fields that are scouted alike, and those who scout them.
type Region struct {
	Fields       int     `json:"fields,omitempty"` // 0 = not said
	DriveMinutes float64 `json:"drive_minutes"`    // to get to a field
	HoursPerDay  float64 `json:"hours_per_day"`    // that a scout works
	DaysPerWeek  float64 `json:"days_per_week"`
	// The shares of the fields that are clean, that stay at StayingLevel and that grow
	// as the season says; they sum to 1.
	Clean        float64 `json:"clean"`
	Staying      float64 `json:"staying"`
	StayingLevel float64 `json:"staying_level"`
	Growing      float64 `json:"growing"`
}

// DefaultRegion is taken where a protocol does not say what the fields are like.
// Common practice, no source; the staying level is a share of the lower bound of
// the first stage.
func DefaultRegion(lower float64) Region {
	return Region{HoursPerDay: 6, DaysPerWeek: 5, Clean: .5, Staying: .3, StayingLevel: lower / 3, Growing: .2}
}

// openKeys may be left out where a season is promised: they are then chosen.
var openKeys = []string{"minimum_stops", "days_until_found", "days_once_found"}

// Open returns the keys that the terms leave to be chosen for the season.
func (t Terms) Open() []string {
	var keys []string
	for _, k := range []struct {
		name string
		open bool
	}{
		{"needless_risk", t.NeedlessRisk == 0}, {"missed_risk", t.MissedRisk == 0}, {"minimum_stops", t.Stop.Minimum == 0},
		{"counting", t.Stop.Counting == Auto},
		{"days_until_found", t.ComingBack != nil && t.ComingBack.DaysUntilFound == 0},
		{"days_once_found", t.ComingBack != nil && t.ComingBack.DaysOnceFound == 0},
	} {
		if k.open {
			keys = append(keys, k.name)
		}
	}
	return keys
}

// named returns the text of a key that may be a section with a name of its own, and
// the section.
func (s *section) named(key string) (text string, own *section) {
	if _, isSection := s.values[key].(map[string]any); isSection {
		own = s.optional(key)
		return own.text("name"), own
	}
	return s.text(key), nil
}

// season reads the promise for the season, in the measure of the first stage.
func (r *reader) season(s *section, stages []Terms) *Season {
	out := &Season{Weeks: s.wholeOr("weeks", 0), LateDays: 2}
	s.missing("weeks", "a whole number, such as weeks = 7")
	if len(stages) > 0 {
		if form := stages[0].Measure.form(); form != nil {
			out.Start = form.read(s, "start")
		}
	}
	s.missing("growth", `growth = 0.12 or growth = "0.1..0.14"`)
	if g := s.valueRange("growth"); g != nil {
		out.Growth = *g
	}
	out.Needless, out.Late = s.share("needless"), s.share("late")
	out.Tables = s.wholeOr("tables", 0)
	if s.has("late_days") {
		out.LateDays = s.numberOf("late_days")
	} else {
		r.tookDefault("season.late_days", out.LateDays)
	}
	s.finish()
	return out
}

// region reads what the fields are like; s is nil where nothing is said.
func (r *reader) region(s *section, stages []Terms) *Region {
	lower := 0.0
	if len(stages) > 0 {
		lower = stages[0].Lower
	}
	out := DefaultRegion(lower)
	if s == nil {
		return &out
	}
	out.Fields = s.wholeOr("fields", 0)
	for _, k := range []struct {
		name string
		to   *float64
	}{{"drive_minutes", &out.DriveMinutes}, {"hours_per_day", &out.HoursPerDay}, {"days_per_week", &out.DaysPerWeek}} {
		if s.has(k.name) {
			*k.to = s.numberOf(k.name)
		} else {
			r.tookDefault("region."+k.name, *k.to)
		}
	}
	mix := []string{"clean", "staying", "growing"}
	if slices.ContainsFunc(mix, s.has) {
		out.Clean, out.Staying, out.Growing = s.share("clean"), s.share("staying"), s.share("growing")
	} else {
		r.tookDefault("region.clean", share(out.Clean))
		r.tookDefault("region.staying", share(out.Staying))
		r.tookDefault("region.growing", share(out.Growing))
	}
	if s.has("staying_level") && len(stages) > 0 {
		if form := stages[0].Measure.form(); form != nil {
			out.StayingLevel = form.read(s, "staying_level")
		}
	} else {
		r.tookDefault("region.staying_level", "a third of the lower bound")
	}
	s.finish()
	return &out
}

// seasonal checks the promises of a season and the region.
func (c *checker) seasonal(p Protocol) {
	if p.Seasonal == nil {
		for i, t := range p.Stages {
			c.stage, c.name = i, t.Name
			if t.Stop.Counting == Auto {
				c.wrong("stop.counting", "counting", `"auto"`, t.Stop.Counting.accepted()+`; with [season] "auto", too`)
			}
		}
		c.stage, c.name = -1, ""
	}
	if s := p.Seasonal; s != nil {
		c.between("season.weeks", "weeks", s.Weeks, 1, 60)
		c.between("season.tables", "tables", s.Tables, 0, 3)
		for _, r := range []struct {
			key string
			x   float64
		}{{"needless", s.Needless}, {"late", s.Late}} {
			if !(r.x > 0 && r.x < 1) {
				c.wrong("season."+r.key, r.key, share(r.x), "above 0% and below 100%")
			}
		}
		c.positive("season.late_days", "late_days", s.LateDays, true)
		if !(s.Growth.Low > 0 && s.Growth.Low <= s.Growth.High && s.Growth.High <= 5) {
			c.wrong("season.growth", "growth", s.Growth, "above 0 and at most 5 a day")
		}
		if len(p.Stages) > 0 && p.Stages[0].Measure.Known() && !(s.Start > 0 && s.Start < p.Stages[0].Upper) {
			c.wrong("season.start", "start", p.Stages[0].Measure.form().text(s.Start), "above 0 and below the upper bound")
		}
		for i, t := range p.Stages {
			c.stage, c.name = i, t.Name
			c.seasonStage(p, i)
		}
		c.stage, c.name = -1, ""
	}
	if r := p.Regional; r != nil {
		c.between("region.fields", "fields", r.Fields, 0, 1000000)
		c.positive("region.drive_minutes", "minutes to drive to a field", r.DriveMinutes, true)
		if !(r.HoursPerDay > 0 && r.HoursPerDay <= 24) {
			c.wrong("region.hours_per_day", "hours_per_day", r.HoursPerDay, "above 0 and at most 24")
		}
		if !(r.DaysPerWeek > 0 && r.DaysPerWeek <= 7) {
			c.wrong("region.days_per_week", "days_per_week", r.DaysPerWeek, "above 0 and at most 7")
		}
		if sum := r.Clean + r.Staying + r.Growing; math.Abs(sum-1) > 1e-3 {
			c.add("region", "clean, staying and growing are %s together; accepted: shares that make 100%%", share(sum))
		}
		if !(r.StayingLevel >= 0) || len(p.Stages) > 0 && r.StayingLevel > p.Stages[0].Upper {
			c.add("region.staying_level", "staying_level is above the upper bound; accepted: a level below it")
		}
	}
}

// seasonStage checks that the stages can follow each other.
func (c *checker) seasonStage(p Protocol, i int) {
	t := p.Stages[i]
	at := func(key string) string { return fmt.Sprintf("stage.%d.%s", i, key) }
	if i+1 < len(p.Stages) && t.LastsDays < 1 {
		c.add(at("lasts_days"), "lasts_days is missing; with [season] every stage but the last says how long it lasts")
	}
	if t.Measure != p.Stages[0].Measure {
		c.add(at("measure"), "measure is another one than that of the first stage; with [season] all stages have the same")
	}
	if (t.NeedlessRisk == 0) != (p.Stages[0].NeedlessRisk == 0) || (t.MissedRisk == 0) != (t.NeedlessRisk == 0) {
		c.add(at("needless_risk"), "risks are given in a part; with [season] give both in every stage, or none to have them chosen")
	}
	if a, b := t.ComingBack, p.Stages[0].ComingBack; a != nil && b != nil && (a.DaysUntilFound != b.DaysUntilFound || a.DaysOnceFound != b.DaysOnceFound || a.LeadDays != b.LeadDays) {
		c.add(at("days_until_found"), "coming back is another one than that of the first stage; with [season] the intervals and the lead time are the same in all")
	}
}
