package layout

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// Sizes of a field that can be laid out.
const (
	MinSide   = 30    // metres
	MaxSide   = 10000 // metres
	maxCorner = 5000  // corners of a boundary, holes included
)

// A Field is a field's outline in a plane.
type Field struct {
	// Shape is the outline and then the holes (ponds, woods, yards), in metres east
	// and north of the south-west corner of the box around the field.
	Shape orb.Polygon
	// Corner is that south-west corner as longitude and latitude (WGS 84, degrees);
	// nil where the field's place on the globe is not known.
	Corner *orb.Point
}

// Rectangle returns a field of a length (east) and a width (north) in metres.
func Rectangle(length, width float64) (Field, error) {
	for _, side := range []float64{length, width} {
		if !(side >= MinSide && side <= MaxSide) {
			return Field{}, &FieldError{Place: "size", Problem: fmt.Sprintf("%g x %g metres", length, width),
				Accepted: fmt.Sprintf("sides from %d to %d metres", MinSide, MaxSide)}
		}
	}
	return Field{Shape: orb.Polygon{{{0, 0}, {length, 0}, {length, width}, {0, width}, {0, 0}}}}, nil
}

// A FieldError says what is wrong with a boundary.
type FieldError struct {
	Place    string // where in the boundary
	Problem  string
	Accepted string
}

func (e *FieldError) Error() string {
	return e.Place + ": " + e.WithoutPlace()
}

// WithoutPlace returns the error without its place.
func (e *FieldError) WithoutPlace() string { return e.Problem + "; accepted: " + e.Accepted }

// Area returns the field's area without its holes in square metres.
func (f Field) Area() float64 {
	a := 0.0
	for i, ring := range f.Shape {
		if r := math.Abs(planar.Area(ring)); i == 0 {
			a = r
		} else {
			a -= r
		}
	}
	return a
}

// Size returns the length (east) and width (north) of the box around the field.
func (f Field) Size() (length, width float64) {
	b := f.Shape.Bound()
	return b.Right() - b.Left(), b.Top() - b.Bottom()
}

// Contains reports whether a place lies in the field and in none of its holes.
func (f Field) Contains(p orb.Point) bool { return planar.PolygonContains(f.Shape, p) }

// ToEdge returns the distance of a place from the nearest edge, of a hole too.
func (f Field) ToEdge(p orb.Point) float64 {
	d := math.Inf(1)
	for _, ring := range f.Shape {
		for i := 1; i < len(ring); i++ {
			d = math.Min(d, planar.DistanceFromSegment(ring[i-1], ring[i], p))
		}
	}
	return d
}

// OnGlobe returns the longitude and latitude of a place of the field, and whether
// the field's own place is known.
func (f Field) OnGlobe(p orb.Point) (orb.Point, bool) {
	if f.Corner == nil {
		return orb.Point{}, false
	}
	return orb.Point{
		f.Corner.Lon() + p[0]/metresEast(f.Corner.Lat()),
		f.Corner.Lat() + p[1]/metresNorth,
	}, true
}

// metresNorth is the metres of a degree of latitude, metresEast those of a degree
// of longitude: over the few kilometres of a field the globe is a plane.
const metresNorth = orb.EarthRadius * math.Pi / 180

func metresEast(lat float64) float64 { return metresNorth * math.Cos(lat*math.Pi/180) }
