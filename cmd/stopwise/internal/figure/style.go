package figure

import (
	"image/color"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
)

// The colours of all pictures. Blue and rust, steel and ochre stay apart for
// eyes that confuse red and green; text of each is read on white and on the
// tints (contrast 4.5 and more). None stands for good or bad, and none carries a
// meaning alone: curves differ in their dashes, areas and signs have names.
var (
	ink   = color.NRGBA{0x1E, 0x1E, 0x1E, 0xFF}
	grey  = color.NRGBA{0x5E, 0x5E, 0x5E, 0xFF}
	faint = color.NRGBA{0xD4, 0xD4, 0xD4, 0xFF} // grids
	blue  = color.NRGBA{0x17, 0x37, 0x5E, 0xFF}
	rust  = color.NRGBA{0xA8, 0x45, 0x10, 0xFF}
	steel = color.NRGBA{0x2F, 0x6C, 0x88, 0xFF}
	ochre = color.NRGBA{0x75, 0x58, 0x00, 0xFF}

	wall     = color.NRGBA{0xEA, 0xE8, 0xE3, 0xFF} // what a promise rules out
	leaveHue = color.NRGBA{0xE3, 0xEC, 0xF2, 0xFF}
	actHue   = color.NRGBA{0xF0, 0xE0, 0xCE, 0xFF} // darker, for print without colour
)

// A stroke is how a curve is drawn. Dashes tell curves apart without colour.
type stroke struct {
	color  color.NRGBA
	dashes []vg.Length
}

var strokes = []stroke{
	{blue, nil},
	{rust, []vg.Length{7, 3}},
	{steel, []vg.Length{2, 2.5}},
	{ochre, []vg.Length{9, 3, 2, 3}},
}

func strokeOf(i int) stroke { return strokes[i%len(strokes)] }

func (s stroke) line(width vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: s.color, Width: width, Dashes: s.dashes}
}

// The sizes of type, in points.
const (
	headSize  = 12
	panelSize = 10
	textSize  = 9
	smallSize = 8
	tinySize  = 6.5
)

// sans returns the type of all pictures.
func sans(size vg.Length, bold bool) font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	if bold {
		f.Weight = stdfont.WeightBold
	}
	return f
}

// typed returns a style that writes from the left, on the line given.
func typed(size vg.Length, bold bool, c color.Color) text.Style {
	return text.Style{Font: sans(size, bold), Color: c, Handler: plot.DefaultTextHandler, XAlign: draw.XLeft, YAlign: draw.YBottom}
}

// aligned returns the style with another place of its anchor.
func aligned(s text.Style, x draw.XAlignment, y draw.YAlignment) text.Style {
	s.XAlign, s.YAlign = x, y
	return s
}
