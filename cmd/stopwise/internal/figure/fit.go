package figure

import (
	"errors"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Fitted is what was fitted to pilot counts: how the variance rises, with the
// laws fitted to it, and how many of each count were seen and are expected.
type Fitted struct {
	Title, Note, Desc string

	SpreadHead, SpreadLabel string // headings of the upright and the level axis
	Spread                  []XY   // one a field; both above 0
	Laws                    []Law

	CountHead, CountLabel string
	Counts                []CountClass // may be empty
	SeenName, FittedName  string
	OtherName             string // of what another form expects; empty for none
}

// XY is a point.
type XY struct{ X, Y float64 }

// A Law is a fitted relation y(x), drawn from From to To.
type Law struct {
	Name     string
	At       func(x float64) float64
	From, To float64
}

// A CountClass is a range of counts.
type CountClass struct {
	Label  string // "0", "1-2", "51 and more"
	Seen   float64
	Fitted float64
	Other  float64 // expected by another form, where it has a name
}

// lawPoints is the number of points of a law's curve.
const lawPoints = 60

// Picture returns the fit as a picture.
func (f Fitted) Picture() (Picture, error) {
	s := &sheet{head: f.Title, note: f.Note, desc: f.Desc, width: pictureWidth, row: 9.4 * vg.Centimeter}
	spread, err := f.spreadPanel()
	if err != nil {
		return nil, err
	}
	s.rows = [][]panel{{spread}}
	if len(f.Counts) > 0 {
		counts, err := f.countPanel()
		if err != nil {
			return nil, err
		}
		s.rows = append(s.rows, []panel{counts})
	}
	return s, nil
}

func (f Fitted) spreadPanel() (panel, error) {
	if len(f.Spread) == 0 {
		return panel{}, errors.New("figure: no field has a mean and a variance above 0")
	}
	p := newPanelPlot()
	points := scaled(f.Spread, 1, 1)
	p.X.Scale, p.Y.Scale = plot.LogScale{}, plot.LogScale{}
	p.X.Tick.Marker, p.Y.Tick.Marker = logTicks{}, logTicks{}
	curves := make([]plotter.XYs, len(f.Laws))
	for i, law := range f.Laws {
		curves[i] = law.curve()
	}
	xmin, xmax, ymin, ymax := plotter.XYRange(points)
	for _, c := range curves {
		if len(c) > 1 {
			a, b, d, e := plotter.XYRange(c)
			xmin, xmax, ymin, ymax = math.Min(xmin, a), math.Max(xmax, b), math.Min(ymin, d), math.Max(ymax, e)
		}
	}
	// A little room, and some at all where there is one field.
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = xmin/1.25, xmax*1.25, ymin/1.4, ymax*1.4
	addGrid(p)
	n := &names{}
	for i, c := range curves {
		if len(c) < 2 {
			continue
		}
		if err := n.line(p, i, f.Laws[i].Name, c, 1.5); err != nil {
			return panel{}, err
		}
	}
	if err := addDots(p, points, draw.GlyphStyle{Color: ink, Radius: 3.2, Shape: draw.RingGlyph{}}); err != nil {
		return panel{}, err
	}
	for _, x := range points {
		n.tracks = append(n.tracks, track{xys: plotter.XYs{x}, apart: true, free: true})
	}
	p.Add(n)
	return panel{head: f.SpreadHead, level: f.SpreadLabel, plot: p, top: 4}, nil
}

func (l Law) curve() plotter.XYs {
	var out plotter.XYs
	for i := range lawPoints + 1 {
		x := l.From * math.Pow(l.To/l.From, float64(i)/lawPoints)
		if y := l.At(x); y > 0 && !math.IsInf(y, 0) && !math.IsNaN(y) {
			out = append(out, plotter.XY{X: x, Y: y})
		}
	}
	return out
}

func (f Fitted) countPanel() (panel, error) {
	p := newPanelPlot()
	p.X.Min, p.X.Max = -0.6, float64(len(f.Counts))-0.4
	p.Y.Min = 0
	p.Y.Tick.Marker = plainTicks{whole: true}
	addGrid(p)
	var ticks plot.ConstantTicks
	var fitted, other plotter.XYs
	for i, c := range f.Counts {
		x := float64(i)
		ticks = append(ticks, plot.Tick{Value: x, Label: c.Label})
		fitted = append(fitted, plotter.XY{X: x, Y: c.Fitted})
		other = append(other, plotter.XY{X: x, Y: c.Other})
		p.Y.Max = math.Max(p.Y.Max, 1.2*math.Max(c.Other, math.Max(c.Seen, c.Fitted)))
		bar := box(x-0.36, 0, x+0.36, c.Seen)
		p.Add(area{bar, actHue})
		if err := addLine(p, append(bar, bar[0]), draw.LineStyle{Color: rust, Width: 0.8}); err != nil {
			return panel{}, err
		}
	}
	p.X.Tick.Marker = ticks
	err := addDotted(p, fitted, draw.LineStyle{Color: blue, Width: 1, Dashes: []vg.Length{2, 2}}, fittedGlyph)
	if err == nil && f.OtherName != "" {
		err = addDotted(p, other, draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{1, 3}}, otherGlyph)
	}
	p.Add(countKey{f})
	return panel{head: f.CountHead, level: f.CountLabel, plot: p, top: 4}, err
}

// The signs of what is expected, and of what another form expects.
var (
	fittedGlyph = draw.GlyphStyle{Color: blue, Radius: 3.5, Shape: diamond{}}
	otherGlyph  = draw.GlyphStyle{Color: ink, Radius: 3, Shape: draw.CrossGlyph{}}
)

// countKey says in the room above the bars what bars and diamonds are.
type countKey struct{ f Fitted }

func (k countKey) Plot(c draw.Canvas, _ *plot.Plot) {
	seen, fitted := typed(textSize, true, rust), typed(textSize, true, blue)
	y := c.Max.Y - textSize*lineRise
	x := c.Max.X
	if name := k.f.OtherName; name != "" {
		other := typed(textSize, true, ink)
		x -= other.Width(name)
		c.FillText(other, vg.Point{X: x, Y: y}, name)
		x -= 9
		c.DrawGlyph(otherGlyph, vg.Point{X: x, Y: y + textSize/2})
		x -= 16
	}
	x -= fitted.Width(k.f.FittedName)
	c.FillText(fitted, vg.Point{X: x, Y: y}, k.f.FittedName)
	x -= 9
	c.DrawGlyph(fittedGlyph, vg.Point{X: x, Y: y + textSize/2})
	x -= 16 + seen.Width(k.f.SeenName)
	c.FillText(seen, vg.Point{X: x, Y: y}, k.f.SeenName)
	bar := vg.Rectangle{Min: vg.Point{X: x - 14, Y: y}, Max: vg.Point{X: x - 5, Y: y + textSize}}
	c.SetColor(actHue)
	c.Fill(bar.Path())
	c.SetLineStyle(draw.LineStyle{Color: rust, Width: 0.8})
	c.Stroke(bar.Path())
}
