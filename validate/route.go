package validate

import (
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"stopwise/validate/layout"
)

// A Route says how a scout walks through a field.
type Route string

// The routes.
const (
	Zigzag   Route = "zigzag"   // six legs from side to side
	W        Route = "w"        // four legs from side to side
	Transect Route = "transect" // up along one line and back along another
	Random   Route = "random"   // to places drawn at random, in the order drawn
	// Balanced goes to stops laid out so that every beginning of the route on which
	// a verdict can come is spread over the whole field (package layout).
	Balanced Route = "balanced"
)

// Routes lists the routes.
var Routes = []Route{Zigzag, W, Transect, Random, Balanced}

// Margin is how far, in metres, a scout keeps from the edge of a field. Common
// practice, no source.
const Margin = layout.Margin

// A Place is a stop of a walk.
type Place struct {
	X, Y   float64 // metres from the corner of the field
	Metres float64 // walked from the place before, or from the gate
}

type point struct{ x, y float64 }

func distance(a, b point) float64 { return math.Hypot(a.x-b.x, a.y-b.y) }

// A Walk yields the stops of one visit, one after the other, without an end. The
// scout comes in at a corner. Stops lie evenly along the route; at its end the
// scout turns round, and the stops of the way back fall between the others.
type Walk struct {
	ground Ground
	random bool
	r      *rand.Rand
	gate   point
	here   point

	stops   []layout.Stop // of a balanced route, still to come
	path    []point
	length  float64 // of the path
	spacing float64
	walked  float64 // along the route so far, turned ways included
	first   bool
}

// Spacing says how far apart stops lie along a route.
type Spacing struct {
	Metres float64 // wanted
	// At least Fewest and at most Most stops fall on the route before the scout
	// turns round, whatever Metres says: no verdict comes before the one, and none
	// is open after the other.
	Fewest, Most int
	// Ends holds the chance that a visit ends with each stop, from the first one on;
	// nil where that is not known. A balanced route is laid out for it.
	Ends []float64
}

// NewWalk begins a walk. The gate is at any of the four corners. The error is that
// of a ground in which no balanced route can be laid out.
func NewWalk(route Route, g Ground, spacing Spacing, r *rand.Rand) (*Walk, error) {
	w := new(Walk)
	l, err := routeLines(route, g, spacing, 1, r)
	if err == nil {
		w.begin(l, g, spacing, r)
	}
	return w, err
}

// lines is a route laid out from the corner 0, 0.
type lines struct {
	path   []point // empty for Random and Balanced
	length float64
	laid   []layout.Route // for Balanced, one of which a visit takes
}

// routeLines lays out a route; of a balanced one, so many different ones, since
// every visit begins anew.
func routeLines(route Route, g Ground, spacing Spacing, layouts int, r *rand.Rand) (lines, error) {
	if route != Balanced {
		return lineOf(route, g), nil
	}
	field, err := g.area()
	if err != nil {
		return lines{}, err
	}
	ground, err := layout.NewGround(field, Margin)
	if err != nil {
		return lines{}, err
	}
	corner := &orb.Point{0, 0}
	if g.outline != nil {
		corner = nil // of the box, not of the field
	}
	l := lines{}
	for range layouts {
		laid, err := ground.Lay(layout.Options{First: spacing.Fewest, Last: spacing.Most, Ends: spacing.Ends, From: corner}, r)
		if err != nil {
			return lines{}, err
		}
		l.laid = append(l.laid, laid)
	}
	return l, nil
}

func lineOf(route Route, g Ground) lines {
	left, right, near, far := float64(Margin), g.Length-Margin, float64(Margin), g.Width-Margin
	var path []point
	switch route {
	case Zigzag:
		path = sideToSide(6, left, right, near, far)
	case W:
		path = sideToSide(4, left, right, near, far)
	case Transect:
		path = []point{{left, g.Width / 3}, {right, g.Width / 3}, {right, g.Width * 2 / 3}, {left, g.Width * 2 / 3}}
	}
	l := lines{path: path}
	for i := 1; i < len(path); i++ {
		l.length += distance(path[i-1], path[i])
	}
	return l
}

func sideToSide(legs int, left, right, near, far float64) []point {
	path := make([]point, legs+1)
	for i := range path {
		path[i] = point{left + (right-left)*float64(i)/float64(legs), near}
		if i%2 == 1 {
			path[i].y = far
		}
	}
	return path
}

func (w *Walk) begin(l lines, g Ground, spacing Spacing, r *rand.Rand) {
	flipX, flipY := r.IntN(2) == 1, r.IntN(2) == 1
	if g.outline != nil {
		flipX, flipY = false, false // the boundary is as it is
	}
	*w = Walk{ground: g, random: len(l.path) == 0, r: r, first: true, path: w.path[:0], stops: w.stops[:0], length: l.length}
	flip := func(p point) point {
		if flipX {
			p.x = g.Length - p.x
		}
		if flipY {
			p.y = g.Width - p.y
		}
		return p
	}
	for _, p := range l.path {
		w.path = append(w.path, flip(p))
	}
	w.gate = flip(point{0, 0})
	w.here = w.gate
	if len(l.laid) > 0 {
		w.random = false
		one := l.laid[r.IntN(len(l.laid))]
		w.gate = flip(point{one.From[0], one.From[1]})
		w.here = w.gate
		for _, s := range one.Stops {
			p := flip(point{s.At[0], s.At[1]})
			s.At = orb.Point{p.x, p.y}
			w.stops = append(w.stops, s)
		}
		return
	}
	if !w.random {
		n := float64(spacing.Most)
		if spacing.Metres > 0 {
			n = math.Min(n, math.Round(l.length/spacing.Metres))
		}
		w.spacing = l.length / math.Max(n, float64(spacing.Fewest))
		// Near a quarter of the spacing, the stops of the way back fall halfway
		// between those of the way out.
		w.walked = (0.15 + 0.2*r.Float64()) * w.spacing
	}
}

// Gate returns where the scout comes in.
func (w *Walk) Gate() (x, y float64) { return w.gate.x, w.gate.y }

// Path returns the corners of the route, none for [Random].
func (w *Walk) Path() []Place {
	var p []Place
	for i, c := range w.path {
		place := Place{X: c.x, Y: c.y}
		if i > 0 {
			place.Metres = distance(w.path[i-1], c)
		}
		p = append(p, place)
	}
	return p
}

// Next walks to the next stop. A place that lies outside of the field's boundary is
// passed by. A balanced route that has ended begins anew.
func (w *Walk) Next() Place {
	metres := 0.0
	for range 1000 {
		p := w.next()
		metres += p.Metres
		if w.ground.holds(p.X, p.Y) {
			p.Metres = metres
			return p
		}
	}
	return Place{X: w.here.x, Y: w.here.y, Metres: metres}
}

func (w *Walk) next() Place {
	if len(w.stops) > 0 {
		s := w.stops[0]
		w.stops = append(w.stops[1:], s)
		p := Place{s.At[0], s.At[1], distance(w.here, point{s.At[0], s.At[1]})}
		w.here = point{p.X, p.Y}
		return p
	}
	if w.random {
		g := w.ground
		to := point{Margin + w.r.Float64()*(g.Length-2*Margin), Margin + w.r.Float64()*(g.Width-2*Margin)}
		p := Place{to.x, to.y, distance(w.here, to)}
		w.here = to
		return p
	}
	metres := w.spacing
	if w.first {
		w.first = false
		metres = distance(w.gate, w.path[0]) + w.walked
	} else {
		w.walked += w.spacing
	}
	at := w.place(w.walked)
	return Place{at.x, at.y, metres}
}

// place returns the place after so many metres to and fro.
func (w *Walk) place(metres float64) point {
	metres = math.Mod(metres, 2*w.length)
	if metres > w.length {
		metres = 2*w.length - metres
	}
	for i := 1; ; i++ {
		a, b := w.path[i-1], w.path[i]
		leg := distance(a, b)
		if metres <= leg || i == len(w.path)-1 {
			t := math.Min(1, metres/leg)
			return point{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)}
		}
		metres -= leg
	}
}
