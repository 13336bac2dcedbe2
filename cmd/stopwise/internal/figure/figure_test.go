package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"
)

func sample(route bool) Field {
	f := Field{
		Title: "Pest on a gradient & more: act after 2 stops", Length: 300, Width: 200, Along: 6, Across: 4,
		Share: func(i, j int) float64 { return 0.05 + 0.04*float64(i) },
		Gate:  Point{0, 0},
		Stops: []Stop{{Point{50, 60}, "3"}, {Point{250, 140}, "12"}},
	}
	if route {
		f.Route = []Point{{20, 20}, {150, 180}, {280, 20}}
	}
	return f
}

func TestSVG(t *testing.T) {
	for _, route := range []bool{true, false} {
		data, err := Render(sample(route), SVG)
		if err != nil {
			t.Fatal(err)
		}
		var words []string
		title := ""
		for d := xml.NewDecoder(bytes.NewReader(data)); ; {
			tok, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("not well-formed: %v", err)
			}
			start, ok := tok.(xml.StartElement)
			if !ok {
				continue
			}
			var text string
			switch start.Name.Local {
			case "text":
				if err := d.DecodeElement(&text, &start); err != nil {
					t.Fatal(err)
				}
				words = append(words, text)
			case "title":
				if err := d.DecodeElement(&title, &start); err != nil {
					t.Fatal(err)
				}
			}
		}
		if title != sample(route).Title {
			t.Errorf("title %q", title)
		}
		for _, want := range []string{"3", "12", "gate", "share of plants infested", "metres", "100", "0%", "30%"} {
			if !strings.Contains("|"+strings.Join(words, "|")+"|", "|"+want+"|") {
				t.Errorf("no text %q in %q", want, words)
			}
		}
		again, err := Render(sample(route), SVG)
		if err != nil || !bytes.Equal(data, again) {
			t.Error("drawn twice, two pictures")
		}
	}
}

// TestPNG looks at the picture: it is as wide as a page at 200 dots an inch, and
// the infested side of the field is the darker one.
func TestPNG(t *testing.T) {
	data, err := Render(sample(true), PNG)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	size := img.Bounds().Size()
	if want := int(math.Round(17 / 2.54 * dpi)); math.Abs(float64(size.X-want)) > 1 {
		t.Errorf("%d pixels wide, want %d", size.X, want)
	}
	y := size.Y / 3
	light := func(x int) uint32 {
		r, g, b, _ := img.At(x, y).RGBA()
		return r + g + b
	}
	if left, right := light(size.X/4), light(size.X*9/10); left <= right {
		t.Errorf("left %d is not lighter than right %d", left, right)
	}
}

func TestFormatOf(t *testing.T) {
	for file, want := range map[string]Format{"a.svg": SVG, "b/c.PNG": PNG} {
		if got, err := FormatOf(file); err != nil || got != want {
			t.Errorf("%s: %v, %v", file, got, err)
		}
	}
	for _, file := range []string{"a.pdf", "svg", "", "a.svg.gz"} {
		if _, err := FormatOf(file); err == nil {
			t.Errorf("%q was accepted", file)
		}
	}
	if _, err := Render(sample(true), "gif"); err == nil {
		t.Error("an unknown format was drawn")
	}
}

// TestColoursDarken: the key can be read in print without colours.
func TestColoursDarken(t *testing.T) {
	last := math.Inf(1)
	for _, c := range (pestColours{}).Colors() {
		y := float64(color.GrayModel.Convert(c).(color.Gray).Y)
		if y > last {
			t.Fatalf("%v is lighter than the colour before", c)
		}
		last = y
	}
	if first := pestColour(0); first.R < 240 {
		t.Errorf("no pest is drawn as %v", first)
	}
}

// TestFullCellsAreDrawn: a share at the top of the colours, or above it by
// rounding, is the darkest cell and no hole.
func TestFullCellsAreDrawn(t *testing.T) {
	f := sample(false)
	f.Share = func(i, j int) float64 { return 0.5 + 1e-12 }
	data, err := Render(f, PNG)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	size := img.Bounds().Size()
	want := pestColour(1)
	r, g, b, _ := img.At(size.X*9/10, size.Y/2).RGBA()
	if uint8(r>>8) != want.R || uint8(g>>8) != want.G || uint8(b>>8) != want.B {
		t.Errorf("drawn as %d %d %d, want %v", r>>8, g>>8, b>>8, want)
	}
}
