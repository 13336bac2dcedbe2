package designing

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/plans/rule"
)

// comparisonCounting is a plan by the method risk-true whose stops count in one way.
type comparisonCounting struct {
	Counting plans.Counting `json:"counting"`
	rule.Worth
	Needless *float64       `json:"worst_needless"`
	Missed   *float64       `json:"worst_missed"`
	Keeps    *bool          `json:"keeps_risks"`
	Stops    float64        `json:"weighted_expected_stops"`
	Plants   float64        `json:"weighted_expected_plants"`
	Minutes  float64        `json:"weighted_expected_minutes"`
	Patches  plans.HeldRisk `json:"in_patches"`
}

func countingsOf(c plans.Comparison) []comparisonCounting {
	var all []comparisonCounting
	for _, s := range c.Countings {
		needless, missed := s.WorstPromised()
		x := comparisonCounting{Counting: s.Stop.Counting, Worth: s.Worth, Needless: &needless, Missed: report.Finite(missed), Keeps: keepsOrNull(s), Patches: s.InPatches()}
		if s.Stop.Plain() {
			x.Counting = plans.CountTotal
		}
		x.Stops, x.Plants, x.Minutes = s.Expected()
		all = append(all, x)
	}
	return all
}

// countingDocument shows what stops may count, and what to go by.
func countingDocument(d *report.Document, c plans.Comparison) {
	if len(c.Countings) < 2 {
		return
	}
	t := report.NewTable("What a stop may count, by the method risk-true for the same promise; in patches: the worst risks where the pest sits in patches and nowhere else, as alike at a stop.",
		"a stop counts", ">stops", ">"+report.UnitsName(c.Stage), ">time", ">needless in patches", ">missed in patches")
	for _, s := range c.Countings {
		stops, plants, minutes := s.Expected()
		r := s.InPatches()
		t.Add(countingName(s), report.Number(stops, 3), report.Whole(plants), report.Minutes(minutes), report.Percent(r.Needless), say.Chance(r.Missed))
	}
	d.Table(t)
	d.Para("%s", countingAdvice(c))
}

func countingName(s *plans.StagePlan) string {
	switch w := s.Worth; {
	case w.Points != nil:
		return fmt.Sprintf("points up to %d", w.Points.Top)
	case w.Cap > 0:
		return fmt.Sprintf("at most %d", w.Cap)
	}
	return "what is found"
}

// worthwhile is the part of a visit's minutes from which on another counting is worth
// its trouble: common practice, no source.
const worthwhile = 0.02

// countingAdvice says which counting to choose, and why.
func countingAdvice(c plans.Comparison) string {
	var total *plans.StagePlan
	best, saved := (*plans.StagePlan)(nil), math.Inf(-1)
	for _, s := range c.Countings {
		if s.Worth.Plain() {
			total = s
		}
	}
	if total == nil {
		return "No plan that adds up what is found keeps the promise; these do, and the last two columns say what they run where the pest sits in patches."
	}
	_, _, whole := total.Expected()
	stops, _, _ := total.Expected()
	for _, s := range c.Countings {
		n, _, minutes := s.Expected()
		by := 1 - minutes/whole
		if whole == 0 {
			by = 1 - n/stops
		}
		if s != total && by > saved {
			best, saved = s, by
		}
	}
	of := "the time"
	if whole == 0 {
		of = "the stops"
	}
	if saved < worthwhile {
		return fmt.Sprintf("To choose: what is found. Nothing else saves %s of %s, and totals lean least on how the pest is spread.", report.Percent(worthwhile), of)
	}
	how := countingFlag(best)
	if c.Stage.HoldUnder.Patches {
		return fmt.Sprintf("To choose: %s (%s). It saves %s of %s, and the promise holds in patches too.", countingName(best), how, report.Percent(saved), of)
	}
	unless := fmt.Sprintf("the counts of the region speak for %s alike as a beta-binomial (fit says which shape they speak for)", report.UnitsName(c.Stage))
	if !c.Stage.Measure.Bounded() {
		unless = "it is known that stops differ by degrees (their means gamma distributed) and not by patches with nothing between"
	}
	return fmt.Sprintf("To choose: what is found, unless %s: then %s (%s) saves %s of %s. In patches %s; with --hold-under patches it is held there, and compared anew.",
		unless, countingName(best), how, report.Percent(saved), of, inPatches(best, total))
}

// inPatches says how a plan and that of totals do in patches.
func inPatches(best, total *plans.StagePlan) string {
	worst := func(s *plans.StagePlan) float64 {
		r := s.InPatches()
		if math.IsNaN(r.Missed) {
			return r.Needless / s.NeedlessRisk
		}
		return max(r.Needless/s.NeedlessRisk, r.Missed/s.MissedRisk)
	}
	if a, b := worst(best), worst(total); a > b {
		return "its promise breaks further than that of totals"
	}
	return "its promise fares no worse than that of totals"
}

func countingFlag(s *plans.StagePlan) string {
	if w := s.Worth; w.Points != nil {
		return fmt.Sprintf("--points %d", w.Points.Top)
	}
	return fmt.Sprintf("--cap %d", s.Worth.Cap)
}
