package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Curves are what a plan does in fields of any true level: the chance that a
// visit ends with leave, and the expected stops.
type Curves struct {
	Title string
	Note  string // how the picture is read: which way round the chance is
	Desc  string // the main numbers, for those who cannot see the picture

	Share                   bool   // levels are shares, in [0, 1]; else means
	LevelLabel              string // what a level is
	LeaveHead, StopsHead    string // headings of the two panels
	Lower, Threshold, Upper Mark
	// NeedlessRisk and MissedRisk are promised: at and below Lower leave is to
	// have a chance of at least 1 - NeedlessRisk, at and above Upper of at most
	// MissedRisk; 1 promises nothing.
	NeedlessRisk, MissedRisk float64
	NeedlessText, MissedText string // names of what the promise rules out

	Curves []Curve
	// Textbook are approximate points to be set against the exact curves; may be
	// empty.
	Textbook     []CurvePoint
	TextbookName string
}

// A Mark is a level with its name.
type Mark struct {
	Level float64
	Name  string
}

// A Curve is a plan's exact curve at one degree of clumping.
type Curve struct {
	Name   string
	Points []CurvePoint // by level
}

// A CurvePoint is a point of both curves. Leave is in [0, 1].
type CurvePoint struct{ Level, Leave, Stops float64 }

// Picture returns the curves as a picture.
func (v Curves) Picture() (Picture, error) {
	s := &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 8.2 * vg.Centimeter}
	leave, err := v.leavePanel()
	if err != nil {
		return nil, err
	}
	stops, err := v.stopsPanel()
	if err != nil {
		return nil, err
	}
	s.rows = [][]panel{{leave}, {stops}}
	return s, nil
}

func (v Curves) scale() float64 {
	if v.Share {
		return 100
	}
	return 1
}

func (v Curves) uprights(names bool) uprights {
	k := v.scale()
	return uprights{[]upright{{k * v.Lower.Level, v.Lower.Name}, {k * v.Threshold.Level, v.Threshold.Name}, {k * v.Upper.Level, v.Upper.Name}}, names}
}

func (v Curves) axes(top float64) *plot.Plot {
	p := newPanelPlot()
	p.X.Tick.Marker = plainTicks{}
	if v.Share {
		p.X.Tick.Marker = plainTicks{unit: "%"}
	}
	points := v.Curves[0].Points
	p.X.Min, p.X.Max = v.scale()*points[0].Level, v.scale()*points[len(points)-1].Level
	p.Y.Min, p.Y.Max = 0, top
	return p
}

func (v Curves) leavePanel() (panel, error) {
	p := v.axes(100)
	p.Y.Tick.Marker = plainTicks{unit: "%"}
	k := v.scale()
	low, high := box(p.X.Min, 0, k*v.Lower.Level, 100*(1-v.NeedlessRisk)), box(k*v.Upper.Level, 100*v.MissedRisk, p.X.Max, 100)
	type ruledOut struct {
		xys  plotter.XYs
		text string
	}
	walls := []ruledOut{{low, v.NeedlessText}}
	corners := plotter.XYs{low[2]}
	if v.MissedRisk < 1 {
		walls, corners = append(walls, ruledOut{high, v.MissedText}), append(corners, high[0])
	}
	for _, w := range walls {
		p.Add(area{w.xys, wall})
	}
	addGrid(p)
	marks := v.uprights(true)
	p.Add(marks)
	n := &names{tracks: marks.tracks(p)}
	for _, w := range walls {
		p.Add(&wallName{n: n, text: w.text, box: w.xys})
	}
	err := v.addCurves(p, n, func(c CurvePoint) float64 { return 100 * c.Leave })
	if err == nil {
		err = addDots(p, corners, draw.GlyphStyle{Color: ink, Radius: 3.5, Shape: diamond{}})
	}
	p.Add(n)
	return panel{v.LeaveHead, v.LevelLabel, p, marks.room(p.X.Min, p.X.Max, pictureWidth-2*vg.Centimeter)}, err
}

func (v Curves) stopsPanel() (panel, error) {
	most := 0.0
	for _, c := range v.Curves {
		for _, x := range c.Points {
			most = math.Max(most, x.Stops)
		}
	}
	for _, x := range v.Textbook {
		most = math.Max(most, x.Stops)
	}
	p := v.axes(1.12 * most)
	p.Y.Tick.Marker = plainTicks{whole: most > 3}
	addGrid(p)
	marks := v.uprights(false)
	p.Add(marks)
	n := &names{tracks: marks.tracks(p)}
	err := v.addCurves(p, n, func(c CurvePoint) float64 { return c.Stops })
	p.Add(n)
	return panel{v.StopsHead, v.LevelLabel, p, 4}, err
}

func (v Curves) addCurves(p *plot.Plot, n *names, y func(CurvePoint) float64) error {
	xys := func(points []CurvePoint) plotter.XYs {
		out := make(plotter.XYs, len(points))
		for i, c := range points {
			out[i] = plotter.XY{X: v.scale() * c.Level, Y: y(c)}
		}
		return out
	}
	for i := range v.Curves {
		i = len(v.Curves) - 1 - i // the first ends on top
		if err := addLine(p, xys(v.Curves[i].Points), strokeOf(i).line(1.6)); err != nil {
			return err
		}
	}
	for i, c := range v.Curves {
		n.tracks = append(n.tracks, track{name: c.Name, xys: xys(c.Points), style: typed(textSize, true, strokeOf(i).color)})
	}
	if len(v.Textbook) == 0 {
		return nil
	}
	points := xys(v.Textbook)
	n.tracks = append(n.tracks, track{name: v.TextbookName, xys: points, style: typed(textSize, false, ink), apart: true, loose: true})
	return addDots(p, points, draw.GlyphStyle{Color: ink, Radius: 4, Shape: draw.CrossGlyph{}})
}

// wallName writes in the middle of an area what it is.
type wallName struct {
	n    *names
	text string
	box  plotter.XYs
}

func (w *wallName) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	style := aligned(typed(smallSize, false, grey), draw.XCenter, draw.YCenter)
	left, right := trX(w.box[0].X), trX(w.box[2].X)
	lines := wrap(style, w.text, right-left-12)
	x, y := (left+right)/2, (trY(w.box[0].Y)+trY(w.box[2].Y))/2
	y += vg.Length(len(lines)-1) * smallSize * lineRise / 2
	for _, l := range lines {
		c.FillText(style, vg.Point{X: x, Y: y}, l)
		half := style.Width(l) / 2
		w.n.taken = append(w.n.taken, vg.Rectangle{Min: vg.Point{X: x - half, Y: y - smallSize}, Max: vg.Point{X: x + half, Y: y + smallSize}})
		y -= smallSize * lineRise
	}
}

// diamond is a filled sign that none of the library's is like.
type diamond struct{}

func (diamond) DrawGlyph(c *draw.Canvas, s draw.GlyphStyle, at vg.Point) {
	r := s.Radius
	var p vg.Path
	p.Move(at.Add(vg.Point{X: r}))
	p.Line(at.Add(vg.Point{Y: r}))
	p.Line(at.Add(vg.Point{X: -r}))
	p.Line(at.Add(vg.Point{Y: -r}))
	p.Close()
	c.SetColor(s.Color)
	c.Fill(p)
}
