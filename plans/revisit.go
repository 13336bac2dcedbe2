package plans

import "math"

// A History is what is known of a field from before a visit. Its zero value is a
// field of which nothing is known.
type History struct {
	// Found is set where an infested plant, or an insect, was seen on an earlier
	// visit.
	Found bool
	// Seen is what the last visit saw, whatever its stage: [StagePlan.Shown] of its
	// counts.
	Seen float64
	// Last, if set, says what earlier visits found in place of Found and Seen.
	Last Last
	// InStage is the most days that the crop can have been in its growth stage;
	// nil where that is not known.
	InStage *float64
}

// A RevisitRule says which of the rules gives the next visit.
type RevisitRule string

// The rules of the next visit.
const (
	// ByInterval is the protocol's number of days between visits.
	ByInterval RevisitRule = "interval"
	// ByGrowth is the time that the pest needs to reach the threshold, less the
	// lead time of a treatment.
	ByGrowth RevisitRule = "growth"
	// ByLimit is the next day: the level could be at the threshold already, or
	// reach it before a treatment that is decided on now can be done.
	ByLimit RevisitRule = "limit"
)

// A Revisit says in how many days a field is visited again, and why.
type Revisit struct {
	Days int // whole days from the visit, at least 1
	Rule RevisitRule

	Found bool // the pest was found, on this visit or before
	// Last says to which fields this visit brings the field, and MoreFrom, if above 0,
	// what this visit must have seen for its pest to count as more.
	Last     Last
	MoreFrom float64
	Interval float64 // days between visits, by the protocol

	// Level is the upper limit of the level today, one-sided with Confidence; the
	// threshold where that is higher and the count reached the act number, but a
	// sign kept the field from a treatment.
	Level      float64
	Confidence float64
	Growth     float64 // r, per day
	// Threshold is the action threshold that the level reaches first, and Stage
	// the growth stage that it belongs to. Where this is a later stage than that
	// of the visit, Advance is the number of days after which the crop can be in
	// it.
	Threshold float64
	Stage     string
	Advance   float64
	// Reach is the number of days until the level reaches the threshold, 0 where
	// it may have and +Inf where it never does.
	Reach float64
	Lead  float64 // days from a decision to the treatment
	// ForSeason says that the interval was chosen for the promises of a season, with the
	// growth of the pest in it: what was seen does not shorten it, and no threshold is
	// looked at.
	ForSeason bool
}

// Revisit returns when a field is visited again after counts that did not bring
// a treatment. It returns nil where the protocol does not say how to come back.
//
// The days are the smaller of the protocol's interval and the time that the pest
// needs from the upper confidence limit of today's level L ([StagePlan.Known]) to the threshold T,
// less the lead time, rounded down to whole days and at least 1. The density
// grows as e^(rt), so that a mean per leaf takes ln(T/L)/r days; a share infested
// is taken to grow on the logit scale and takes (logit T - logit L)/r. Where the
// protocol says how long a stage lasts, the thresholds of the later stages count
// from the day on which the crop can be in them; a crop of which it is not known
// for how long it has been in its stage can leave it at once.
func (s *StagePlan) Revisit(counts []Count, h History) (*Revisit, error) {
	a, err := s.Check(counts)
	if err != nil {
		return nil, err
	}
	return s.RevisitAfter(a, h), nil
}

// RevisitAfter is [StagePlan.Revisit] for an answer that was given already.
func (s *StagePlan) RevisitAfter(a Answer, h History) *Revisit {
	if s.ComingBack == nil {
		return nil
	}
	level := a.Limit
	if a.SignMissing { // the count says that the threshold is reached
		level = math.Max(level, s.Threshold)
	}
	seen := 0.0
	if a.Plants > 0 {
		seen = s.shown(a)
	}
	return s.revisit(level, s.ComingBack.Last(h.found() || a.Total > 0, seen), h.InStage)
}

// Shown returns what counts show of the pest, as far as that says which fields a field
// belongs to: the share or mean seen, and where stops count something else than what was
// found, what they count per stop.
func (s *StagePlan) Shown(counts []Count) float64 {
	if len(counts) == 0 {
		return 0
	}
	units, total := 0, 0
	for _, c := range counts {
		plants := c.Plants
		if plants == 0 {
			plants = s.Plants()
		}
		units += s.Units(plants)
		total += s.Worth.Value(c.Total, s.Units(s.fullPlants(c)))
	}
	return s.Worth.Shown(len(counts), units, total)
}

func (s *StagePlan) shown(a Answer) float64 {
	return s.Worth.Shown(a.Stop, s.Units(a.Plants), a.Counted)
}

// found reports whether the pest was found on an earlier visit.
func (h History) found() bool { return h.Found || h.Last != "" && h.Last != LastNone }

// revisit returns the next visit of a field whose level is at most level, and in which
// the visits so far found so much.
func (s *StagePlan) revisit(level float64, last Last, inStage *float64) *Revisit {
	back := s.ComingBack
	r := &Revisit{
		Found: last != LastNone, Last: last, MoreFrom: back.MoreFrom, Level: level, Growth: back.GrowthPerDay, Lead: back.LeadDays,
		Confidence: s.Sure(), Interval: back.Interval(last), Rule: ByInterval,
	}
	if r.ForSeason = back.ByIntervals; r.ForSeason {
		r.Days = wholeDays(r.Interval)
		return r
	}
	s.reach(r, inStage)
	days := r.Interval
	if left := r.Reach - r.Lead; left < days {
		days, r.Rule = left, ByGrowth
		if left < 1 {
			r.Rule = ByLimit
		}
	}
	r.Days = wholeDays(days)
	return r
}

// wholeDays returns the days to a visit: whole, and at least 1. A thousandth of a
// day is rounding, not time.
func wholeDays(days float64) int {
	return int(math.Max(1, math.Floor(math.Min(days, 1e6)+1e-3)))
}

// reach sets the threshold that the level reaches first, and when.
func (s *StagePlan) reach(r *Revisit, inStage *float64) {
	r.Threshold, r.Stage = s.Threshold, s.Name
	r.Reach = s.Measure.Days(r.Level, s.Threshold, r.Growth)
	advance := 0.0
	if inStage != nil {
		advance = math.Max(0, s.LastsDays-*inStage)
	}
	for i, lasts := 0, s.LastsDays; i < len(s.Later) && lasts > 0; i++ {
		next := s.Later[i]
		if next.Measure != s.Measure {
			return // the levels cannot be compared
		}
		if days := math.Max(advance, s.Measure.Days(r.Level, next.Threshold, r.Growth)); days < r.Reach {
			r.Threshold, r.Stage, r.Advance, r.Reach = next.Threshold, next.Name, advance, days
		}
		lasts = next.LastsDays
		advance += lasts
	}
}
