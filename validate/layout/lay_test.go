package layout

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// shortestTour is the length of a short closed tour through stops, by two-opt and
// moves of single stops from several orders: an upper bound of the shortest one.
func shortestTour(stops []orb.Point, r *rand.Rand) float64 {
	d := func(a, b orb.Point) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }
	n := len(stops)
	length := func(p []int) float64 {
		sum := 0.0
		for i := range p {
			sum += d(stops[p[i]], stops[p[(i+1)%n]])
		}
		return sum
	}
	best := math.Inf(1)
	for range 12 {
		p := r.Perm(n)
		for improved := true; improved; {
			improved = false
			for i := range n {
				for j := i + 1; j < n; j++ {
					q := append([]int(nil), p...)
					for a, b := i, j; a < b; a, b = a+1, b-1 {
						q[a], q[b] = q[b], q[a]
					}
					if length(q) < length(p)-1e-9 {
						p, improved = q, true
					}
					q = append([]int(nil), p[:i]...)
					q = append(q, p[i+1:]...)
					q = append(q[:j], append([]int{p[i]}, q[j:]...)...)
					if length(q) < length(p)-1e-9 {
						p, improved = q, true
					}
				}
			}
		}
		best = math.Min(best, length(p))
	}
	return best
}

// drawPolygon draws a field of 4 to 60 ha: a star-shaped outline of 5 to 12
// corners, long or compact, sometimes with a hole.
func drawPolygon(r *rand.Rand) Field {
	n := 5 + r.IntN(8)
	long := 1 + 2*r.Float64()
	var ring orb.Ring
	for i := range n {
		a := 2 * math.Pi * (float64(i) + 0.6*r.Float64()) / float64(n)
		sin, cos := math.Sincos(a)
		radius := 0.55 + 0.45*r.Float64()
		ring = append(ring, orb.Point{long * radius * cos, radius * sin})
	}
	ring = append(ring, ring[0])
	f := Field{Shape: orb.Polygon{ring}}
	if r.IntN(3) == 0 {
		x, y := 0.2*r.Float64(), 0.2*r.Float64()
		f.Shape = append(f.Shape, orb.Ring{{x, y}, {x, y + .12}, {x + .2, y + .12}, {x + .2, y}, {x, y}})
	}
	hectares := 4 * math.Pow(15, r.Float64())
	by := math.Sqrt(hectares * 1e4 / f.Area())
	b := f.Shape.Bound()
	for _, ring := range f.Shape {
		for i := range ring {
			ring[i] = orb.Point{(ring[i][0] - b.Left()) * by, (ring[i][1] - b.Bottom()) * by}
		}
	}
	return f
}

// manyFields is how many fields are drawn; 100 take half a minute.
var manyFields = flag.Int("fields", 8, "fields that TestLayInManyFields draws")

// Every stop lies inside and off the edge, every beginning of the route on which
// a verdict can come is balanced, and the walk is not much longer than the
// shortest tour through its stops.
func TestLayInManyFields(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	fields := *manyFields
	worstOffset, sumTour := 0.0, 0.0
	for i := range fields {
		f := drawPolygon(r)
		g, err := NewGround(f, 0)
		if err != nil {
			t.Fatal(err)
		}
		rt, err := g.Lay(Options{First: 3 + r.IntN(3), Last: 26}, r)
		if err != nil {
			t.Fatal(err)
		}
		var stops []orb.Point
		for _, s := range rt.Stops {
			stops = append(stops, s.At)
			if !f.Contains(s.At) || f.ToEdge(s.At) < g.Margin-1e-9 {
				t.Errorf("field %d: stop %v lies outside, or %.1f m from the edge", i, s.At, f.ToEdge(s.At))
			}
		}
		ratio := (rt.Metres - rt.Stops[0].Metres) / shortestTour(stops, r)
		worstOffset = math.Max(worstOffset, rt.Offset)
		sumTour += ratio / float64(fields)
		// In a long field the shortest tour goes up and down once; every beginning of
		// a balanced route has been at both ends, which takes a third passage.
		most := 1.3
		if long := math.Max(g.spread[0], g.spread[1]) / math.Min(g.spread[0], g.spread[1]); long > 1.5 {
			most = 1.6
		}
		if ratio > most {
			t.Errorf("field %d (%.1f ha, spread %.0f x %.0f m): the walk is %.3f times a short tour", i, f.Area()/1e4, g.spread[0], g.spread[1], ratio)
		}
	}
	t.Logf("worst offset %.3f, walks on average %.3f of a short tour", worstOffset, sumTour)
	if worstOffset > 0.15 {
		t.Errorf("a mean place is %.3f of the extent off the centre", worstOffset)
	}
}

// The same numbers lay out the same stops; other ones start elsewhere.
func TestLayIsDrawn(t *testing.T) {
	f, err := Rectangle(775, 516)
	if err != nil {
		t.Fatal(err)
	}
	g, err := NewGround(f, 0)
	if err != nil {
		t.Fatal(err)
	}
	var routes [4]Route
	for i, seed := range []uint64{1, 1, 2, 3} {
		if routes[i], err = g.Lay(Options{First: 4, Last: 12}, rand.New(rand.NewPCG(seed, 1))); err != nil {
			t.Fatal(err)
		}
	}
	if d := cmp.Diff(routes[0], routes[1]); d != "" {
		t.Error(d)
	}
	for i := 2; i < 4; i++ {
		for j := range i {
			a, b := routes[i].Stops[0].At, routes[j].Stops[0].At
			if planar.Distance(a, b) < 1 {
				t.Errorf("two visits start at %v and %v", a, b)
			}
		}
	}
}

// In a field that two parts make up (L-shaped: 600 x 200 and 200 x 400 m more; the
// middle of the box lies outside) the beginnings go to both, and metres are those
// between the stops.
func TestLayInAnL(t *testing.T) {
	f := Field{Shape: orb.Polygon{{{0, 0}, {600, 0}, {600, 200}, {200, 200}, {200, 600}, {0, 600}, {0, 0}}}}
	g, err := NewGround(f, 0)
	if err != nil {
		t.Fatal(err)
	}
	// The centroid by hand: (120000*300 + 80000*100)/200000 = 220, both ways.
	if math.Hypot(g.Centre[0]-220, g.Centre[1]-220) > 5 {
		t.Errorf("centre %v, by hand 220, 220", g.Centre)
	}
	gate := orb.Point{600, 0}
	for seed := range uint64(4) {
		rt, err := g.Lay(Options{First: 4, Last: 10, From: &gate}, rand.New(rand.NewPCG(seed, 2)))
		if err != nil {
			t.Fatal(err)
		}
		east, north, sum, here := 0, 0, 0.0, gate
		for i, s := range rt.Stops {
			if math.Abs(s.Metres-planar.Distance(here, s.At)) > 1e-9 {
				t.Errorf("stop %d: %v m from %v to %v", i+1, s.Metres, here, s.At)
			}
			here = s.At
			sum += s.Metres
			if i < 4 && s.At[0] > 200 {
				east++
			}
			if i < 4 && s.At[1] > 200 {
				north++
			}
		}
		if east == 0 || north == 0 || math.Abs(sum-rt.Metres) > 1e-9 {
			t.Errorf("seed %d: %d of the first four stops in the east, %d in the north; %v m, by sum %v", seed, east, north, rt.Metres, sum)
		}
	}
}

func TestLayErrors(t *testing.T) {
	f, _ := Rectangle(200, 100)
	g, err := NewGround(f, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range []Options{{}, {First: 5, Last: 4}, {First: 1, Last: 1001}} {
		if _, err := g.Lay(o, rand.New(rand.NewPCG(1, 1))); err == nil {
			t.Errorf("%+v: no error", o)
		}
	}
	for _, size := range [][2]float64{{29, 100}, {100, math.NaN()}, {10001, 100}, {math.Inf(1), 50}} {
		if _, err := Rectangle(size[0], size[1]); err == nil {
			t.Errorf("%v: no error", size)
		}
	}
	for _, margin := range []float64{-1, math.Inf(1), math.NaN()} {
		if _, err := NewGround(f, margin); err == nil {
			t.Errorf("margin %v: no error", margin)
		}
	}
}

// A field of 40 m across has no room for the usual margin twice: stops keep off
// its edges as far as leaves half of it.
func TestNarrowField(t *testing.T) {
	f, _ := Rectangle(900, 40)
	g, err := NewGround(f, 0)
	if err != nil {
		t.Fatal(err)
	}
	if g.Margin >= Margin || g.Margin < 5 {
		t.Errorf("margin %v", g.Margin)
	}
	rt, err := g.Lay(Options{First: 3, Last: 8}, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range rt.Stops {
		if !f.Contains(s.At) || f.ToEdge(s.At) < g.Margin {
			t.Errorf("stop at %v", s.At)
		}
	}
}

func BenchmarkLay(b *testing.B) {
	f, _ := Rectangle(775, 516)
	g, _ := NewGround(f, 0)
	r := rand.New(rand.NewPCG(1, 1))
	for b.Loop() {
		g.Lay(Options{First: 3, Last: 26}, r)
	}
}
