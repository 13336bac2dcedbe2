package figure

import (
	"math"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Chances are named lines of chances over stops, in [0, 1].
type Chances struct {
	Title, Note, Desc string
	Head, StopLabel   string
	Lines             []Line
}

// Picture returns the chances as a picture.
func (v Chances) Picture() (Picture, error) {
	p := newPanelPlot()
	p.X.Tick.Marker, p.Y.Tick.Marker = plainTicks{whole: true}, plainTicks{unit: "%"}
	p.X.Min, p.X.Max = math.Inf(1), math.Inf(-1)
	most := 0.0
	for _, l := range v.Lines {
		for _, x := range l.Points {
			p.X.Min, p.X.Max, most = math.Min(p.X.Min, x.X), math.Max(p.X.Max, x.X), math.Max(most, x.Y)
		}
	}
	p.Y.Min, p.Y.Max = 0, math.Min(100, 115*most)
	addGrid(p)
	n := &names{}
	for i, l := range v.Lines {
		if err := n.line(p, i, l.Name, scaled(l.Points, 1, 100), 1.6); err != nil {
			return nil, err
		}
	}
	p.Add(n)
	return &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 8.4 * vg.Centimeter,
		rows: [][]panel{{{v.Head, v.StopLabel, p, 4}}}}, nil
}

// Sampled are many fields: what each is and what one visit saw there.
type Sampled struct {
	Title, Note, Desc string
	Head, LevelLabel  string
	Share             bool // levels are shares, in [0, 1]; else means
	Lower, Upper      Mark
	Fields            []SampledField
}

// A SampledField is a field and the visit to it.
type SampledField struct {
	Level, Seen float64
	Acted       bool
	Wrong       bool
}

// Picture returns the fields as a picture.
func (v Sampled) Picture() (Picture, error) {
	p := newPanelPlot()
	scale, most, ticks := 1.0, math.Inf(1), plainTicks{}
	if v.Share {
		scale, most, ticks = 100, 1, plainTicks{unit: "%"}
	}
	p.X.Tick.Marker, p.Y.Tick.Marker = ticks, ticks
	right, top := v.Upper.Level, v.Upper.Level
	for _, f := range v.Fields {
		right, top = math.Max(right, f.Level), math.Max(top, f.Seen)
	}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, scale*math.Min(most, 1.04*right), 0, scale*math.Min(most, 1.04*top)
	addGrid(p)
	far := math.Min(p.X.Max, p.Y.Max)
	if err := addLine(p, plotter.XYs{{}, {X: far, Y: far}}, draw.LineStyle{Color: grey, Width: 0.8, Dashes: []vg.Length{4, 3}}); err != nil {
		return nil, err
	}
	marks := uprights{[]upright{{scale * v.Lower.Level, v.Lower.Name}, {scale * v.Upper.Level, v.Upper.Name}}, true}
	p.Add(marks)
	for _, kind := range []struct {
		acted, wrong bool
		style        draw.GlyphStyle
	}{
		{false, false, draw.GlyphStyle{Color: blue, Radius: 2.4, Shape: draw.RingGlyph{}}},
		{true, false, draw.GlyphStyle{Color: rust, Radius: 2.6, Shape: draw.CrossGlyph{}}},
		{false, true, draw.GlyphStyle{Color: blue, Radius: 5, Shape: draw.CircleGlyph{}}},
		{true, true, draw.GlyphStyle{Color: rust, Radius: 4.5, Shape: draw.BoxGlyph{}}},
	} {
		var xys plotter.XYs
		for _, f := range v.Fields {
			if f.Acted == kind.acted && f.Wrong == kind.wrong {
				xys = append(xys, plotter.XY{X: scale * f.Level, Y: scale * f.Seen})
			}
		}
		if len(xys) == 0 {
			continue
		}
		if err := addDots(p, xys, kind.style); err != nil {
			return nil, err
		}
	}
	return &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 10.5 * vg.Centimeter,
		rows: [][]panel{{{v.Head, v.LevelLabel, p, marks.room(p.X.Min, p.X.Max, pictureWidth-2*vg.Centimeter)}}}}, nil
}
