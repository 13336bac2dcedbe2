package layout

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"
)

// ReadGeoJSON reads a field's boundary: a Polygon (with holes), or a feature or a
// collection that holds just one, in longitude and latitude (RFC 7946). A
// MultiPolygon of one part is taken too. Either winding of the rings is accepted.
func ReadGeoJSON(text []byte) (Field, error) {
	p, err := onePolygon(text)
	if err != nil {
		return Field{}, err
	}
	if err := checkRings(p); err != nil {
		return Field{}, err
	}
	b := p.Bound()
	corner := orb.Point{b.Left(), b.Bottom()}
	f := Field{Corner: &corner}
	for _, ring := range p {
		plane := make(orb.Ring, len(ring))
		for i, c := range ring {
			plane[i] = orb.Point{(c.Lon() - corner.Lon()) * metresEast(corner.Lat()), (c.Lat() - corner.Lat()) * metresNorth}
		}
		f.Shape = append(f.Shape, plane)
	}
	length, width := f.Size()
	if math.Min(length, width) < MinSide || math.Max(length, width) > MaxSide {
		return Field{}, &FieldError{"boundary", fmt.Sprintf("the field is %.0f x %.0f metres", length, width),
			fmt.Sprintf("sides from %d to %d metres, as longitude and latitude in degrees", MinSide, MaxSide)}
	}
	return f, f.checkHoles()
}

func onePolygon(text []byte) (orb.Polygon, error) {
	const accepted = "one Polygon, or a feature or a collection with one (GeoJSON, RFC 7946)"
	var found []orb.Geometry
	if c, err := geojson.UnmarshalFeatureCollection(text); err == nil && len(c.Features) > 0 {
		for _, f := range c.Features {
			if f != nil && f.Geometry != nil {
				found = append(found, f.Geometry)
			}
		}
	} else if f, err := geojson.UnmarshalFeature(text); err == nil && f.Geometry != nil {
		found = append(found, f.Geometry)
	} else if g, err := geojson.UnmarshalGeometry(text); err == nil && g.Geometry() != nil {
		found = append(found, g.Geometry())
	} else {
		return nil, &FieldError{"boundary", "not GeoJSON", accepted}
	}
	var polygons []orb.Polygon
	for _, g := range found {
		switch g := g.(type) {
		case orb.Polygon:
			polygons = append(polygons, g)
		case orb.MultiPolygon:
			polygons = append(polygons, g...)
		default:
			return nil, &FieldError{"boundary", "a " + g.GeoJSONType(), accepted}
		}
	}
	if len(polygons) != 1 {
		return nil, &FieldError{"boundary", fmt.Sprintf("%d polygons", len(polygons)), accepted}
	}
	return polygons[0], nil
}

// checkRings refuses rings that are no outline, with their place.
func checkRings(p orb.Polygon) error {
	if len(p) == 0 {
		return &FieldError{"boundary", "no ring", "an outline of at least three corners"}
	}
	corners := 0
	for i, ring := range p {
		name := ringName(i)
		corners += len(ring)
		if corners > maxCorner {
			return &FieldError{name, "too many corners", fmt.Sprintf("up to %d in all", maxCorner)}
		}
		for j, c := range ring {
			place := fmt.Sprintf("%s, corner %d", name, j+1)
			if math.IsNaN(c[0]) || math.IsNaN(c[1]) || math.IsInf(c[0], 0) || math.IsInf(c[1], 0) {
				return &FieldError{place, "not a number", "longitude and latitude in degrees"}
			}
			switch {
			case math.Abs(c[0]) > 180 || math.Abs(c[1]) > 90 && math.Abs(c[0]) > 90:
				return &FieldError{place, fmt.Sprintf("%g, %g is no place on the globe; metres?", c[0], c[1]),
					"longitude -180 to 180, then latitude -90 to 90; for metres give the size instead"}
			case math.Abs(c[1]) > 90:
				return &FieldError{place, fmt.Sprintf("latitude %g", c[1]), "longitude first, then latitude from -90 to 90; here they look exchanged"}
			case math.Abs(c[1]) > 85:
				return &FieldError{place, fmt.Sprintf("latitude %g", c[1]), "-85 to 85: no fields lie nearer to the poles"}
			}
		}
		if len(ring) < 3 {
			return &FieldError{name, fmt.Sprintf("%d corners", len(ring)), "at least three, and the first again as the last"}
		}
		if ring[0] != ring[len(ring)-1] {
			return &FieldError{name, "it is not closed", "the first corner again as the last"}
		}
		if len(ring) < 4 {
			return &FieldError{name, fmt.Sprintf("%d corners", len(ring)-1), "at least three, and the first again as the last"}
		}
		if a, b, crosses := selfCrossing(ring); crosses {
			return &FieldError{name, fmt.Sprintf("side %d crosses side %d", a, b), "corners in order around the field, without crossing"}
		}
		if planar.Area(ring) == 0 {
			return &FieldError{name, "it encloses nothing", "corners that are not all on one line"}
		}
	}
	return nil
}

func ringName(i int) string {
	if i == 0 {
		return "outline"
	}
	return fmt.Sprintf("hole %d", i)
}

// selfCrossing returns the first two sides of a ring (from 1) that meet where they
// should not.
func selfCrossing(ring orb.Ring) (a, b int, crosses bool) {
	n := len(ring) - 1
	for i := range n {
		for j := i + 1; j < n; j++ {
			if j == i+1 || i == 0 && j == n-1 {
				continue // neighbours share a corner
			}
			if meet(ring[i], ring[i+1], ring[j], ring[j+1]) {
				return i + 1, j + 1, true
			}
		}
	}
	return 0, 0, false
}

// meet reports whether two segments have a point in common.
func meet(a, b, c, d orb.Point) bool {
	within := func(p, q, r orb.Point) bool {
		return side(p, q, r) == 0 && math.Min(p[0], q[0]) <= r[0] && r[0] <= math.Max(p[0], q[0]) && math.Min(p[1], q[1]) <= r[1] && r[1] <= math.Max(p[1], q[1])
	}
	return cross(a, b, c, d) || within(a, b, c) || within(a, b, d) || within(c, d, a) || within(c, d, b)
}

// cross reports whether two segments have a point in common that is an end of
// neither.
func cross(a, b, c, d orb.Point) bool {
	return side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0
}

// side is above 0 where r lies left of the line from p to q, below 0 right of it.
func side(p, q, r orb.Point) float64 { return (q[0]-p[0])*(r[1]-p[1]) - (q[1]-p[1])*(r[0]-p[0]) }

// crossing reports whether a side of one ring crosses one of the other.
func crossing(a, b orb.Ring) bool {
	for i := 1; i < len(a); i++ {
		for j := 1; j < len(b); j++ {
			if cross(a[i-1], a[i], b[j-1], b[j]) {
				return true
			}
		}
	}
	return false
}

func (f Field) checkHoles() error {
	for i, hole := range f.Shape[1:] {
		name := ringName(i + 1)
		out := crossing(f.Shape[0], hole)
		for _, c := range hole {
			out = out || !planar.RingContains(f.Shape[0], c)
		}
		if out {
			return &FieldError{name, "it reaches out of the field", "holes inside the outline"}
		}
		for _, other := range f.Shape[1 : i+1] {
			if planar.RingContains(other, hole[0]) || planar.RingContains(hole, other[0]) || crossing(other, hole) {
				return &FieldError{name, "it lies in another hole", "holes apart from each other"}
			}
		}
	}
	return nil
}
