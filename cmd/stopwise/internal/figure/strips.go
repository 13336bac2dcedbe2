package figure

import (
	"fmt"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Strips are the seasons of fields, one line of visits each.
type Strips struct {
	Title, Note, Desc string
	Head, DayLabel    string
	LastDay           int
	Fields            [][]StripVisit
	Marks             []Mark // days with their names
}

// A StripVisit is a visit on a line: a treatment, or leave with or without a find.
type StripVisit struct {
	Day        int
	Found, Act bool
}

// stripRow is the height of a field's line.
const stripRow = 0.5 * vg.Centimeter

// Picture returns the seasons as a picture.
func (s Strips) Picture() (Picture, error) {
	p := newPanelPlot()
	var rows plot.ConstantTicks
	for n := range s.Fields {
		rows = append(rows, plot.Tick{Value: float64(len(s.Fields) - n), Label: fmt.Sprint(n + 1)})
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = plainTicks{whole: true}, rows
	p.X.Min, p.X.Max = -1, float64(s.LastDay)+1
	p.Y.Min, p.Y.Max = 0.2, float64(len(s.Fields))+0.8
	addGrid(p)
	up := uprights{names: true}
	for _, m := range s.Marks {
		up.at = append(up.at, upright{m.Level, m.Name})
	}
	p.Add(up, strips(s.Fields))
	top := vg.Length(4)
	if len(s.Marks) > 0 {
		top = up.room(p.X.Min, p.X.Max, pictureWidth-2*vg.Centimeter)
	}
	return &sheet{head: s.Title, note: s.Note, desc: s.Desc, width: pictureWidth, row: vg.Length(len(s.Fields))*stripRow + 2.2*vg.Centimeter,
		rows: [][]panel{{{s.Head, s.DayLabel, p, top}}}}, nil
}

// strips draws a line for each field, the first on top: a ring where nothing was found,
// a disc where something was, a square where the field was treated.
type strips [][]StripVisit

func (f strips) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for n, visits := range f {
		at := y(float64(len(f) - n))
		if len(visits) > 0 {
			c.StrokeLine2(draw.LineStyle{Color: faint, Width: vg.Points(1)}, x(0), at, x(float64(visits[len(visits)-1].Day)), at)
		}
		for _, v := range visits {
			spot := vg.Point{X: x(float64(v.Day)), Y: at}
			switch {
			case v.Act:
				c.DrawGlyph(draw.GlyphStyle{Color: rust, Radius: vg.Points(4.5), Shape: draw.BoxGlyph{}}, spot)
			case v.Found:
				c.DrawGlyph(draw.GlyphStyle{Color: steel, Radius: vg.Points(3.2), Shape: draw.CircleGlyph{}}, spot)
			default:
				c.DrawGlyph(draw.GlyphStyle{Color: white, Radius: vg.Points(3.2), Shape: draw.CircleGlyph{}}, spot)
				c.DrawGlyph(draw.GlyphStyle{Color: steel, Radius: vg.Points(3.2), Shape: draw.RingGlyph{}}, spot)
			}
		}
	}
}
