package figure

import (
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A sheet is a picture of panels in rows, with a heading above and a note below.
type sheet struct {
	head  string
	note  string // how the picture is read; several lines long
	desc  string // what is to be seen, where the note does not say it
	rows  [][]panel
	width vg.Length
	row   vg.Length // height of a row, headings included
}

// A panel is a plot with its heading, which says what stands on its upright
// axis: no letters stand on end.
type panel struct {
	head  string
	level string // what stands on its level axis
	plot  *plot.Plot
	top   vg.Length // room between heading and plot
}

const (
	margin   = 8  // around a sheet that stands alone
	between  = 14 // between panels side by side
	lineRise = 1.3
)

func (s *sheet) title() string { return s.head }

func (s *sheet) describe() string { return strings.TrimSpace(s.note + " " + s.desc) }

func (s *sheet) noteLines() []string {
	return wrap(typed(smallSize, false, ink), s.note, slack*(s.width-2*s.edge()))
}

// edge returns the margin: a sheet without words of its own stands in a page that
// has one.
func (s *sheet) edge() vg.Length {
	if s.head == "" && s.note == "" {
		return 0
	}
	return margin
}

// headHeight and noteHeight are 0 where there is none.
func (s *sheet) headHeight() vg.Length {
	if s.head == "" {
		return 0
	}
	return vg.Length(len(wrap(typed(headSize, true, ink), s.head, slack*(s.width-2*s.edge()))))*headSize*lineRise + 8
}

func (s *sheet) noteHeight() vg.Length {
	if s.note == "" {
		return 0
	}
	return vg.Length(len(s.noteLines()))*smallSize*lineRise + 8
}

func (s *sheet) size() (width, height vg.Length) {
	return s.width, 2*s.edge() + s.headHeight() + s.noteHeight() + s.row*vg.Length(len(s.rows))
}

func (s *sheet) draw(c draw.Canvas) error {
	c.SetColor(white)
	c.Fill(c.Rectangle.Path())
	c = draw.Crop(c, s.edge(), -s.edge(), s.edge(), -s.edge())
	head := typed(headSize, true, ink)
	writeLines(c, head, wrap(head, s.head, slack*c.Size().X), c.Max.Y)
	writeLines(c, typed(smallSize, false, ink), s.noteLines(), c.Min.Y+s.noteHeight()-8)
	c = draw.Crop(c, 0, 0, s.noteHeight(), -s.headHeight())
	left := s.axisWidths()
	columns := vg.Length(len(left))
	width := (c.Size().X - between*(columns-1)) / columns
	for i, row := range s.rows {
		top := c.Max.Y - vg.Length(i)*s.row
		for j, p := range row {
			x := c.Min.X + vg.Length(j)*(width+between)
			p.draw(draw.Canvas{Canvas: c.Canvas, Rectangle: vg.Rectangle{
				Min: vg.Point{X: x, Y: top - s.row + 6}, Max: vg.Point{X: x + width, Y: top}}}, left[j])
		}
	}
	return nil
}

// axisWidths returns for each column how far its plots begin from the left, so
// that panels below each other line up.
func (s *sheet) axisWidths() []vg.Length {
	var left []vg.Length
	for _, row := range s.rows {
		for j, p := range row {
			c := draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: 200, Y: 200}}}
			for len(left) <= j {
				left = append(left, 0)
			}
			left[j] = max(left[j], p.plot.DataCanvas(c).Min.X)
		}
	}
	return left
}

func (p panel) draw(c draw.Canvas, left vg.Length) {
	style := typed(panelSize, true, ink)
	lines := wrap(style, p.head, slack*c.Size().X)
	writeLines(c, style, lines, c.Max.Y)
	c = draw.Crop(c, 0, 0, 0, -vg.Length(len(lines))*panelSize*lineRise-p.top)
	// The library keeps room for its own names of axes as if all axes were even,
	// also where they are logarithmic.
	name := aligned(typed(textSize, false, ink), draw.XCenter, draw.YBottom)
	c.FillText(name, vg.Point{X: (c.Min.X + left + c.Max.X) / 2, Y: c.Min.Y}, p.level)
	c = draw.Crop(c, 0, 0, textSize*lineRise+3, 0)
	own := p.plot.DataCanvas(c).Min.X - c.Min.X
	p.plot.Draw(draw.Crop(c, left-own, 0, 0, 0))
}

// writeLines writes lines downwards from y, which is above the first.
func writeLines(c draw.Canvas, s text.Style, lines []string, y vg.Length) {
	for _, l := range lines {
		y -= s.Font.Size * lineRise
		c.FillText(s, vg.Point{X: c.Min.X, Y: y}, l)
	}
}

// slack is the share of a line that is filled where another font than the one
// measured may take its place, as in an SVG.
const slack = 0.84

// wrap breaks text between words so that its lines are no wider than width.
func wrap(s text.Style, t string, width vg.Length) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(t) {
		switch longer := line + " " + word; {
		case line == "":
			line = word
		case s.Width(longer) > width:
			lines = append(lines, line)
			line = word
		default:
			line = longer
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
