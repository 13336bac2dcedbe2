package figure

import (
	"math"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Trade sets what schedules take against what they risk: panels above each other, a line
// for each number of stops a visit, a point for each interval.
type Trade struct {
	Title, Note, Desc string
	TimeLabel         string
	Panels            []TradePanel
}

// A TradePanel is one of the things that schedules risk.
type TradePanel struct {
	Head    string
	Percent bool // values are chances
	Lines   []Line
	Allowed *Mark // what is promised; nil for nothing
}

// Picture returns the trade as a picture.
func (t Trade) Picture() (Picture, error) {
	s := &sheet{head: t.Title, note: t.Note, desc: t.Desc, width: pictureWidth, row: 5.6 * vg.Centimeter}
	most := 0.0
	for _, l := range t.Panels[0].Lines {
		for _, x := range l.Points {
			most = math.Max(most, x.X)
		}
	}
	for _, of := range t.Panels {
		p, err := t.panel(of, most)
		if err != nil {
			return nil, err
		}
		s.rows = append(s.rows, []panel{p})
	}
	return s, nil
}

func (t Trade) panel(of TradePanel, most float64) (panel, error) {
	p := newPanelPlot()
	scale := 1.0
	p.X.Tick.Marker, p.Y.Tick.Marker = plainTicks{}, plainTicks{}
	if of.Percent {
		scale, p.Y.Tick.Marker = 100, plainTicks{unit: "%"}
	}
	p.X.Min, p.X.Max, p.Y.Min = 0, 1.05*most, 0
	addGrid(p)
	n := &names{}
	for i, l := range of.Lines {
		xys := scaled(l.Points, 1, scale)
		for _, x := range xys {
			p.Y.Max = math.Max(p.Y.Max, 1.05*x.Y)
		}
		if err := n.line(p, i, l.Name, xys, 1.4); err != nil {
			return panel{}, err
		}
		if err := addDots(p, xys, draw.GlyphStyle{Color: strokeOf(i).color, Radius: vg.Points(2.4), Shape: draw.CircleGlyph{}}); err != nil {
			return panel{}, err
		}
	}
	if a := of.Allowed; a != nil {
		level := plotter.XYs{{X: 0, Y: scale * a.Level}, {X: p.X.Max, Y: scale * a.Level}}
		if err := addLine(p, level, draw.LineStyle{Color: grey, Width: vg.Points(1), Dashes: []vg.Length{vg.Points(1.5), vg.Points(2.5)}}); err != nil {
			return panel{}, err
		}
		n.tracks = append(n.tracks, track{name: a.Name, xys: level, style: typed(textSize, false, grey)})
	}
	p.Add(n)
	return panel{of.Head, t.TimeLabel, p, 4}, nil
}
