package layout

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
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

// Every stop lies inside and off the edge, every beginning of the route on which
// a verdict can come is balanced, and the walk is not much longer than the
// shortest tour through its stops.
func TestLayInManyFields(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	fields := 100
	if testing.Short() {
		fields = 10
	}
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
		ratio := rt.Metres / shortestTour(stops, r)
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

func BenchmarkLay(b *testing.B) {
	f, _ := Rectangle(775, 516)
	g, _ := NewGround(f, 0)
	r := rand.New(rand.NewPCG(1, 1))
	for b.Loop() {
		g.Lay(Options{First: 3, Last: 26}, r)
	}
}
