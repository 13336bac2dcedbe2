// Package figure draws pictures as SVG or PNG. It holds no statistics and writes
// no files.
//
// For most uses, fill a [Field] and call [Render]:
//
//	data, err := figure.Render(figure.Field{...}, figure.SVG)
package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	_ "gonum.org/v1/plot/font/liberation" // the font that is asked for below
)

// A Format is a file format of pictures.
type Format string

// The formats.
const (
	SVG Format = "svg"
	PNG Format = "png"
)

// FormatOf returns the format that a file's name asks for.
func FormatOf(file string) (Format, error) {
	f := Format(strings.TrimPrefix(strings.ToLower(filepath.Ext(file)), "."))
	if f != SVG && f != PNG {
		return "", fmt.Errorf("%q is no kind of picture; end the name in .svg or .png", file)
	}
	return f, nil
}

// A Picture can be drawn.
type Picture interface {
	// size returns the width and the height of the picture.
	size() (width, height vg.Length)
	draw(c draw.Canvas) error
	// title says in a sentence what is to be seen, for those who cannot see it.
	title() string
}

// dpi is fine enough for print.
const dpi = 200

// Render returns a picture as the contents of a file. The same picture gives the
// same bytes.
func Render(p Picture, f Format) ([]byte, error) {
	w, h := p.size()
	switch f {
	case SVG:
		c := vgsvg.New(w, h)
		if err := p.draw(draw.New(c)); err != nil {
			return nil, fmt.Errorf("figure: %w", err)
		}
		var b bytes.Buffer
		if _, err := c.WriteTo(&b); err != nil {
			return nil, fmt.Errorf("figure: %w", err)
		}
		return titled(b.Bytes(), p.title())
	case PNG:
		c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))}
		if err := p.draw(draw.New(c)); err != nil {
			return nil, fmt.Errorf("figure: %w", err)
		}
		var b bytes.Buffer
		if _, err := c.WriteTo(&b); err != nil {
			return nil, fmt.Errorf("figure: %w", err)
		}
		return b.Bytes(), nil
	}
	return nil, fmt.Errorf("figure: no format %q; accepted: svg or png", f)
}

// titled puts a title into an SVG: the library writes none, and a reader of the
// screen needs one.
func titled(svg []byte, title string) ([]byte, error) {
	start := bytes.Index(svg, []byte("<svg"))
	if start < 0 {
		return nil, errors.New("figure: not an svg")
	}
	end := start + bytes.IndexByte(svg[start:], '>') + 1
	var t bytes.Buffer
	t.Write(svg[:end])
	t.WriteString("\n<title>")
	if err := xml.EscapeText(&t, []byte(title)); err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	t.WriteString("</title>")
	t.Write(svg[end:])
	return t.Bytes(), nil
}

// newPlot returns an empty plot in the type that all pictures share.
func newPlot() *plot.Plot {
	plot.DefaultFont = font.Font{Typeface: "Liberation", Variant: "Sans"}
	p := plot.New()
	p.Title.TextStyle.Font.Size = vg.Points(11)
	p.Title.Padding = vg.Points(6)
	return p
}

// Colours that stay apart for colour-blind eyes (Okabe, M. & Ito, K. 2008,
// Color Universal Design).
var (
	blue = color.NRGBA{0, 114, 178, 255}
	ink  = color.NRGBA{30, 30, 30, 255}
	grey = color.NRGBA{110, 110, 110, 255}
)
