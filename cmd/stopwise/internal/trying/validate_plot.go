package trying

import (
	"fmt"
	"strconv"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

// draw draws one made field with one walk through it.
func (v *validation) draw(r *validationResult) error {
	walk, err := validate.WalkOnce(r.stage, plotLevel(r.stage), r.walk)
	if err != nil {
		return err
	}
	if err := shell.WritePicture(v.plot.Value, fieldFigure(walk, r.stage)); err != nil {
		return err
	}
	r.drawn = v.plot.Value
	return nil
}

func fieldFigure(v validate.Visit, s *plans.StagePlan) figure.Field {
	along, across := v.Field.Cells()
	counts, levelText := s.Measure == plans.MeanPerLeaf, report.Share(v.Field.Level)+" infested"
	if counts {
		levelText = report.Level(s.Measure, v.Field.Level)
	}
	f := figure.Field{
		Title: fmt.Sprintf("%s, %s: %s after %s and %s (%s)", patternWords[v.Field.Pattern], levelText,
			v.Verdict, report.Count(len(v.Stops), "stop", "stops"), report.Minutes(v.Minutes), v.Route),
		Length: v.Field.Ground.Length, Width: v.Field.Ground.Width,
		Level: v.Field.Cell, Counts: counts, Along: along, Across: across,
		Gate: figure.Point{X: v.GateX, Y: v.GateY},
	}
	for _, p := range v.Path {
		f.Route = append(f.Route, figure.Point{X: p.X, Y: p.Y})
	}
	for i, p := range v.Stops {
		f.Stops = append(f.Stops, figure.Stop{Point: figure.Point{X: p.X, Y: p.Y}, Label: strconv.Itoa(v.Counted[i])})
	}
	return f
}
