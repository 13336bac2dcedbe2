package figure

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// PDFFont is the family of the type in PDF files; it comes plain and bold ("B").
const PDFFont = "Liberation Sans"

// NewPDF returns an empty PDF file in points, with the type of all pictures and
// nothing in it that changes from run to run: the dates are those of the epoch.
// It has no page yet.
func NewPDF(title string, size fpdf.SizeType) *fpdf.Fpdf {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: size})
	doc.SetCreationDate(time.Unix(0, 0).UTC())
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.SetCatalogSort(true)
	doc.SetProducer("stopwise", true)
	doc.SetTitle(title, true)
	doc.SetLang("en")
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes(PDFFont, "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes(PDFFont, "B", liberationsansbold.TTF)
	return doc
}

func renderPDF(p Picture) ([]byte, error) {
	w, h := p.size()
	doc := NewPDF(p.title(), fpdf.SizeType{Wd: w.Points(), Ht: h.Points()})
	doc.SetSubject(p.describe(), true)
	doc.AddPage()
	if _, err := PlacePDF(doc, p, 0, 0, w.Points()); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err := doc.Output(&b)
	return b.Bytes(), err
}

// PlacePDF draws a picture on the present page of a file made by [NewPDF], with
// its upper left corner at x, y and width wide, and returns its height, in
// points.
func PlacePDF(doc *fpdf.Fpdf, p Picture, x, y, width float64) (height float64, err error) {
	w, h := p.size()
	scale := width / w.Points()
	c := &pdfCanvas{doc: doc, w: w, h: h, alpha: 0xFF, now: pdfState{m: matrix{scale, 0, 0, -scale, x, y + scale*h.Points()}}}
	vg.Initialize(c)
	doc.SetLineJoinStyle("round")
	if err := p.draw(draw.New(c)); err != nil {
		return 0, err
	}
	if c.alpha != 0xFF {
		doc.SetAlpha(1, "Normal")
	}
	doc.SetDashPattern(nil, 0)
	return scale * h.Points(), doc.Error()
}

// Height returns the height of a picture drawn width wide.
func Height(p Picture, width float64) float64 {
	w, h := p.size()
	return width / w.Points() * h.Points()
}

// pdfCanvas draws lines and letters into a PDF file. The canvas that comes with
// the plots writes Latin-1 only.
type pdfCanvas struct {
	doc    *fpdf.Fpdf
	w, h   vg.Length
	now    pdfState
	stack  []pdfState
	images int
	alpha  uint8 // that of the page
}

type pdfState struct {
	m      matrix
	color  color.Color
	width  vg.Length
	dashes []vg.Length
	offset vg.Length
}

// A matrix takes x, y of a picture to ax + cy + e, bx + dy + f of the page.
type matrix struct{ a, b, c, d, e, f float64 }

func (m matrix) at(p vg.Point) (x, y float64) {
	return m.a*float64(p.X) + m.c*float64(p.Y) + m.e, m.b*float64(p.X) + m.d*float64(p.Y) + m.f
}

// after returns the matrix that does n first.
func (m matrix) after(n matrix) matrix {
	return matrix{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

// scale returns by how much lengths grow.
func (m matrix) scale() float64 { return math.Sqrt(math.Abs(m.a*m.d - m.b*m.c)) }

func (c *pdfCanvas) Size() (w, h vg.Length)     { return c.w, c.h }
func (c *pdfCanvas) SetLineWidth(w vg.Length)   { c.now.width = w }
func (c *pdfCanvas) SetColor(clr color.Color)   { c.now.color = clr }
func (c *pdfCanvas) Translate(p vg.Point)       { c.apply(matrix{1, 0, 0, 1, float64(p.X), float64(p.Y)}) }
func (c *pdfCanvas) Scale(x, y float64)         { c.apply(matrix{x, 0, 0, y, 0, 0}) }
func (c *pdfCanvas) Push()                      { c.stack = append(c.stack, c.now) }
func (c *pdfCanvas) apply(m matrix)             { c.now.m = c.now.m.after(m) }
func (c *pdfCanvas) length(l vg.Length) float64 { return c.now.m.scale() * float64(l) }

func (c *pdfCanvas) SetLineDash(dashes []vg.Length, offset vg.Length) {
	c.now.dashes, c.now.offset = dashes, offset
}

func (c *pdfCanvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.apply(matrix{cos, sin, -sin, cos, 0, 0})
}

func (c *pdfCanvas) Pop() {
	c.now = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
}

// rgb returns the colour of the state, and sets how opaque it is.
func (c *pdfCanvas) rgb() (r, g, b int) {
	clr := c.now.color
	if clr == nil {
		clr = color.Black
	}
	n := color.NRGBAModel.Convert(clr).(color.NRGBA)
	if n.A != c.alpha {
		c.doc.SetAlpha(float64(n.A)/255, "Normal")
		c.alpha = n.A
	}
	return int(n.R), int(n.G), int(n.B)
}

func (c *pdfCanvas) Stroke(p vg.Path) {
	if c.now.width <= 0 {
		return
	}
	c.doc.SetDrawColor(c.rgb())
	c.doc.SetLineWidth(c.length(c.now.width))
	dashes := make([]float64, len(c.now.dashes))
	for i, d := range c.now.dashes {
		dashes[i] = c.length(d)
	}
	c.doc.SetDashPattern(dashes, c.length(c.now.offset))
	c.trace(p)
	c.doc.DrawPath("D")
}

func (c *pdfCanvas) Fill(p vg.Path) {
	c.doc.SetFillColor(c.rgb())
	c.trace(p)
	c.doc.DrawPath("F")
}

func (c *pdfCanvas) trace(p vg.Path) {
	began := false
	line := func(p vg.Point) {
		x, y := c.now.m.at(p)
		if began {
			c.doc.LineTo(x, y)
		} else {
			c.doc.MoveTo(x, y)
		}
		began = true
	}
	for _, part := range p {
		switch part.Type {
		case vg.MoveComp:
			began = false
			line(part.Pos)
		case vg.LineComp:
			line(part.Pos)
		case vg.ArcComp:
			steps := max(2, int(math.Ceil(math.Abs(part.Angle)/(math.Pi/16))))
			for i := range steps + 1 {
				sin, cos := math.Sincos(part.Start + part.Angle*float64(i)/float64(steps))
				line(part.Pos.Add(vg.Point{X: part.Radius * vg.Length(cos), Y: part.Radius * vg.Length(sin)}))
			}
		case vg.CurveComp:
			c.curve(part)
		case vg.CloseComp:
			c.doc.ClosePath()
		}
	}
}

func (c *pdfCanvas) curve(part vg.PathComp) {
	x, y := c.now.m.at(part.Pos)
	x1, y1 := c.now.m.at(part.Control[0])
	if len(part.Control) == 1 {
		c.doc.CurveTo(x1, y1, x, y)
		return
	}
	x2, y2 := c.now.m.at(part.Control[1])
	c.doc.CurveBezierCubicTo(x1, y1, x2, y2, x, y)
}

func (c *pdfCanvas) FillString(f font.Face, at vg.Point, s string) {
	if f.Font.Size <= 0 {
		return
	}
	style := ""
	if f.Font.Weight >= stdfont.WeightSemiBold {
		style = "B"
	}
	c.doc.SetTextColor(c.rgb())
	c.doc.SetFont(PDFFont, style, c.length(f.Font.Size))
	x, y := c.now.m.at(at)
	m := c.now.m
	angle := math.Atan2(-m.b, m.a) // the page runs downwards
	if math.Abs(angle) < 1e-9 {
		c.doc.Text(x, y, s)
		return
	}
	c.doc.TransformBegin()
	c.doc.TransformRotate(angle*180/math.Pi, x, y)
	c.doc.Text(x, y, s)
	c.doc.TransformEnd()
}

// DrawImage draws an image that is upright in the picture.
func (c *pdfCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		c.doc.SetError(err)
		return
	}
	c.images++
	name := fmt.Sprintf("%d on page %d", c.images, c.doc.PageNo())
	options := fpdf.ImageOptions{ImageType: "png"}
	c.doc.RegisterImageOptionsReader(name, options, &b)
	x, y := c.now.m.at(vg.Point{X: r.Min.X, Y: r.Max.Y})
	c.doc.ImageOptions(name, x, y, c.length(r.Size().X), c.length(r.Size().Y), false, options, 0, "")
}
