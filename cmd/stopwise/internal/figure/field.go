package figure

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A Field is a field seen from above: where the pest sits, and one walk through
// it. Lengths are in metres from a corner.
type Field struct {
	Title         string // one line
	Length, Width float64
	// Level returns the share of plants infested, or with Counts the mean number of
	// insects per leaf, in a cell of a map of Along by Across cells.
	Level         func(i, j int) float64
	Counts        bool
	Along, Across int

	Gate  Point
	Route []Point // corners of the route; may be empty
	Stops []Stop  // in the order walked
}

// A Point is a place.
type Point = XY

// A Stop is a place where plants were examined.
type Stop struct {
	Point
	Label string // what was seen there
}

// pictureWidth is the width of all pictures: that of a page's text.
const pictureWidth = 17 * vg.Centimeter

func (f Field) size() (width, height vg.Length) {
	inside := pictureWidth - 3*vg.Centimeter
	return pictureWidth, inside*vg.Length(f.Width/f.Length) + 4.6*vg.Centimeter
}

func (f Field) title() string { return f.Title }

func (f Field) describe() string {
	return fmt.Sprintf("A field of %.0f by %.0f metres seen from above, the darker the more infested, with a walk of %d stops through it; the number at a stop is that of %s there.",
		f.Length, f.Width, len(f.Stops), f.seen())
}

// seen says what the number at a stop is.
func (f Field) seen() string {
	if f.Counts {
		return "insects counted"
	}
	return "infested plants seen"
}

func (f Field) draw(c draw.Canvas) error {
	p := newPlot()
	p.Title.Text = f.Title
	p.X.Label.Text, p.Y.Label.Text = "metres", "metres"
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, f.Length, 0, f.Width
	p.X.Padding, p.Y.Padding = 0, 0
	p.X.Tick.Marker, p.Y.Tick.Marker = hundreds{}, hundreds{}

	top := f.top()
	shares := plotter.NewHeatMap(cells{f}, pestColours{})
	shares.Min, shares.Max = 0, top
	// What rounding puts outside would not be drawn at all.
	shares.Underflow, shares.Overflow = pestColour(0), pestColour(1)
	shares.Rasterized = true // drawn cell by cell, seams show
	p.Add(shares)
	if err := f.addWalk(p); err != nil {
		return err
	}
	key := vg.Length(1.9 * float64(vg.Centimeter))
	p.Draw(draw.Crop(c, vg.Points(4), -vg.Points(10), key, -vg.Points(2)))
	f.drawKey(draw.Crop(c, 0, 0, 0, key-c.Size().Y), top)
	return nil
}

// top returns the level at the upper end of the colours: a round one.
func (f Field) top() float64 {
	most := 0.0
	for i := range f.Along {
		for j := range f.Across {
			most = math.Max(most, f.Level(i, j))
		}
	}
	if f.Counts {
		if most == 0 {
			return 1
		}
		digit := math.Pow(10, math.Floor(math.Log10(most)))
		return math.Ceil(2*most/digit-1e-9) / 2 * digit
	}
	return math.Min(1, math.Max(0.1, math.Ceil(most*10-1e-9)/10))
}

func (f Field) addWalk(p *plot.Plot) error {
	if len(f.Route) > 1 {
		if err := addRoute(p, f.Route); err != nil {
			return err
		}
	}
	if len(f.Stops) == 0 {
		return nil
	}
	walked := []Point{f.Gate}
	if len(f.Route) == 0 {
		for _, s := range f.Stops {
			walked = append(walked, s.Point)
		}
		if err := addRoute(p, walked); err != nil {
			return err
		}
	}
	if err := addDots(p, scaled(walked[:1], 1, 1), draw.GlyphStyle{Color: blue, Radius: vg.Points(7), Shape: draw.BoxGlyph{}}); err != nil {
		return err
	}
	var labels plotter.XYLabels
	for _, s := range f.Stops {
		labels.XYs, labels.Labels = append(labels.XYs, plotter.XY(s.Point)), append(labels.Labels, s.Label)
	}
	for _, ring := range []draw.GlyphStyle{
		{Color: color.White, Radius: vg.Points(10), Shape: draw.CircleGlyph{}},
		{Color: ink, Radius: vg.Points(10), Shape: draw.RingGlyph{}},
	} {
		if err := addDots(p, labels.XYs, ring); err != nil {
			return err
		}
	}
	names, err := plotter.NewLabels(labels)
	if err != nil {
		return err
	}
	for i := range names.TextStyle {
		names.TextStyle[i].Font = plot.DefaultFont
		names.TextStyle[i].Font.Size = vg.Points(9)
		names.TextStyle[i].Color = ink
		names.TextStyle[i].XAlign, names.TextStyle[i].YAlign = draw.XCenter, draw.YCenter
	}
	p.Add(names)
	return nil
}

// addRoute draws a dashed line on a white one, to be seen on dark ground too.
func addRoute(p *plot.Plot, corners []Point) error {
	way := scaled(corners, 1, 1)
	if err := addLine(p, way, draw.LineStyle{Color: white, Width: vg.Points(2.2)}); err != nil {
		return err
	}
	return addLine(p, way, draw.LineStyle{Color: ink, Width: vg.Points(1), Dashes: []vg.Length{vg.Points(4), vg.Points(3)}})
}

// cells is the map as the plotter wants it: values at the middles of cells.
type cells struct{ f Field }

func (c cells) Dims() (columns, rows int) { return c.f.Along, c.f.Across }
func (c cells) Z(column, row int) float64 { return c.f.Level(column, row) }
func (c cells) X(column int) float64 {
	return (float64(column) + 0.5) * c.f.Length / float64(c.f.Along)
}
func (c cells) Y(row int) float64 { return (float64(row) + 0.5) * c.f.Width / float64(c.f.Across) }

// hundreds are ticks at whole hundreds of metres, fewer in large fields.
type hundreds struct{}

func (hundreds) Ticks(low, high float64) []plot.Tick {
	step := 100.0
	for (high-low)/step > 10 {
		step *= 2
	}
	var ticks []plot.Tick
	for x := math.Ceil(low/step-1e-9)*step + 0; x <= high; x += step {
		ticks = append(ticks, plot.Tick{Value: x, Label: fmt.Sprintf("%.0f", x)})
	}
	return ticks
}

// pestColours run from near white to a dark red: the darker, the more infested,
// in print without colour too.
type pestColours struct{}

const colourSteps = 64

func (pestColours) Colors() []color.Color {
	out := make([]color.Color, colourSteps)
	for i := range out {
		out[i] = pestColour(float64(i) / (colourSteps - 1))
	}
	return out
}

// pestColour returns the colour at t in [0, 1], on straight lines between stops.
func pestColour(t float64) color.NRGBA {
	stops := []color.NRGBA{{252, 250, 240, 255}, {253, 208, 140, 255}, {236, 112, 40, 255}, {128, 20, 20, 255}}
	x := t * float64(len(stops)-1)
	i := min(int(x), len(stops)-2)
	mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a) + (x-float64(i))*(float64(b)-float64(a)))) }
	a, b := stops[i], stops[i+1]
	return color.NRGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 255}
}

// drawKey draws what the colours and the signs mean.
func (f Field) drawKey(c draw.Canvas, top float64) {
	style := text.Style{Color: ink, Font: plot.DefaultFont, Handler: plot.DefaultTextHandler, YAlign: draw.YCenter}
	style.Font.Size = vg.Points(9)
	write := func(x, y vg.Length, align draw.XAlignment, s string) {
		style.XAlign = align
		c.FillText(style, vg.Point{X: x, Y: y}, s)
	}
	left, bar, height := c.Min.X+vg.Points(48), vg.Length(6*vg.Centimeter), vg.Points(10)
	y := c.Min.Y + vg.Points(26)
	step := bar / colourSteps
	for i := range colourSteps {
		c.SetColor(pestColour(float64(i) / (colourSteps - 1)))
		var box vg.Path
		x := left + vg.Length(i)*step
		box.Move(vg.Point{X: x, Y: y})
		// A little wider than its step, so that no line shows between two.
		wide := step * 1.3
		if i == colourSteps-1 {
			wide = step
		}
		box.Line(vg.Point{X: x + wide, Y: y})
		box.Line(vg.Point{X: x + wide, Y: y + height})
		box.Line(vg.Point{X: x, Y: y + height})
		box.Close()
		c.Fill(box)
	}
	for i := range 3 {
		t := float64(i) / 2
		label := fmt.Sprintf("%g%%", math.Round(1000*t*top)/10)
		if f.Counts {
			label = fmt.Sprintf("%.4g", t*top)
		}
		write(left+bar*vg.Length(t), y-vg.Points(8), draw.XCenter, label)
	}
	of := "share of plants infested"
	if f.Counts {
		of = "mean insects per leaf"
	}
	write(left, y+height+vg.Points(8), draw.XLeft, of)
	x := left + bar + vg.Points(36)
	c.DrawGlyph(draw.GlyphStyle{Color: blue, Radius: vg.Points(6), Shape: draw.BoxGlyph{}}, vg.Point{X: x, Y: y + height})
	write(x+vg.Points(14), y+height, draw.XLeft, "gate")
	x += vg.Points(62)
	c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: vg.Points(8), Shape: draw.RingGlyph{}}, vg.Point{X: x, Y: y + height})
	write(x+vg.Points(14), y+height, draw.XLeft, "stop: "+f.seen())
	x = left + bar + vg.Points(28)
	c.StrokeLine2(draw.LineStyle{Color: ink, Width: vg.Points(1), Dashes: []vg.Length{vg.Points(4), vg.Points(3)}}, x, y-vg.Points(10), x+vg.Points(18), y-vg.Points(10))
	write(x+vg.Points(22), y-vg.Points(10), draw.XLeft, "route")
}
