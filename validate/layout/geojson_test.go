package layout

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// A field in the plane of the Marrow Vale (invented; the coordinates lie in the
// open sea): 0.01 degrees of longitude by 0.005 of latitude at 50 degrees north.
const square = `{"type":"Polygon","coordinates":[[[-20,50],[-19.99,50],[-19.99,50.005],[-20,50.005],[-20,50]]]}`

func TestReadGeoJSON(t *testing.T) {
	// 0.01 and 0.005 degrees on a sphere of 6,378,137 m, the equator's radius (WGS
	// 84), by hand: 6378137 pi/180 = 111319.49 m a degree; times cos 50.
	const length, width = 715.55, 556.60
	feature := `{"type":"Feature","properties":{"name":"x"},"geometry":` + square + `}`
	for name, text := range map[string]string{
		"polygon":    square,
		"feature":    feature,
		"collection": `{"type":"FeatureCollection","features":[` + feature + `]}`,
		"multi":      `{"type":"MultiPolygon","coordinates":[[[[-20,50],[-19.99,50],[-19.99,50.005],[-20,50.005],[-20,50]]]]}`,
		"clockwise":  `{"type":"Polygon","coordinates":[[[-20,50],[-20,50.005],[-19.99,50.005],[-19.99,50],[-20,50]]]}`,
		"heights":    `{"type":"Polygon","coordinates":[[[-20,50,7],[-19.99,50,7],[-19.99,50.005,7],[-20,50.005,7],[-20,50,7]]]}`,
	} {
		f, err := ReadGeoJSON([]byte(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if l, w := f.Size(); math.Abs(l-length) > .01 || math.Abs(w-width) > .01 {
			t.Errorf("%s: %v x %v metres, by hand %v x %v", name, l, w, length, width)
		}
		if a := f.Area(); math.Abs(a-length*width) > 10 {
			t.Errorf("%s: area %v", name, a)
		}
		at, known := f.OnGlobe(orb.Point{length, width})
		if !known || math.Abs(at.Lon()+19.99) > 1e-6 || math.Abs(at.Lat()-50.005) > 1e-6 {
			t.Errorf("%s: the far corner lies at %v", name, at)
		}
	}
}

func TestHoles(t *testing.T) {
	f, err := ReadGeoJSON([]byte(withHole("[[-19.997,50.001],[-19.994,50.001],[-19.994,50.003],[-19.997,50.003],[-19.997,50.001]]")))
	if err != nil {
		t.Fatal(err)
	}
	// A third of the length by two fifths of the width, less nothing else.
	if want := 715.55 * 556.60 * (1 - .3*.4); math.Abs(f.Area()-want) > 10 {
		t.Errorf("area %v, by hand %v", f.Area(), want)
	}
	if f.Contains(orb.Point{4.5 * 71.555, 2 * 111.32}) {
		t.Error("the middle of the hole lies in the field")
	}
}

func withHole(ring string) string { return strings.TrimSuffix(square, "]}") + "," + ring + "]}" }

// Each fault gets one line that names the place and says what is accepted.
func TestBoundaryErrors(t *testing.T) {
	polygon := func(ring string) string { return `{"type":"Polygon","coordinates":[` + ring + `]}` }
	for _, c := range []struct{ name, text, place, says string }{
		{"no JSON", "field", "boundary", "not GeoJSON"},
		{"other JSON", `{"plan":1}`, "boundary", "not GeoJSON"},
		{"a line", `{"type":"LineString","coordinates":[[-20,50],[-19,50]]}`, "boundary", "a LineString"},
		{"no feature", `{"type":"FeatureCollection","features":[]}`, "boundary", ""},
		{"two parts", `{"type":"MultiPolygon","coordinates":[[[[-20,50],[-19.99,50],[-19.99,50.005],[-20,50]]],[[[-20,51],[-19.99,51],[-19.99,51.005],[-20,51]]]]}`, "boundary", "2 polygons"},
		{"no ring", `{"type":"Polygon","coordinates":[]}`, "boundary", ""},
		{"self-crossing", polygon("[[-20,50],[-19.99,50.005],[-19.99,50],[-20,50.005],[-20,50]]"), "outline", "side 1 crosses side 3"},
		{"back on itself", polygon("[[-20,50],[-19.99,50],[-19.995,50],[-19.995,50.005],[-20,50]]"), "outline", ""},
		{"latitude first", polygon("[[50,-120],[50,-120.01],[50.005,-120.01],[50.005,-120],[50,-120]]"), "outline, corner 1", "exchanged"},
		{"metres", polygon("[[430100,5540200],[430800,5540200],[430800,5540700],[430100,5540700],[430100,5540200]]"), "outline, corner 1", "metres?"},
		{"not closed", polygon("[[-20,50],[-19.99,50],[-19.99,50.005],[-20,50.005]]"), "outline", "not closed"},
		{"two corners", polygon("[[-20,50],[-19.99,50],[-20,50]]"), "outline", "2 corners"},
		{"on a line", polygon("[[-20,50],[-19.99,50],[-19.98,50],[-20,50]]"), "outline", ""},
		{"a country", polygon("[[-20,50],[-18,50],[-18,52],[-20,52],[-20,50]]"), "boundary", "metres"},
		{"a garden", polygon("[[-20,50],[-19.9999,50],[-19.9999,50.0001],[-20,50.0001],[-20,50]]"), "boundary", "metres"},
		{"at the pole", polygon("[[-20,86],[-19.99,86],[-19.99,86.005],[-20,86.005],[-20,86]]"), "outline, corner 1", "poles"},
		{"hole outside", withHole("[[-19.98,50.001],[-19.97,50.001],[-19.97,50.003],[-19.98,50.001]]"), "hole 1", ""},
		{"hole across the edge", withHole("[[-19.995,50.001],[-19.98,50.001],[-19.98,50.003],[-19.995,50.001]]"), "hole 1", ""},
	} {
		f, err := ReadGeoJSON([]byte(c.text))
		var fault *FieldError
		switch {
		case !errors.As(err, &fault):
			t.Errorf("%s: %v, field %v", c.name, err, f.Shape)
		case fault.Place != c.place || !strings.Contains(err.Error(), c.says) || fault.Accepted == "":
			t.Errorf("%s: %q; want %s and %q", c.name, err, c.place, c.says)
		case strings.Contains(err.Error(), "\n"):
			t.Errorf("%s: more than one line: %q", c.name, err)
		}
	}
}

// Whatever is read can be laid out or is refused, and never panics.
func FuzzReadGeoJSON(f *testing.F) {
	f.Add(square)
	f.Add(withHole("[[-19.997,50.001],[-19.994,50.001],[-19.994,50.003],[-19.997,50.001]]"))
	f.Add(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null}]}`)
	f.Add(`{"type":"GeometryCollection","geometries":[` + square + `]}`)
	f.Add(`{"type":"MultiPolygon","coordinates":[[]]}`)
	f.Add(`{"type":"Polygon","coordinates":[[[1e308,0],[0,0],[0,1],[1e308,0]]]}`)
	f.Add(`{"type":"Polygon","coordinates":[[[],[],[],[]]]}`)
	f.Fuzz(func(t *testing.T, text string) {
		field, err := ReadGeoJSON([]byte(text))
		if err != nil {
			return
		}
		if l, w := field.Size(); !(l >= MinSide && l <= MaxSide && w >= MinSide && w <= MaxSide) || !(field.Area() > 0) {
			t.Errorf("a field of %v x %v m, %v square metres", l, w, field.Area())
		}
		if _, err := NewGround(field, 0); err != nil {
			var fault *FieldError
			if !errors.As(err, &fault) {
				t.Error(err)
			}
		}
	})
}
