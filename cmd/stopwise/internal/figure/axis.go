package figure

import (
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var white = color.NRGBA{0xFF, 0xFF, 0xFF, 0xFF}

// newPanelPlot returns a plot with thin axes and a faint grid of level lines.
func newPanelPlot() *plot.Plot {
	p := newPlot()
	p.BackgroundColor = nil
	p.X.Tick.Label = aligned(typed(smallSize, false, ink), draw.XCenter, draw.YTop)
	p.Y.Tick.Label = aligned(typed(smallSize, false, ink), draw.XRight, draw.YCenter)
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Padding = 0
		a.LineStyle = draw.LineStyle{Color: grey, Width: 0.6}
		a.Tick.LineStyle = draw.LineStyle{Color: grey, Width: 0.6}
		a.Tick.Length = 4
	}
	return p
}

func addGrid(p *plot.Plot) {
	g := plotter.NewGrid()
	g.Vertical.Width = 0
	g.Horizontal = draw.LineStyle{Color: faint, Width: 0.5}
	p.Add(g)
}

// plainTicks are few round numbers, with a unit behind each.
type plainTicks struct {
	unit  string
	whole bool // no fractions
}

func (t plainTicks) Ticks(low, high float64) []plot.Tick {
	step := roundStep((high - low) / 5)
	if t.whole {
		step = math.Max(1, step)
	}
	var ticks []plot.Tick
	for i := math.Ceil(low/step - 1e-9); i*step <= high+step*1e-9; i++ {
		x := i*step + 0 // without a negative zero
		ticks = append(ticks, plot.Tick{Value: x, Label: strconv.FormatFloat(x, 'g', 6, 64) + t.unit})
	}
	return ticks
}

// roundStep returns the 1, 2 or 5 times a power of ten that is next above x.
func roundStep(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= x*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// logTicks are the powers of ten; where there are few of them, their doubles and
// fives too.
type logTicks struct{}

func (logTicks) Ticks(low, high float64) []plot.Tick {
	var ticks []plot.Tick
	few := math.Log10(high/low) < 2.5
	for e := math.Floor(math.Log10(low)); e <= math.Ceil(math.Log10(high)); e++ {
		for m := 1.0; m < 10; m++ {
			x := m * math.Pow(10, e)
			if x < low*(1-1e-9) || x > high*(1+1e-9) {
				continue
			}
			label := ""
			if m == 1 || few && (m == 2 || m == 5) {
				label = strconv.FormatFloat(x, 'g', 6, 64)
			}
			ticks = append(ticks, plot.Tick{Value: x, Label: label})
		}
	}
	return ticks
}

// An upright is a line at a level, with a name above the plot.
type upright struct {
	x    float64
	name string
}

// uprights draw their names above the plot, one row higher where two would meet.
type uprights struct {
	at    []upright
	names bool
}

const uprightRow = smallSize * lineRise

func (u uprights) Plot(c draw.Canvas, p *plot.Plot) {
	trX, _ := p.Transforms(&c)
	line := draw.LineStyle{Color: grey, Width: 0.7, Dashes: []vg.Length{1, 2}}
	style := aligned(typed(smallSize, false, ink), draw.XCenter, draw.YBottom)
	rows := uprightRows(u, func(x float64) vg.Length { return trX(x) })
	for i, a := range u.at {
		x := trX(a.x)
		if !c.ContainsX(x) {
			continue
		}
		top := c.Max.Y
		if u.names {
			top += 2 + vg.Length(rows[i])*uprightRow
			c.FillText(style, vg.Point{X: x, Y: top}, a.name)
		}
		c.StrokeLine2(line, x, c.Min.Y, x, top-1)
	}
}

// tracks keeps the lines free of names.
func (u uprights) tracks(p *plot.Plot) []track {
	var out []track
	for _, a := range u.at {
		out = append(out, track{xys: plotter.XYs{{X: a.x, Y: p.Y.Min}, {X: a.x, Y: p.Y.Max}}, free: true})
	}
	return out
}

// uprightRows returns the row of each name.
func uprightRows(u uprights, x func(float64) vg.Length) []int {
	style := typed(smallSize, false, ink)
	var ends []vg.Length // by row
	rows := make([]int, len(u.at))
	for i, a := range u.at {
		half := style.Width(a.name) / 2
		at := x(a.x)
		row := 0
		for row < len(ends) && at-half < ends[row]+4 {
			row++
		}
		if row == len(ends) {
			ends = append(ends, 0)
		}
		ends[row] = at + half
		rows[i] = row
	}
	return rows
}

// room returns the height that the names take above a plot about width wide.
func (u uprights) room(low, high float64, width vg.Length) vg.Length {
	rows := uprightRows(u, func(x float64) vg.Length { return vg.Length((x-low)/(high-low)) * width })
	most := 0
	for _, r := range rows {
		most = max(most, r)
	}
	return vg.Length(most+1)*uprightRow + 4
}

// addLine draws a line through points.
func addLine(p *plot.Plot, xys plotter.XYs, style draw.LineStyle) error {
	line, err := plotter.NewLine(xys)
	if err == nil {
		line.LineStyle = style
		p.Add(line)
	}
	return err
}

// addDots draws a sign at each of some points.
func addDots(p *plot.Plot, xys plotter.XYs, style draw.GlyphStyle) error {
	dots, err := plotter.NewScatter(xys)
	if err == nil {
		dots.GlyphStyle = style
		p.Add(dots)
	}
	return err
}

// addDotted draws a line with a sign at each of its points.
func addDotted(p *plot.Plot, xys plotter.XYs, line draw.LineStyle, dots draw.GlyphStyle) error {
	if err := addLine(p, xys, line); err != nil {
		return err
	}
	return addDots(p, xys, dots)
}

// scaled returns points by other units.
func scaled(points []XY, x, y float64) plotter.XYs {
	out := make(plotter.XYs, len(points))
	for i, p := range points {
		out[i] = plotter.XY{X: x * p.X, Y: y * p.Y}
	}
	return out
}

// An area is filled without an outline.
type area struct {
	xys   plotter.XYs
	color color.Color
}

func (a area) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	points := make([]vg.Point, len(a.xys))
	for i, xy := range a.xys {
		points[i] = vg.Point{X: trX(xy.X), Y: trY(xy.Y)}
	}
	c.FillPolygon(a.color, c.ClipPolygonXY(points))
}

func box(x0, y0, x1, y1 float64) plotter.XYs {
	return plotter.XYs{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}
