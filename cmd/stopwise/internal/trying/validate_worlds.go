package trying

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/validate"
)

// surveyTitle says what a kind of world is.
func surveyTitle(s *plans.StagePlan, world string) string {
	if s.Measure == plans.MeanPerLeaf {
		switch world {
		case validate.PatchesOnly:
			return "Patches: the same mean, k and count rho, no insect outside patches"
		case validate.Misreading:
			return "Insects overlooked"
		}
	}
	switch world {
	case validate.Misreading:
		return "Misread " + report.UnitsName(s.Stage)
	case validate.ShortStops:
		return "Short stops: fewer " + report.UnitsName(s.Stage) + " than planned"
	}
	return surveyTitles[world]
}

var surveyTitles = map[string]string{
	validate.OtherRho:    "Other clumping: every field has the same rho",
	validate.OtherK:      "Other clumping: every field has the same k",
	validate.OtherAlike:  "Other likeness: the counts of every stop have the same correlation",
	validate.Mixture:     "Clumping that differs from field to field",
	validate.PatchesOnly: "Patches: the same share and rho, no pest outside patches",
}

func surveyCaption(s *plans.StagePlan, world string, visits int) string {
	const stops = " Stops and minutes in fields at the lower bound / the threshold / the upper bound."
	switch world {
	case validate.Mixture:
		return "Exact, averaged over fields; single fields risk more." + stops
	case validate.PatchesOnly:
		return "Exact. The form of the clumping is all that differs from the table on " + likenessWord(s) + "." + stops
	case validate.OtherAlike:
		return "Exact worst risks over the plan's own k. Where few insects make a correlation impossible, it is the largest there can be." + stops
	case validate.OtherK:
		if s.Law().CountRho.High > 0 {
			return "Exact worst risks over the plan's own correlation of counts." + stops
		}
	case validate.Misreading:
		units := report.UnitsName(s.Stage)
		what := fmt.Sprintf("Exact worst risks over the plan's own clumping. Overlooked: infested %s taken for clean ones; false alarms: clean %s taken for infested ones.", units, units)
		if s.Measure == plans.MeanPerLeaf {
			what = "Exact worst risks over the plan's own clumping. Overlooked: insects that are not counted."
		}
		return what + stops
	case validate.ShortStops:
		return fmt.Sprintf("Simulated in the plan's most clumped world, %s each; ± is one standard error. The %s seen at a stop are any number from the share given up to all %d; the table is read at the %s really seen.",
			report.Count(visits, "visit", "visits"), report.UnitsName(s.Stage), s.Plants(), report.UnitsName(s.Stage)) + stops
	}
	return "Exact." + stops
}

// likenessWord names what says how alike the units of a stop are.
func likenessWord(s *plans.StagePlan) string {
	if s.Measure == plans.MeanPerLeaf {
		return "count rho"
	}
	return "rho"
}

func surveyDocument(d *report.Document, s *plans.StagePlan, v validate.Survey, visits int) {
	d.Heading(surveyTitle(s, v.World))
	t := report.NewTable(surveyCaption(s, v.World, visits), "world", ">needless risk", ">missed risk", "promise", ">stops", ">minutes")
	for _, r := range v.Rows {
		t.Add(say.Setting(r), say.ChanceText(r.Needless), say.ChanceText(r.Missed), keptWord(r.Keeps(s)),
			threeTexts(r.Stops, threeDigits), threeTexts(r.Minutes, report.Whole))
	}
	d.Table(t)
	for _, h := range v.Holds {
		d.Para("%s", holdSentence(s, h))
	}
}

// holdNames name what is changed, as the start of a range: "rho from".
var holdNames = map[string]string{
	"rho": "rho", "k": "k", "count_rho": "count rho",
	"overlooked": "the share overlooked", "false_alarm": "the share of false alarms",
}

// holdSentence says how far the promise holds.
func holdSentence(s *plans.StagePlan, h validate.Hold) string {
	text := func(x float64) string {
		if h.Name == "overlooked" || h.Name == "false_alarm" {
			return report.Percent(x)
		}
		return report.Number(x, 3)
	}
	between := func(low, high float64) string {
		switch {
		case low <= h.Searched.Low && high >= h.Searched.High:
			return fmt.Sprintf("everywhere from %s to %s", text(low), text(high))
		case low <= h.Searched.Low:
			return "up to " + text(high)
		case high >= h.Searched.High:
			return fmt.Sprintf("down to %s", text(low))
		}
		return fmt.Sprintf("from %s to %s", text(low), text(high))
	}
	if h.Unknown {
		return "How far the promise holds depends on how often the sign is seen."
	}
	name := holdNames[h.Name]
	if h.Name == "overlooked" && s.Measure == plans.MeanPerLeaf {
		name = "the share of insects overlooked"
	}
	if spread, ok := strings.CutSuffix(h.Name, "_high"); ok {
		if !h.OK && h.Home <= validate.Likeness(s) {
			return fmt.Sprintf("Averaged over fields the promise does not hold either, even with %s spread evenly from 0 to the plan's own largest value.", holdNames[spread])
		}
		if !h.OK {
			return fmt.Sprintf("Averaged over fields the promise does not hold with %s spread evenly from 0 to %s.", holdNames[spread], text(h.Home))
		}
		return fmt.Sprintf("Averaged over fields, the promise holds with %s spread evenly from 0 to any value %s.", holdNames[spread], between(h.Low, h.High))
	}
	if rho := s.Clumping.Rho; !h.OK && h.Name == "rho" && rho != nil && h.Home < rho.Low { // patches
		return fmt.Sprintf("The promise does not hold there at %s %s, where the search for how far it does begins.", name, text(h.Home))
	}
	if !h.OK {
		return fmt.Sprintf("The promise does not hold at %s %s, for which the plan was made.", name, text(h.Home))
	}
	if h.Home == 0 && h.High == 0 {
		return fmt.Sprintf("The plan takes the whole risk it is allowed, so nothing is left for %s; both risks stay within twice those allowed %s.", name, between(h.Doubled.Low, h.Doubled.High))
	}
	return fmt.Sprintf("The promise holds for %s %s; both risks stay within twice those allowed %s.", name, between(h.Low, h.High), between(h.Doubled.Low, h.Doubled.High))
}
