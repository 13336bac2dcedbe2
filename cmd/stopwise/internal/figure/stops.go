package figure

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Stops is a field seen from above with the numbered stops of a visit. Lengths
// are in metres from the corner of the box around it.
type Stops struct {
	Title         string // one line
	Length, Width float64
	Outline       [][]Point // the field, then its holes; closed
	Places        []Point   // the stops in their order
	First         int       // stop from which on a verdict can come; those up to it are dark
	Gate          *Point    // where the scout comes in; nil for anywhere
	// Plain leaves axes and title out and makes the picture small, for hand-outs.
	Plain bool
}

// room is what stands beside and above the field, in a picture with axes.
const (
	roomAside = 2.2 * vg.Centimeter
	roomAbove = 2.6 * vg.Centimeter
	tallest   = 20 * vg.Centimeter
)

// The measures of a plain picture: its numbers can be read on a phone.
const (
	plainWidth   = 9 * vg.Centimeter
	plainTallest = 11 * vg.Centimeter
	plainRoom    = 0.4 * vg.Centimeter
)

func (s Stops) size() (width, height vg.Length) {
	if s.Plain {
		return plainWidth, min((plainWidth-plainRoom)*vg.Length(s.Width/s.Length)+plainRoom, plainTallest)
	}
	return pictureWidth, min((pictureWidth-roomAside)*vg.Length(s.Width/s.Length)+roomAbove, tallest)
}

func (s Stops) title() string { return s.Title }

func (s Stops) describe() string {
	return fmt.Sprintf("A field of %.0f by %.0f metres seen from above with %d numbered stops and the way from each to the next; the first %d are dark.", s.Length, s.Width, len(s.Places), s.First)
}

func (s Stops) draw(c draw.Canvas) error {
	p := newPlot()
	p.X.Padding, p.Y.Padding = 0, 0
	aside, above := roomAside, roomAbove
	if s.Plain {
		p.HideAxes()
		aside, above = plainRoom, plainRoom
	} else {
		p.Title.Text = s.Title
		p.X.Label.Text, p.Y.Label.Text = "metres", "metres"
		p.X.Tick.Marker, p.Y.Tick.Marker = hundreds{}, hundreds{}
	}
	// A metre is as long both ways, whatever the picture's shape.
	w, h := c.Size().X-aside, c.Size().Y-above
	scale := math.Max(s.Length/float64(w), s.Width/float64(h))
	p.X.Min, p.X.Max = middle(s.Length, scale*float64(w))
	p.Y.Min, p.Y.Max = middle(s.Width, scale*float64(h))

	for i, ring := range s.Outline {
		area, err := plotter.NewPolygon(scaled(ring, 1, 1))
		if err != nil {
			return err
		}
		area.Color, area.LineStyle = leaveHue, draw.LineStyle{Color: blue, Width: vg.Points(1.2)}
		if i > 0 { // a hole
			area.Color = white
		}
		p.Add(area)
	}
	way := s.Places
	if s.Gate != nil {
		way = append([]Point{*s.Gate}, way...)
	}
	if len(way) > 1 {
		if err := addRoute(p, way); err != nil {
			return err
		}
	}
	p.Add(numbered{s})
	if s.Plain {
		p.Draw(c)
		return nil
	}
	p.Draw(draw.Crop(c, vg.Points(4), -vg.Points(10), vg.Points(4), -vg.Points(2)))
	return nil
}

// middle puts a length into the middle of a longer one.
func middle(length, room float64) (low, high float64) {
	return math.Min(0, (length-room)/2), math.Max(length, (length+room)/2)
}

// numbered draws the stops as discs with their numbers.
type numbered struct{ s Stops }

func (n numbered) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := text.Style{Font: plot.DefaultFont, Handler: plot.DefaultTextHandler, XAlign: draw.XCenter, YAlign: draw.YCenter}
	style.Font.Size = vg.Points(8.5)
	if g := n.s.Gate; g != nil {
		c.DrawGlyph(draw.GlyphStyle{Color: blue, Radius: vg.Points(6), Shape: draw.BoxGlyph{}}, vg.Point{X: x(g.X), Y: y(g.Y)})
	}
	for i := len(n.s.Places) - 1; i >= 0; i-- { // the first ones on top
		at := vg.Point{X: x(n.s.Places[i].X), Y: y(n.s.Places[i].Y)}
		var ground, number color.Color = white, ink
		if i < n.s.First {
			ground, number = blue, white
		}
		c.DrawGlyph(draw.GlyphStyle{Color: ground, Radius: vg.Points(8), Shape: draw.CircleGlyph{}}, at)
		c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: vg.Points(8), Shape: draw.RingGlyph{}}, at)
		style.Color = number
		c.FillText(style, at, strconv.Itoa(i+1))
	}
}
