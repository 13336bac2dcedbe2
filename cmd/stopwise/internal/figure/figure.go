// Package figure draws pictures as SVG, PNG or PDF. It holds no statistics and
// writes no files.
//
// For most uses, fill a [Field], [Curves], [Staircases] or [Fitted], take the
// picture of it and call [Render]:
//
//	p, err := figure.Curves{...}.Picture()
//	...
//	data, err := figure.Render(p, figure.SVG)
//
// A Field is a picture itself.
//
// Pictures are told apart and read without colour: see style.go.
package figure

import (
	"bytes"
	"fmt"
	"image/color"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"stopwise/cmd/stopwise/internal/outfile"
)

// A Format is a file format of pictures.
type Format string

// The formats.
const (
	SVG Format = "svg"
	PNG Format = "png"
	PDF Format = "pdf"
)

// FormatOf returns the format that a file's name asks for.
func FormatOf(file string) (Format, error) {
	switch f := Format(strings.TrimPrefix(strings.ToLower(filepath.Ext(file)), ".")); f {
	case SVG, PNG, PDF:
		return f, nil
	}
	return "", fmt.Errorf("%q is no kind of picture; end the name in .svg, .png or .pdf", file)
}

// A Picture can be drawn.
type Picture interface {
	// size returns the width and the height of the picture.
	size() (width, height vg.Length)
	draw(c draw.Canvas) error
	// title says in a line what the picture is of.
	title() string
	// describe says what is to be seen and how it is read, for those who cannot
	// see it.
	describe() string
}

// dpi is fine enough for print.
const dpi = 200

// Render returns a picture as the contents of a file. The same picture gives the
// same bytes.
func Render(p Picture, f Format) ([]byte, error) {
	var data []byte
	var err error
	switch f {
	case SVG:
		data, err = renderSVG(p)
		data = outfile.MarkSVG(data)
	case PNG:
		data, err = renderPNG(p)
		data = outfile.MarkPNG(data)
	case PDF:
		data, err = renderPDF(p)
	default:
		return nil, fmt.Errorf("figure: no format %q; accepted: svg, png or pdf", f)
	}
	if err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	return data, nil
}

func renderPNG(p Picture) ([]byte, error) {
	w, h := p.size()
	c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))}
	if err := p.draw(draw.New(c)); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	_, err := c.WriteTo(&b)
	return b.Bytes(), err
}

// newPlot returns an empty plot in the type that all pictures share.
func newPlot() *plot.Plot {
	plot.DefaultFont = sans(0, false)
	p := plot.New()
	p.Title.TextStyle.Font.Size = 11
	p.Title.Padding = 6
	return p
}
