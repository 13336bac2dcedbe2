package say

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/season"
)

// OutOfHundred returns a chance as a number of fields of 100.
func OutOfHundred(chance float64) string {
	switch n := math.Round(100 * chance); {
	case chance == 0:
		return "none"
	case chance < 0.005:
		return "fewer than 1"
	case n == 100 && chance < 1:
		return "more than 99"
	default:
		return report.Whole(n)
	}
}

// StaySentence says of a field that stays how often it is treated needlessly.
func StaySentence(stages []*plans.StagePlan, p *season.Path) string {
	s := stages[0]
	at := "at " + report.Level(s.Measure, p.Course.Start)
	switch {
	case p.Course.AtLower && len(stages) == 1:
		at = "at " + report.Level(s.Measure, s.Lower)
	case p.Course.AtLower:
		at = "at the lower bound of each stage"
	}
	return fmt.Sprintf("Of 100 fields that stay %s all season, %s would be treated needlessly at least once.", at, atMostWithout(stages)+OutOfHundred(p.Early))
}

// CountAlone reports whether a season is that of the counts alone in any of the
// stages, because it is not known how often the sign is seen.
func CountAlone(stages []*plans.StagePlan) bool {
	return slices.ContainsFunc(stages, func(s *plans.StagePlan) bool { return !s.NeedlessKnown() || !s.MissedKnown() })
}

// atMostWithout stands before treatments that an unknown sign can only make rarer.
func atMostWithout(stages []*plans.StagePlan) string {
	if CountAlone(stages) {
		return "at most "
	}
	return ""
}

// GrowSentence says of a field that grows when it is treated.
func GrowSentence(stages []*plans.StagePlan, p *season.Path, lateDays float64) string {
	s := stages[0]
	text := fmt.Sprintf("A field that grows from %s by r %s a day", report.Level(s.Measure, p.Course.Start), report.Constant(p.Course.Growth))
	switch {
	case math.IsInf(p.AfterThreshold.Day, 1):
		return text + " does not reach the threshold in the season."
	case math.IsInf(p.AfterUpper.Day, 1):
		text += fmt.Sprintf(" passes the threshold on day %s and does not reach the upper bound.", report.Fixed(p.AfterThreshold.Day, 1))
	default:
		text += fmt.Sprintf(" passes the threshold on day %s and the upper bound on day %s.",
			report.Fixed(p.AfterThreshold.Day, 1), report.Fixed(p.AfterUpper.Day, 1))
	}
	if CountAlone(stages) {
		return text + fmt.Sprintf(" Of 100 such fields at most %s would be treated while still at or below the lower bound; how many are treated late is not known, it depends on how often the sign is seen.",
			OutOfHundred(p.Early))
	}
	return text + fmt.Sprintf(" Of 100 such fields %s would be treated while still at or below the lower bound, and %s more than %s after the upper bound.",
		OutOfHundred(p.Early), OutOfHundred(p.AfterUpper.Later(lateDays)), report.Days(lateDays))
}

// VisitsSentence says when the fields of a season are visited, and how clumped they
// are taken to be. first are the days of the first visit, clump how clumped the fields
// are; none and nil are the usual.
func VisitsSentence(stages []*plans.StagePlan, s season.Season, first []int, clump *float64) string {
	var each []string
	limited := false
	for i, st := range s.Stages {
		back := plans.ComingBack{DaysUntilFound: float64(st.Classes[0].Interval), DaysOnceFound: float64(st.Classes[1].Interval)}
		if len(st.Classes) > 2 {
			back.DaysMoreFound, back.MoreFrom = float64(st.Classes[2].Interval), st.Cuts[0]
		}
		text := everyDays(back, stages[i])
		if n := stages[i].Name; n != "" && len(s.Stages) > 1 {
			text = "in " + n + " " + text
			if i+1 < len(s.Stages) {
				text += fmt.Sprintf(" (%s)", report.Days(float64(st.Days)))
			}
		}
		each = append(each, text)
		limited = limited || st.Classes[0].Limit != nil
	}
	start := fmt.Sprintf("Visits start on day 0 to %d, each as likely,", s.Stages[0].Classes[0].Interval-1)
	switch {
	case len(first) == 1:
		start = fmt.Sprintf("Visits start on day %d,", first[0])
	case s.Stages[0].Classes[0].Interval == 1:
		start = "Visits start on day 0,"
	}
	text := fmt.Sprintf("%s and follow %s, until the verdict act or day %d.", start, strings.Join(each, "; "), s.LastDay)
	if limited {
		text += " They come sooner where the growth from the upper limit of what was seen could reach the threshold."
	}
	if s.Lead > 0 {
		text += fmt.Sprintf(" A treatment takes %s to get done.", report.Days(float64(s.Lead)))
	}
	return text + " " + seasonClump(stages, clump)
}

func seasonClump(stages []*plans.StagePlan, clump *float64) string {
	if clump != nil {
		name := "rho"
		if !stages[0].Measure.Bounded() {
			name = "k"
		}
		return fmt.Sprintf("The pest is clumped with %s %s.", name, report.Constant(*clump))
	}
	return "The pest is clumped with " + report.OneOrEach(stages, func(s *plans.StagePlan) string { return report.Clumping(s.Clumped(s.Lower).Value()) }) +
		", the clumped end of the protocol."
}
