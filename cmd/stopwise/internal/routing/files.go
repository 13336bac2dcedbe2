package routing

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
)

// gpxFile is a file in the GPS exchange format 1.1; elements stand in the order
// that its schema asks for (http://www.topografix.com/GPX/1/1/gpx.xsd).
type gpxFile struct {
	XMLName xml.Name   `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version string     `xml:"version,attr"`
	Creator string     `xml:"creator,attr"`
	Name    string     `xml:"metadata>name"`
	Stops   []gpxPoint `xml:"wpt"`
	Route   string     `xml:"rte>name"`
	InOrder []gpxPoint `xml:"rte>rtept"`
}

type gpxPoint struct {
	Latitude    string `xml:"lat,attr"`
	Longitude   string `xml:"lon,attr"`
	Name        string `xml:"name"`
	Description string `xml:"desc,omitempty"`
}

// decimals of a degree that are written: the seventh is a centimetre.
const decimals = 7

func (l laid) title() string { return "Where to stop" + say.Titled(l.plan.Protocol.About()) }

func (l laid) gpx() ([]byte, error) {
	f := gpxFile{Version: "1.1", Creator: creator, Name: l.title(), Route: fmt.Sprintf("Stops in order, seed %d", l.seed)}
	for i, s := range l.Route.Stops {
		at, _ := l.Field.OnGlobe(s.At)
		p := gpxPoint{Latitude: degrees(at.Lat()), Longitude: degrees(at.Lon()), Name: fmt.Sprintf("Stop %d", i+1)}
		f.InOrder = append(f.InOrder, p)
		p.Description = l.words(s.At)
		f.Stops = append(f.Stops, p)
	}
	text, err := xml.MarshalIndent(f, "", "  ")
	return append([]byte(xml.Header), append(text, '\n')...), err
}

func degrees(x float64) string { return report.Fixed(x, decimals) }

// geojson holds the stops as points, the route as a line and the boundary, in
// this order (RFC 7946).
func (l laid) geojson() ([]byte, error) {
	all := geojson.NewFeatureCollection()
	var line orb.LineString
	for i, s := range l.Route.Stops {
		at := l.rounded(s.At)
		line = append(line, at)
		f := geojson.NewFeature(at)
		f.Properties = geojson.Properties{"stop": i + 1, "metres": math.Round(10*s.Metres) / 10, "place": l.words(s.At)}
		all.Append(f)
	}
	if len(line) > 1 {
		f := geojson.NewFeature(line)
		f.Properties = geojson.Properties{"name": "route", "seed": l.seed}
		all.Append(f)
	}
	var boundary orb.Polygon
	for _, ring := range l.Field.Shape {
		var on orb.Ring
		for _, p := range ring {
			on = append(on, l.rounded(p))
		}
		// The outline runs against the clock, holes with it.
		if (on.Orientation() == orb.CCW) != (len(boundary) == 0) {
			on.Reverse()
		}
		boundary = append(boundary, on)
	}
	f := geojson.NewFeature(boundary)
	f.Properties = geojson.Properties{"name": "field"}
	all.Append(f)
	all.ExtraMembers = geojson.Properties{"creator": creator} // a foreign member, RFC 7946, 6.1
	text, err := json.MarshalIndent(all, "", " ")
	return append(text, '\n'), err
}

func (l laid) rounded(p orb.Point) orb.Point {
	const by = 1e7
	at, _ := l.Field.OnGlobe(p)
	return orb.Point{math.Round(at[0]*by) / by, math.Round(at[1]*by) / by}
}

const creator = "stopwise"

// isRoute reports whether a file is a route that the command wrote.
func isRoute(old []byte) bool {
	return bytes.Contains(old, []byte(`creator="`+creator+`"`)) || bytes.Contains(old, []byte(`"creator": "`+creator+`"`))
}
