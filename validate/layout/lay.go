package layout

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// A Stop is a numbered stop of a route.
type Stop struct {
	At     orb.Point
	Metres float64 // straight from the stop before; for the first from where the scout comes in
}

// Options says what a route is laid out for.
type Options struct {
	First, Last int // the first stop at which a verdict can come, and the last one
	// Ends holds, from the first stop on, the chance that a visit ends with each: what
	// the walk is expected to be, and how often a beginning carries the verdict,
	// follow from it. Nil where that is not known: then visits are taken to end a
	// fifth at every stop.
	Ends []float64
	// From is where the scout comes in; nil where that is open: then it is drawn on
	// the outline.
	From *orb.Point
}

// A Route is the stops of a visit in their order.
type Route struct {
	From   orb.Point // where the scout comes in
	Stops  []Stop
	Metres float64 // walked in all
	// Offset is how far the mean place of the stops lies from the field's centre at
	// most, on the beginnings of the route on which a verdict can come, as a share
	// of the field's extent.
	Offset float64
}

// How much the parts of a layout count against each other. Imbalance of one
// beginning of the route counts 1 where it is as large as that of stops at random.
// Found by trying on made fields of six patterns (package validate) with plans of
// 2.5 to 3 minutes a walk.
const (
	walkWeight  = 8    // a walk as long as the side of a square of the field's area
	endWeight   = 6    // a beginning with which every visit ends
	leastWeight = 0.25 // what beginnings keep with which few visits end
	leastLeg    = 0.5  // what walks keep that few visits take
	fading      = 0.8  // of visits go on after a stop, where that is not known
	reachPrice  = 0.15 // lying nearer to the middle, or to the edges, than the field does
	offsetLimit = 0.12 // how far off the centre the mean place may lie, as a share of the field's extent
	offsetPrice = 60   // what more costs
	apart       = 0.5  // how far apart stops lie, as a share of the side of a square of the area that each of all stops stands for
	crowdPrice  = 3    // what two stops at one place cost
)

// ends returns the chance that a visit ends with each stop.
func (o Options) ends() []float64 {
	ends := make([]float64, o.Last)
	if copy(ends, o.Ends) > 0 {
		return ends
	}
	left := 1.0
	for k := o.First - 1; k < o.Last; k++ {
		ends[k] = left * (1 - fading)
		left *= fading
	}
	return ends
}

// How hard the search tries.
const (
	starts = 3
	sweeps = 6
)

// Lay lays out the stops of one visit. The start is drawn at random: another
// visit of the same field walks another route, and the same numbers give the
// same one.
//
// Stops are chosen so that every beginning of the route from First on is spread
// like the field itself, against the metres walked. How far a beginning is from
// that tells the energy distance between its stops and the field (Szekely, G.J. &
// Rizzo, M.L. 2013, Energy statistics: a class of statistics based on distances.
// J. Stat. Plan. Inference 143: 1249-1272) with [unlike] for the distance
// (Sejdinovic, D. et al. 2013, Equivalence of distance-based and RKHS-based
// statistics in hypothesis testing. Ann. Stat. 41: 2263-2291). It is the variance
// of the mean over the stops about the field's mean, where places differ so.
func (g *Ground) Lay(o Options, r *rand.Rand) (Route, error) {
	if o.First < 1 || o.Last < o.First || o.Last > 1000 {
		return Route{}, fmt.Errorf("layout: stops %d to %d; accepted: 1 or more, the first verdict not after the last stop, up to 1000", o.First, o.Last)
	}
	if o.From == nil {
		p := g.entrance(r)
		o.From = &p
	}
	var all [starts]*search
	var wg sync.WaitGroup
	for i := range all {
		all[i] = g.drawn(o, r)
		wg.Go(all[i].run)
	}
	wg.Wait()
	best := slices.MinFunc(all[:], func(a, b *search) int { return cmp.Compare(a.total(), b.total()) })
	return best.route(r), nil
}

// route turns the places into stops, each anywhere in the square its place stands
// for that is far enough from the edge.
func (s *search) route(r *rand.Rand) Route {
	out := Route{From: *s.o.From}
	var sum orb.Point
	here := out.From
	for k, a := range s.chosen {
		p := s.g.near(s.g.at[a], r)
		stop := Stop{At: p, Metres: math.Hypot(p[0]-here[0], p[1]-here[1])}
		here = p
		out.Metres += stop.Metres
		out.Stops = append(out.Stops, stop)
		sum[0] += p[0]
		sum[1] += p[1]
		if k+1 >= s.o.First {
			n := float64(k + 1)
			out.Offset = math.Max(out.Offset, s.g.offset(orb.Point{sum[0] / n, sum[1] / n}))
		}
	}
	return out
}

// near draws a place in the square around p that stops may lie in.
func (g *Ground) near(p orb.Point, r *rand.Rand) orb.Point {
	for range 20 {
		q := orb.Point{p[0] + g.cell*(r.Float64()-0.5), p[1] + g.cell*(r.Float64()-0.5)}
		if g.Field.Contains(q) && g.Field.ToEdge(q) >= g.Margin {
			return q
		}
	}
	return p
}

// entrance draws a place on the outline.
func (g *Ground) entrance(r *rand.Rand) orb.Point {
	ring := g.Field.Shape[0]
	left := planar.Length(ring) * r.Float64()
	for i := 1; i < len(ring); i++ {
		side := planar.Distance(ring[i-1], ring[i])
		if left <= side && side > 0 {
			t := left / side
			return orb.Point{ring[i-1][0] + t*(ring[i][0]-ring[i-1][0]), ring[i-1][1] + t*(ring[i][1]-ring[i-1][1])}
		}
		left -= side
	}
	return ring[0] // rounding
}
