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
)

// plotIntervals is the number of steps of a drawn curve.
const plotIntervals = 80

// CurvesFigure draws the exact curves of a stage. Without clumps given it shows
// both ends of the protocol's range.
func CurvesFigure(s *plans.StagePlan, clumps []float64) (figure.Picture, error) {
	level := func(x float64) string { return plans.FormatLevel(s.Measure, x) }
	p := s.Protocol()
	v := figure.Curves{
		Title:      say.PictureTitle("How often a visit ends with leave, and how far one walks", p) + say.InStage(s),
		Share:      s.Measure == plans.ShareInfested,
		LevelLabel: "true share of plants infested in the field",
		LeaveHead:  "Chance that the visit ends with leave (do not treat)",
		StopsHead:  fmt.Sprintf("Expected stops of the visit (%d plants and %s each)", s.Plants(), report.Minutes(p.MinutesOf(s.Stage, 1, float64(s.Plants())))),
		Lower:      figure.Mark{Level: s.Lower, Name: "lower bound " + level(s.Lower)},
		Threshold:  figure.Mark{Level: s.Threshold, Name: "threshold " + level(s.Threshold)},
		Upper:      figure.Mark{Level: s.Upper, Name: "upper bound " + level(s.Upper)},

		NeedlessRisk: s.NeedlessRisk, MissedRisk: s.MissedRisk,
		NeedlessText: "ruled out: act needlessly in more than " + report.Share(s.NeedlessRisk),
		MissedText:   "ruled out: leave in more than " + report.Share(s.MissedRisk),
		Desc:         say.PromiseSentence(s),
	}
	if s.Measure == plans.MeanPerLeaf {
		v.LevelLabel = "true mean number of insects per leaf in the field"
	}
	v.Note = fmt.Sprintf("High is leave, low is act: act has the rest to 100%%. Exact for the plan found by the method %s, clumping included. "+
		"Grey areas: what the promise rules out, at and beyond the two bounds; a curve inside one breaks the promise. Diamonds: the risks promised, %s of needless and %s of missed treatments.",
		s.Method, report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	levels := append(report.Evenly(0, TopLevel(s), plotIntervals), s.Lower, s.Threshold, s.Upper)
	slices.Sort(levels)
	levels = slices.Compact(levels)
	if len(clumps) == 0 {
		v.Curves = rangeCurves(s, levels)
	}
	for _, clump := range clumps {
		points := s.Curve(levels, clump)
		v.Curves = append(v.Curves, drawn(points[0].Clump.String(), points))
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

// rangeCurves returns the curves at both ends of the protocol's clumping range,
// the most clumped one first.
func rangeCurves(s *plans.StagePlan, levels []float64) []figure.Curve {
	p := s.Protocol()
	ends := p.Worlds(s.Measure, s.Threshold)
	if len(ends) > 1 {
		clumped, even := ends[len(ends)-1].Clump, ends[0].Clump
		a, b := s.Curve(levels, clumped), s.Curve(levels, even)
		return []figure.Curve{drawn(a[0].Clump.String(), a), drawn(b[0].Clump.String(), b)}
	}
	var points []plans.CurvePoint
	for _, level := range levels { // clumping may follow the level, as Taylor's law has it
		w := p.Worlds(s.Measure, level)[0]
		points = append(points, s.Curve([]float64{level}, w.Clump)...)
	}
	name := ""
	switch c := p.Clumping; {
	case s.Measure == plans.MeanPerLeaf && c.Taylor != nil:
		name = fmt.Sprintf("variance %s mean^%s", report.Number(c.Taylor.A, 3), report.Number(c.Taylor.B, 3))
	case s.Measure == plans.MeanPerLeaf && c.Iwao != nil:
		name = fmt.Sprintf("Iwao's a %s, b %s", report.Number(c.Iwao.A, 3), report.Number(c.Iwao.B, 3))
	default:
		name = points[0].Clump.String()
	}
	return []figure.Curve{drawn(name, points)}
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
