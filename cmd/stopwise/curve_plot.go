package main

import (
	"fmt"
	"slices"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// plotIntervals is the number of steps of a drawn curve.
const plotIntervals = 80

// curvesFigure draws the exact curves of a stage. Without clumps given it shows
// both ends of the protocol's range.
func curvesFigure(s *plans.StagePlan, clumps []degree) (figure.Picture, error) {
	level := func(x float64) string { return report.Level(s.Measure, x) }
	v := figure.Curves{
		Title:      pictureTitle("How often a visit ends with leave, and how far one walks", s.About) + inStage(s),
		Share:      s.Measure == plans.ShareInfested,
		LevelLabel: "true share of plants infested in the field",
		LeaveHead:  "Chance that the visit ends with leave (do not treat)",
		StopsHead:  fmt.Sprintf("Expected stops of the visit (%d plants and %s each)", s.Plants(), report.Minutes(s.Minutes(1, float64(s.Plants())))),
		Lower:      figure.Mark{Level: s.Lower, Name: "lower bound " + level(s.Lower)},
		Threshold:  figure.Mark{Level: s.Threshold, Name: "threshold " + level(s.Threshold)},
		Upper:      figure.Mark{Level: s.Upper, Name: "upper bound " + level(s.Upper)},

		NeedlessRisk: s.NeedlessRisk, MissedRisk: s.MissedRisk,
		NeedlessText: "ruled out: act needlessly in more than " + report.Share(s.NeedlessRisk),
		MissedText:   "ruled out: leave in more than " + report.Share(s.MissedRisk),
		Desc:         promiseSentence(s),
	}
	if s.Measure == plans.MeanPerLeaf {
		v.LevelLabel = "true mean number of insects per leaf in the field"
	}
	v.Note = fmt.Sprintf("High is leave, low is act: act has the rest to 100%%. Exact for the plan found by the method %s, clumping included. "+
		"Grey areas: what the promise rules out, at and beyond the two bounds; a curve inside one breaks the promise. Diamonds: the risks promised, %s of needless and %s of missed treatments.",
		s.Method, report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	levels := append(evenly(0, topLevel(s), plotIntervals), s.Lower, s.Threshold, s.Upper)
	slices.Sort(levels)
	levels = slices.Compact(levels)
	if len(clumps) == 0 {
		clumps = rangeDegrees(s)
	}
	for _, clump := range clumps {
		points := s.Curve(levels, clump)
		v.Curves = append(v.Curves, drawn(curveName(s, clump), points))
	}
	if s.Method == plans.Lines && s.Lines != nil {
		v.TextbookName = "textbook"
		v.Note += " Crosses: the textbook's approximations for these lines (Wald 1947), which take plants one by one and as independent."
		per := float64(s.Units(1)) * float64(s.Plants())
		for _, w := range s.Textbook() {
			v.Textbook = append(v.Textbook, figure.CurvePoint{Level: w.Level, Leave: w.Leave, Stops: w.Units / per})
		}
	}
	return v.Picture()
}

func inStage(s *plans.StagePlan) string {
	if s.Name == "" {
		return ""
	}
	return ", stage " + s.Name
}

// rangeDegrees returns both ends of the protocol's clumping range, the most
// clumped one first; one of them where they are the same.
func rangeDegrees(s *plans.StagePlan) []degree {
	law := s.Law()
	if law.Clumped(s.Threshold) == law.Even(s.Threshold) {
		return []degree{law.Clumped}
	}
	return []degree{law.Clumped, law.Even}
}

func drawn(name string, points []plans.CurvePoint) figure.Curve {
	c := figure.Curve{Name: name}
	for _, p := range points {
		c.Points = append(c.Points, figure.CurvePoint{Level: p.Level, Leave: p.Leave, Stops: p.Stops})
	}
	return c
}
