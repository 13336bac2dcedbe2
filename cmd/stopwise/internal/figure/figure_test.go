package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden pictures")

// Pictures are compared by what they are made of, with places rounded to half a
// point: the digits behind that depend on the machine.
func TestGoldenPictures(t *testing.T) {
	for name, p := range examples(t) {
		got, err := Render(p, SVG)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		file := filepath.Join("testdata", name+".svg")
		if *update {
			if err := os.WriteFile(file, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(structure(t, want), structure(t, got)); d != "" {
			t.Errorf("%s (-want +got):\n%s", file, d)
		}
	}
}

var numbers = regexp.MustCompile(`-?\d+\.?\d*(e-?\d+)?`)

// structure lists the elements of an SVG with their attributes and text. It
// fails unless the SVG is well-formed.
func structure(t *testing.T, svg []byte) []string {
	t.Helper()
	round := func(s string) string {
		return numbers.ReplaceAllStringFunc(s, func(n string) string {
			x, _ := strconv.ParseFloat(n, 64)
			return fmt.Sprint(math.Round(2*x)/2 + 0)
		})
	}
	var out []string
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		switch {
		case errors.Is(err, io.EOF):
			return out
		case err != nil:
			t.Fatal(err)
		}
		switch x := token.(type) {
		case xml.StartElement:
			line := x.Name.Local
			for _, a := range x.Attr {
				v := a.Value
				if a.Name.Local == "href" {
					v = v[:min(30, len(v))] // an image, whose bytes the encoder decides
				} else if a.Name.Local != "style" {
					v = round(v)
				}
				line += fmt.Sprintf(" %s=%q", a.Name.Local, v)
			}
			out = append(out, line)
		case xml.EndElement:
			out = append(out, "/"+x.Name.Local)
		case xml.CharData:
			if s := strings.TrimSpace(string(x)); s != "" {
				out = append(out, s)
			}
		}
	}
}

func TestStructureSeesChanges(t *testing.T) {
	a := structure(t, []byte(`<svg><path d="M1.1,2"/></svg>`))
	if cmp.Equal(a, structure(t, []byte(`<svg><path d="M2.1,2"/></svg>`))) || !cmp.Equal(a, structure(t, []byte(`<svg><path d="M1.13,2"/></svg>`))) {
		t.Error("structure takes unlike pictures for like ones, or like ones for unlike")
	}
}

// A picture has a name and a description for those who cannot see it.
func TestPicturesAreNamed(t *testing.T) {
	for name, p := range examples(t) {
		svg, err := Render(p, SVG)
		if err != nil {
			t.Fatal(err)
		}
		var doc struct {
			Role  string `xml:"role,attr"`
			By    string `xml:"aria-labelledby,attr"`
			Title struct {
				ID   string `xml:"id,attr"`
				Text string `xml:",chardata"`
			} `xml:"title"`
			Desc struct {
				ID   string `xml:"id,attr"`
				Text string `xml:",chardata"`
			} `xml:"desc"`
		}
		if err := xml.Unmarshal(svg, &doc); err != nil {
			t.Fatal(err)
		}
		if doc.Role != "img" || doc.By != doc.Title.ID+" "+doc.Desc.ID || doc.Title.Text != p.title() || doc.Desc.Text != p.describe() {
			t.Errorf("%s: %+v", name, doc)
		}
	}
}

func TestInline(t *testing.T) {
	p, err := exampleCurves().Picture()
	if err != nil {
		t.Fatal(err)
	}
	s, err := Inline(p, "leafing")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(s, `<svg viewBox="0 0 `) || !strings.Contains(s, `aria-labelledby="leafing-title leafing-desc"`) ||
		!strings.Contains(s, `<title id="leafing-title">`) || !strings.Contains(s, `<desc id="leafing-desc">`) || strings.Contains(s, "<?xml") {
		t.Errorf("%.400s", s)
	}
	if err := xml.Unmarshal([]byte(s), new(struct{})); err != nil {
		t.Error(err)
	}
}

func TestTextIsEscaped(t *testing.T) {
	v := exampleCurves()
	v.Title, v.Note = `Fields with < 10% & "few" insects`, "a<b>"
	p, err := v.Picture()
	if err != nil {
		t.Fatal(err)
	}
	svg, err := Render(p, SVG)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(structure(t, svg), "\n"); !strings.Contains(all, v.Title) || !strings.Contains(all, "a<b>") {
		t.Error("the title or the note is not there, or not as it was given")
	}
}

func TestSameBytes(t *testing.T) {
	first, again := examples(t), examples(t)
	for name, f := range map[string]Format{"curves": SVG, "staircases": PDF, "field": PDF, "fit": PNG} {
		a, errA := Render(first[name], f)
		b, errB := Render(again[name], f)
		if errA != nil || errB != nil || !bytes.Equal(a, b) {
			t.Errorf("%s as %s: two files differ, or %v, %v", name, f, errA, errB)
		}
	}
}

func TestPNG(t *testing.T) {
	for name, p := range examples(t) {
		data, err := Render(p, PNG)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		w, _ := p.size()
		if got, want := float64(img.Bounds().Dx()), w.Points()/72*dpi; math.Abs(got-want) > 1 {
			t.Errorf("%s: %g pixels wide, want %g", name, got, want)
		}
		dark, all := 0, 0
		for y := 0; y < img.Bounds().Dy(); y += 3 {
			for x := 0; x < img.Bounds().Dx(); x += 3 {
				g := color.GrayModel.Convert(img.At(x, y)).(color.Gray)
				all++
				if g.Y < 128 {
					dark++
				}
			}
		}
		if share := float64(dark) / float64(all); share < 0.005 || share > 0.3 {
			t.Errorf("%s: %.1f%% of the pixels are dark", name, 100*share)
		}
	}
}

// pages counts the pages of a PDF file.
func pages(pdf []byte) int { return len(regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(pdf, -1)) }

func TestPDF(t *testing.T) {
	for name, p := range examples(t) {
		data, err := Render(p, PDF)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.HasPrefix(data, []byte("%PDF-")) || pages(data) != 1 {
			t.Errorf("%s: %d pages, begins with %q", name, pages(data), data[:8])
		}
		if !bytes.Contains(data, []byte("/BaseFont /utf8liberation#20sans")) || !bytes.Contains(data, []byte("/FontFile2")) {
			t.Errorf("%s: the font is not in the file", name)
		}
	}
}

func TestFormatOf(t *testing.T) {
	for file, want := range map[string]Format{"a.svg": SVG, "dir.x/B.PNG": PNG, "c.d.pdf": PDF, "a.gif": "", "svg": "", "": "", "a.": ""} {
		got, err := FormatOf(file)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v", file, got, err)
		}
	}
	if _, err := Render(exampleField(), "gif"); err == nil {
		t.Error("no error for a format that is not known")
	}
}

func TestFieldsWithoutSpread(t *testing.T) {
	f := exampleFitted()
	f.Spread = nil
	if _, err := f.Picture(); err == nil {
		t.Error("no error although there is nothing to draw")
	}
}
