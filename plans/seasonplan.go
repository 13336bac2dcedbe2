package plans

import (
	"fmt"
	"strings"

	"stopwise/plans/protocol"
	"stopwise/plans/season"
	"stopwise/sampling"
)

// SeasonTrue is the method of tables that were chosen together with the intervals for
// the promises of a season.
const SeasonTrue Method = "season-true"

// What a protocol promises for the season, and whom.
type (
	Seasonal = protocol.Season
	Regional = protocol.Region
)

// longestInterval bounds the intervals that are chosen, in days: common practice, no
// source.
const longestInterval = 14

// ready returns what is wrong with a protocol, or what it leaves to be chosen for the
// season: only Design by the default method chooses.
func ready(p Protocol) error {
	if err := p.Check(); err != nil {
		return err
	}
	for i, s := range p.Stages {
		if open := s.Open(); len(open) > 0 {
			return &FieldError{Path: fmt.Sprintf("stage.%d.%s", i, open[0]), Stage: s.Name, Message: fmt.Sprintf(
				"%s of stage %q left to be chosen for the season; only the method risk-true does so: give them, or make the plan without another method", strings.Join(open, ", "), s.Name)}
		}
	}
	return nil
}

// seasonProblem states what is looked for.
func seasonProblem(p Protocol) season.Problem {
	s, back := p.Seasonal, p.Stages[0].ComingBack
	region := p.Regional
	if region == nil {
		usual := protocol.DefaultRegion(p.Stages[0].Lower)
		region = &usual
	}
	out := season.Problem{
		Season: season.Season{Means: !p.Stages[0].Measure.Bounded(), LastDay: s.LastDay(), Lead: wholeLead(back.LeadDays)},
		Mix: season.Mix{Clean: region.Clean, Staying: region.Staying,
			StayingLevel: region.StayingLevel, Growing: region.Growing},
		Growth:  season.Growth{Start: s.Start, Low: s.Growth.Low, High: s.Growth.High},
		Promise: season.Promise{Needless: s.Needless, Late: s.Late, LateDays: s.LateDays},
		Classes: max(2, s.Tables), OneTable: s.Tables < 2, LongestInterval: longestInterval,
	}
	same := true
	for _, t := range p.Stages {
		law := t.Law()
		same = same && law.Even(t.Lower) == law.Clumped(t.Lower)
		out.Season.Stages = append(out.Season.Stages, season.Stage{
			Days: int(t.LastsDays), Lower: t.Lower, Threshold: t.Threshold, Upper: t.Upper,
			Effort: season.Effort{Visit: region.DriveMinutes, Stop: t.Stop.WalkMinutes, Unit: t.Stop.PlantMinutes / float64(t.UnitsPerPlant())},
			Sign:   signOver(t), Worth: UsualWorth(t),
		})
		out.Walks = append(out.Walks, season.Walk{Units: t.Units(t.Stop.Plants), Minimum: max(1, t.Stop.Minimum), Maximum: t.Stop.Maximum})
	}
	// The plain worlds come last: the minutes are those of the most clumped one.
	for _, held := range append(heldNames(p.Stages), "") {
		var even, clumped season.World
		for _, t := range p.Stages {
			law, field := t.Law(), heldField(t, held)
			even = append(even, func(l float64) sampling.Population { return field(law.Even(l)) })
			clumped = append(clumped, func(l float64) sampling.Population { return field(law.Clumped(l)) })
		}
		if !same {
			out.Worlds = append(out.Worlds, even)
		}
		out.Worlds = append(out.Worlds, clumped)
	}
	if back.DaysUntilFound > 0 || back.DaysOnceFound > 0 {
		out.Intervals = make([]int, out.Classes)
		for i, days := range []float64{back.DaysUntilFound, back.DaysOnceFound} {
			if days > 0 {
				out.Intervals[i] = wholeDays(days)
				out.LongestInterval = max(out.LongestInterval, out.Intervals[i])
			}
		}
	}
	return out
}

// signOver returns the chance by level and stop that the sign of a stage allows a
// treatment; nil where there is none, or it is not known.
func signOver(t Stage) func(level float64) func(stop int) float64 {
	if !t.SignKnown() {
		return nil
	}
	return t.SignMet
}
