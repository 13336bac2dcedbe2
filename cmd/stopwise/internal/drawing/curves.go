// Package drawing makes pictures of plans: their curves and their staircases.
package drawing

import (
	"fmt"
	"math"
	"slices"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

// plotIntervals is the number of steps of a drawn curve.
const plotIntervals = 80

// A Degree of clumping gives the field situation at every level.
type Degree = func(level float64) plans.World

// CurvesFigure draws the exact curves of a stage. Without clumps given it shows
// both ends of the protocol's range.
func CurvesFigure(s *plans.StagePlan, clumps []Degree) (figure.Picture, error) {
	level := func(x float64) string { return report.Level(s.Measure, x) }
	v := figure.Curves{
		Title:      say.PictureTitle("How often a visit ends with leave, and how far one walks", s.About) + say.InStage(s),
		Share:      s.Measure == plans.ShareInfested,
		LevelLabel: "true share " + say.English().Measured(s.Stage) + " in the field",
		LeaveHead:  "Chance that the visit ends with leave (do not treat)",
		StopsHead:  fmt.Sprintf("Expected stops of the visit (%s and %s each)", report.Units(s.Stage, s.Plants()), report.Minutes(s.Minutes(1, float64(s.Plants())))),
		Lower:      figure.Mark{Level: s.Lower, Name: "lower bound " + level(s.Lower)},
		Threshold:  figure.Mark{Level: s.Threshold, Name: "threshold " + level(s.Threshold)},
		Upper:      figure.Mark{Level: s.Upper, Name: "upper bound " + level(s.Upper)},

		NeedlessRisk: s.NeedlessRisk, MissedRisk: s.MissedRisk,
		NeedlessText: "ruled out: act needlessly in more than " + report.Share(s.NeedlessRisk),
		MissedText:   "ruled out: leave in more than " + report.Share(s.MissedRisk),
		Desc:         say.English().PromiseSentence(s),
	}
	by, known := ByCount(s)
	if !known {
		v.LeaveHead = "Chance that the visit ends with leave by the count alone; the sign can only raise it"
		v.MissedRisk, v.MissedText = 1, ""
	}
	if s.Measure == plans.MeanPerLeaf {
		v.LevelLabel = "true mean number of insects per leaf in the field"
	}
	v.Note = fmt.Sprintf("High is leave, low is act: act has the rest to 100%%. Exact for the plan %s, clumping included. "+
		"Grey areas: what the promise rules out, at and beyond the two bounds; a curve inside one breaks the promise. Diamonds: the risks promised, %s of needless and %s of missed treatments.",
		say.TableFrom(s), report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	if !known {
		v.Note = "High is leave, low is act, both by the count alone: how often the sign is seen is not known, and with it what the rule does and whether the promise holds."
	}
	levels := append(report.Evenly(0, TopLevel(s), plotIntervals), s.Lower, s.Threshold, s.Upper)
	slices.Sort(levels)
	levels = slices.Compact(levels)
	if len(clumps) == 0 {
		clumps = RangeDegrees(s)
	}
	for _, clump := range clumps {
		points := by.Curve(levels, clump)
		v.Curves = append(v.Curves, drawn(CurveName(s, clump), points))
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

// ByCount returns the plan whose curves can be drawn: itself where the chances of a
// sign are known or it asks for none, else that of the count alone.
func ByCount(s *plans.StagePlan) (by *plans.StagePlan, known bool) {
	if s.NeedlessKnown() && s.MissedKnown() {
		return s, true
	}
	count := *s
	count.Sign = nil
	return &count, false
}

// CurveName names a degree of clumping: with its value, or with the law where
// the value follows the level.
func CurveName(s *plans.StagePlan, at Degree) string {
	low, high := at(s.Lower), at(s.Upper)
	if law := s.Law(); low.Clump != high.Clump {
		name := fmt.Sprintf("Iwao's A %s, B %s", report.Number(law.A, 3), report.Number(law.B, 3))
		if law.Kind == protocol.TaylorLaw {
			name = fmt.Sprintf("variance %s mean^%s", report.Number(law.A, 3), report.Number(law.B, 3))
		}
		if high.CountRho > 0 {
			name += ", count rho " + report.Number(high.CountRho, 3)
		}
		return name
	}
	return report.Clumping(low.Value())
}

// RangeDegrees returns both ends of the protocol's clumping range, the most
// clumped one first; one of them where they are the same.
func RangeDegrees(s *plans.StagePlan) []Degree {
	law := s.Law()
	if law.Clumped(s.Threshold) == law.Even(s.Threshold) {
		return []Degree{law.Clumped}
	}
	return []Degree{law.Clumped, law.Even}
}

func drawn(name string, points []plans.CurvePoint) figure.Curve {
	c := figure.Curve{Name: name}
	for _, p := range points {
		c.Points = append(c.Points, figure.CurvePoint{Level: p.Level, Leave: p.Leave, Stops: p.Stops})
	}
	return c
}

func TopLevel(s *plans.StagePlan) float64 {
	if s.Measure == plans.ShareInfested {
		return math.Min(1, 2*s.Upper)
	}
	return 2 * s.Upper
}
