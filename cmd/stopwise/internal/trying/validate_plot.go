package trying

import (
	"fmt"
	"strconv"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/validate"
)

// draw draws one made field with one walk through it.
func (v *validation) draw(r *validationResult) error {
	walk, err := validate.WalkOnce(r.stage, plotLevel(r.stage), r.walk)
	if err != nil {
		return err
	}
	if err := shell.WritePicture(v.plot.Value, fieldFigure(walk)); err != nil {
		return err
	}
	r.drawn = v.plot.Value
	return nil
}

func fieldFigure(v validate.Visit) figure.Field {
	along, across := v.Field.Cells()
	f := figure.Field{
		Title: fmt.Sprintf("%s, %s infested: %s after %s and %s (%s)", patternWords[v.Field.Pattern], report.Share(v.Field.Share),
			v.Verdict, report.Count(len(v.Stops), "stop", "stops"), report.Minutes(v.Minutes), v.Route),
		Length: v.Field.Ground.Length, Width: v.Field.Ground.Width,
		Share: v.Field.Cell, Along: along, Across: across,
		Gate: figure.Point{X: v.GateX, Y: v.GateY},
	}
	for _, p := range v.Path {
		f.Route = append(f.Route, figure.Point{X: p.X, Y: p.Y})
	}
	for i, p := range v.Stops {
		f.Stops = append(f.Stops, figure.Stop{Point: figure.Point{X: p.X, Y: p.Y}, Label: strconv.Itoa(v.Infested[i])})
	}
	return f
}
