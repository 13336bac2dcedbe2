package routing

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/laying"
	"stopwise/plans"
	"stopwise/plans/rule"
	"stopwise/validate/layout"
)

// laidOut lays out a made plan, of which a layout needs no more than its table.
func laidOut(t *testing.T, seed uint64) laid {
	t.Helper()
	f, err := layout.ReadGeoJSON([]byte(`{"type":"Polygon","coordinates":[[[-20,50],[-20,50.005],[-19.99,50.005],[-19.99,50],[-20,50]],[[-19.997,50.001],[-19.994,50.001],[-19.994,50.003],[-19.997,50.003],[-19.997,50.001]]]}`))
	if err != nil {
		t.Fatal(err)
	}
	s := &plans.StagePlan{Table: rule.Table{Units: 10, Leave: []int{-1, -1, 3, 6, 9, 12}, Act: []int{99, 99, 12, 14, 15, 13}}}
	stops, err := laying.Lay([]*plans.StagePlan{s}, f, seed)
	if err != nil {
		t.Fatal(err)
	}
	return laid{stops, &plans.Plan{Protocol: plans.Protocol{Title: `Beans & "more" <here>`}}, seed, 60}
}

// What is written is read back token by token, by no type of this package: each
// stop twice, at its place, in order.
func TestGPX(t *testing.T) {
	l := laidOut(t, 3)
	text, err := l.gpx()
	if err != nil {
		t.Fatal(err)
	}
	var lat, lon, names []string
	space, version, inName := "", "", false
	for d := xml.NewDecoder(strings.NewReader(string(text))); ; {
		token, err := d.Token()
		if err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			inName = e.Name.Local == "name"
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "lat":
					lat = append(lat, a.Value)
				case "lon":
					lon = append(lon, a.Value)
				case "version":
					space, version = e.Name.Space, a.Value
				}
			}
		case xml.CharData:
			if inName {
				names = append(names, string(e))
			}
		case xml.EndElement:
			inName = false
		}
	}
	// The names of GPX 1.1 as its schema gives them (from memory).
	if space != "http://www.topografix.com/GPX/1/1" || version != "1.1" {
		t.Errorf("name space %q, version %q", space, version)
	}
	if !strings.Contains(names[0], l.plan.Protocol.Title) {
		t.Errorf("title %q", names[0])
	}
	n := len(l.Route.Stops)
	if len(lat) != 2*n || len(lon) != 2*n {
		t.Fatalf("%d places of %d stops, each of which comes twice", len(lat), n)
	}
	for i := range lat {
		checkPlace(t, l, i%n, number(t, lon[i]), number(t, lat[i]))
	}
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// checkPlace holds a place on the globe to the stop's metres: 111319.49 m a
// degree of latitude on a sphere of WGS 84's equator, by hand.
func checkPlace(t *testing.T, l laid, stop int, lon, lat float64) {
	t.Helper()
	at := l.Route.Stops[stop].At
	x, y := (lon+20)*111319.49*math.Cos(50*math.Pi/180), (lat-50)*111319.49
	if math.Hypot(x-at[0], y-at[1]) > 0.1 {
		t.Errorf("stop %d lies at %v, written as %v, %v", stop+1, at, x, y)
	}
}

func TestGeoJSONOut(t *testing.T) {
	l := laidOut(t, 4)
	text, err := l.geojson()
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Type     string
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	n := len(l.Route.Stops)
	if all.Type != "FeatureCollection" || len(all.Features) != n+2 {
		t.Fatalf("%s of %d", all.Type, len(all.Features))
	}
	for i, f := range all.Features[:n] {
		var at [2]float64
		if err := json.Unmarshal(f.Geometry.Coordinates, &at); err != nil || f.Geometry.Type != "Point" || f.Properties["stop"] != float64(i+1) {
			t.Fatalf("%v %+v", err, f)
		}
		checkPlace(t, l, i, at[0], at[1])
	}
	// RFC 7946, 3.1.6: the outline runs against the clock, holes with it. Twice the
	// area by the shoelace formula is above 0 against the clock.
	var rings [][][2]float64
	if err := json.Unmarshal(all.Features[n+1].Geometry.Coordinates, &rings); err != nil || len(rings) != 2 {
		t.Fatal(err, len(rings))
	}
	for i, ring := range rings {
		twice := 0.0
		for j := 1; j < len(ring); j++ {
			twice += (ring[j-1][0]+20)*(ring[j][1]-50) - (ring[j][0]+20)*(ring[j-1][1]-50)
		}
		if (twice > 0) != (i == 0) {
			t.Errorf("ring %d: twice the area %v", i, twice)
		}
	}
}
