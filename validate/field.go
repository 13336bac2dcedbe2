package validate

import (
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"
	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
	"stopwise/validate/layout"
)

// A Pattern says where in a made field the pest sits.
type Pattern string

// The patterns.
const (
	HotSpots Pattern = "hot-spots" // in a few spots anywhere
	Edge     Pattern = "edge"      // along one side, and less and less further in
	Gradient Pattern = "gradient"  // rising evenly from one side to the other
	Uniform  Pattern = "uniform"   // the same everywhere
	Strip    Pattern = "strip"     // along a line through the field, as beside a ditch or a row of trees
	Arrivals Pattern = "arrivals"  // in a few patches of any size, each grown from one arrival
)

// Patterns lists the patterns.
var Patterns = []Pattern{HotSpots, Edge, Gradient, Uniform, Strip, Arrivals}

// Ground says how a field is made. Lengths are in metres.
type Ground struct {
	Length, Width float64
	Spots         float64 // mean number of hot spots in a field
	SpotRadius    float64 // standard deviation of a hot spot

	outline *outline // nil for a rectangle
}

// An outline is a field's real boundary, and which cells of the box around it lie
// inside.
type outline struct {
	field  layout.Field
	inside [cellsAlong * cellsAcross]bool
}

// GroundIn returns the ground of a field with a real boundary.
func GroundIn(f layout.Field, spots, spotRadius float64) Ground {
	length, width := f.Size()
	g := Ground{Length: length, Width: width, Spots: spots, SpotRadius: spotRadius, outline: &outline{field: f}}
	for k := range g.outline.inside {
		x := (float64(k%cellsAlong) + .5) / cellsAlong * length
		y := (float64(k/cellsAlong) + .5) / cellsAcross * width
		g.outline.inside[k] = f.Contains(orb.Point{x, y})
	}
	return g
}

// holds reports whether a place lies in the field.
func (g Ground) holds(x, y float64) bool {
	return g.outline == nil || g.outline.field.Contains(orb.Point{x, y})
}

// area returns the outline that stops are laid out in.
func (g Ground) area() (layout.Field, error) {
	if g.outline != nil {
		return g.outline.field, nil
	}
	return layout.Rectangle(g.Length, g.Width)
}

// DefaultGround is a field of 40 ha, three to two, with eight hot spots. All
// values are believable ones without a source.
var DefaultGround = GroundOf(40, 8, 50)

// GroundOf returns the ground of a field of so many hectares, three to two.
func GroundOf(hectares, spots, spotRadius float64) Ground {
	width := math.Sqrt(hectares * 10000 / 1.5)
	return Ground{Length: 1.5 * width, Width: width, Spots: spots, SpotRadius: spotRadius}
}

// Check returns an error unless such fields can be made.
func (g Ground) Check() error {
	const least = 6.0 * Margin
	if !(math.Min(g.Length, g.Width) >= least) || math.IsInf(g.Length*g.Width, 1) {
		return sampling.Refusef("a field of %.0f m by %.0f m, must be at least %.0f m wide", g.Length, g.Width, least)
	}
	if !(g.Spots > 0 && g.Spots <= 1000) || !(g.SpotRadius > 0) {
		return sampling.Refusef("%g hot spots of radius %g m, must be above 0, and at most 1000 spots", g.Spots, g.SpotRadius)
	}
	return nil
}

// cells is how many cells a field has along its length and its width. The pest
// is spread evenly within a cell.
const (
	cellsAlong  = 36
	cellsAcross = 24
)

// arranged is the part of the clumping at a stop that comes from where the stop
// lies. The rest is between neighbours, as colonies on one plant spread to the
// next.
const arranged = 0.8

// edgeDepth is how deep an infested edge reaches, as a share of the field's
// width: there the pest has fallen to 1/e of what it is at the side.
const edgeDepth = 0.25

// A Field is a made field: a map of the share of plants infested, or of the mean
// per unit. Whatever its pattern, the mean over the field and the correlation of two
// plants, or of the counts of two units, at a stop anywhere in it are those asked
// for, so that fields differ in nothing but where the pest sits.
type Field struct {
	Ground  Ground
	Pattern Pattern
	Level   float64 // mean over the field: share infested, or mean per unit
	Rho     float64 // of two plants, or of two counts, at a stop that lies anywhere
	// Near is the correlation of two plants at a stop of given share.
	Near float64

	shape    shape
	gain     float64   // level for each unit of the shape's height
	counting *counting // for counts; nil for shares infested
}

// shape is a pattern before it has a share: heights over the cells.
type shape struct {
	pattern            Pattern
	height             []float64
	mean, sd, min, max float64
}

// newShape draws a pattern.
func newShape(g Ground, p Pattern, r *rand.Rand) shape {
	s := shape{pattern: p, height: make([]float64, cellsAlong*cellsAcross)}
	switch p {
	case HotSpots:
		s.spots(g, r)
	case Edge:
		side := r.IntN(4)
		s.fill(func(x, y float64) float64 {
			d := [...]float64{x, 1 - x, y, 1 - y}[side]
			if side < 2 {
				d *= g.Length / g.Width
			}
			return math.Exp(-d / edgeDepth)
		})
	case Strip:
		// A straight line such that none hits a place more often than another (the
		// invariant measure of lines, as in Buffon's problem).
		sin, cos, cx, cy := lineAcross(g, r)
		s.fill(func(x, y float64) float64 {
			d := math.Abs((x*g.Length-cx)*sin-(y*g.Width-cy)*cos) / g.Width
			return math.Exp(-d / stripDepth)
		})
	case Arrivals:
		s.arrivals(g, r)
	case Gradient:
		sin, cos := math.Sincos(2 * math.Pi * r.Float64())
		s.fill(func(x, y float64) float64 { return x*cos*g.Length + y*sin*g.Width })
	}
	s.sum(g)
	return s
}

// lineAcross draws a line across the field: its direction and a place on it. Of the
// lines that hit the circle around the box those that miss the box are thrown away.
func lineAcross(g Ground, r *rand.Rand) (sin, cos, x, y float64) {
	reach := math.Hypot(g.Length, g.Width) / 2
	for {
		sin, cos = math.Sincos(math.Pi * r.Float64())
		off := reach * (2*r.Float64() - 1)
		if math.Abs(off) < (g.Length*math.Abs(sin)+g.Width*math.Abs(cos))/2 {
			return sin, cos, g.Length/2 - off*sin, g.Width/2 + off*cos
		}
	}
}

// stripDepth is how far a strip reaches to either side, as a share of the
// field's width: there the pest has fallen to 1/e.
const stripDepth = 0.1

// arrivals adds up patches that each grew from one arrival for a time of its own:
// the older, the higher and the wider. Four to five of them lie in a field on
// average, and patches from arrivals beside it reach in too.
func (s *shape) arrivals(g Ground, r *rand.Rand) {
	for _, c := range s.centres(g, 4.5, 4*g.SpotRadius, r) {
		age := 0.3 + 0.7*r.Float64()
		s.spot(g, c.x, c.y, 2*age*g.SpotRadius, math.Exp(3*age))
	}
}

// centres draws places in the field and as far around it as reach, so many in the
// field on average: a Poisson process.
func (s *shape) centres(g Ground, mean, reach float64, r *rand.Rand) []point {
	length, width := g.Length+2*reach, g.Width+2*reach
	n := int(distuv.Poisson{Lambda: mean * length * width / (g.Length * g.Width), Src: r}.Rand())
	c := make([]point, max(1, n))
	for i := range c {
		c[i] = point{r.Float64()*length - reach, r.Float64()*width - reach}
	}
	return c
}

// fill sets the heights from places in the unit square.
func (s *shape) fill(f func(x, y float64) float64) {
	for j := range cellsAcross {
		for i := range cellsAlong {
			s.height[j*cellsAlong+i] = f((float64(i)+.5)/cellsAlong, (float64(j)+.5)/cellsAcross)
		}
	}
}

// spots adds up the hot spots of a cluster process: their centres lie at random
// in the field and around it, and each fades as a normal density (Neyman, J. &
// Scott, E.L. 1958, Statistical approach to problems of cosmology. J. R. Stat.
// Soc. B 20: 1-43; with normal clusters the process of Thomas, M. 1949,
// Biometrika 36: 18-25).
func (s *shape) spots(g Ground, r *rand.Rand) {
	// Spots centred a little outside reach into the field too.
	for _, c := range s.centres(g, g.Spots, 2*g.SpotRadius, r) {
		s.spot(g, c.x, c.y, g.SpotRadius, 1)
	}
}

// spot adds one spot of a radius and a height.
func (s *shape) spot(g Ground, cx, cy, radius, height float64) {
	var along [cellsAlong]float64
	for i := range along {
		along[i] = bell(((float64(i)+.5)/cellsAlong*g.Length - cx) / radius)
	}
	for j := range cellsAcross {
		across := height * bell(((float64(j)+.5)/cellsAcross*g.Width-cy)/radius)
		if across < 1e-6 {
			continue
		}
		row := s.height[j*cellsAlong : (j+1)*cellsAlong]
		for i, a := range along {
			row[i] += a * across
		}
	}
}

func bell(z float64) float64 { return math.Exp(-z * z / 2) }

func (s *shape) sum(g Ground) {
	s.min, s.max = math.Inf(1), math.Inf(-1)
	sum, squares, n := 0.0, 0.0, 0.0
	for k, h := range s.height {
		if g.outline != nil && !g.outline.inside[k] {
			continue
		}
		n++
		sum += h
		s.min, s.max = math.Min(s.min, h), math.Max(s.max, h)
	}
	s.mean = sum / n
	for k, h := range s.height {
		if g.outline == nil || g.outline.inside[k] {
			squares += (h - s.mean) * (h - s.mean)
		}
	}
	s.sd = math.Sqrt(squares / n)
}

// field gives the shape a mean share and a correlation. The differences between
// places carry the part arranged of the correlation, or as much as shares between
// 0 and 1 allow, and neighbours the rest:
//
//	rho = [V + near (p(1-p) - V)] / p(1-p),   V = variance of the share over the field
func (s shape) field(g Ground, share, rho float64) Field {
	f := Field{Ground: g, Pattern: s.pattern, Level: share, Rho: rho, Near: rho, shape: s}
	even := share * (1 - share)
	if s.sd > 0 {
		f.gain = math.Min(math.Sqrt(arranged*rho*even)/s.sd,
			math.Min(share/(s.mean-s.min), (1-share)/(s.max-s.mean)))
	}
	if v := f.gain * f.gain * s.sd * s.sd; v > 0 {
		f.Near = math.Max(0, (rho*even-v)/(even-v))
	}
	return f
}

// MakeField draws a field of a pattern with a mean share infested between 0 and 1
// and a correlation rho between two plants at one stop.
func MakeField(g Ground, p Pattern, share, rho float64, r *rand.Rand) Field {
	return newShape(g, p, r).field(g, share, rho)
}

// At returns the level at a place, from the corner of the field.
func (f Field) At(x, y float64) float64 {
	i := min(cellsAlong-1, max(0, int(x/f.Ground.Length*cellsAlong)))
	j := min(cellsAcross-1, max(0, int(y/f.Ground.Width*cellsAcross)))
	return f.Cell(i, j)
}

// Cells returns the numbers of cells along the length and the width; Cell the
// level in one of them.
func (f Field) Cells() (along, across int) { return cellsAlong, cellsAcross }

// Cell returns the level in a cell.
func (f Field) Cell(i, j int) float64 {
	q := math.Max(0, f.Level+f.gain*(f.shape.height[j*cellsAlong+i]-f.shape.mean)) // rounding
	if f.counting != nil {
		return q
	}
	return math.Min(1, q)
}

// Count draws what is counted on units units at a place: infested plants among so
// many, or insects.
func (f Field) Count(r *rand.Rand, x, y float64, units int) int {
	q := f.At(x, y)
	if f.counting != nil {
		return f.counting.total(r, q, units)
	}
	return urn(r, units, q, 1-q, f.Near/(1-f.Near))
}
