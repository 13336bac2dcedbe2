package validate

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// TestWalks: stops keep off the edge, lie on the route, and the way walked is
// never shorter than the straight line.
func TestWalkStops(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := GroundOf(rapid.Float64Range(5, 100).Draw(t, "ha"), 8, 50)
		route := rapid.SampledFrom(Routes).Draw(t, "route")
		spacing := Spacing{Metres: rapid.Float64Range(0, 500).Draw(t, "spacing"), Fewest: rapid.IntRange(1, 5).Draw(t, "fewest"), Most: rapid.IntRange(5, 40).Draw(t, "most")}
		w, err := NewWalk(route, g, spacing, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		if err != nil {
			t.Fatal(err)
		}
		x, y := w.Gate()
		last := point{x, y}
		if (x != 0 && x != g.Length) || (y != 0 && y != g.Width) {
			t.Errorf("the gate is at %v, %v", x, y)
		}
		path := w.Path()
		for range 60 {
			p := w.Next()
			if p.X < Margin-1e-6 || p.X > g.Length-Margin+1e-6 || p.Y < Margin-1e-6 || p.Y > g.Width-Margin+1e-6 {
				t.Fatalf("a stop at %v, %v in a field of %v by %v", p.X, p.Y, g.Length, g.Width)
			}
			if d := distance(last, point{p.X, p.Y}); p.Metres < d-1e-6 {
				t.Fatalf("walked %v m over a distance of %v m", p.Metres, d)
			}
			if route != Random && route != Balanced && !on(path, p) {
				t.Fatalf("the stop at %v, %v is not on the route", p.X, p.Y)
			}
			last = point{p.X, p.Y}
		}
	})
}

func on(path []Place, p Place) bool {
	for i := 1; i < len(path); i++ {
		a, b, at := point{path[i-1].X, path[i-1].Y}, point{path[i].X, path[i].Y}, point{p.X, p.Y}
		if math.Abs(distance(a, at)+distance(at, b)-distance(a, b)) < 1e-6 {
			return true
		}
	}
	return false
}

// TestWalkSpacing: a route of 600 m with stops every 100 m has six on the way out,
// and those of the way back lie between them.
func TestWalkSpacing(t *testing.T) {
	g := Ground{Length: 340, Width: 120, Spots: 1, SpotRadius: 10}
	// Transect: 300 m out, 40 m across, 300 m back.
	w, err := NewWalk(Transect, g, Spacing{Metres: 100, Fewest: 1, Most: 99}, rand.New(rand.NewPCG(4, 4)))
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Path()) != 4 || math.Abs(w.length-640) > 1e-9 || math.Abs(w.spacing-640./6) > 1e-9 {
		t.Fatalf("length %v, spacing %v", w.length, w.spacing)
	}
	var stops []Place
	for range 12 {
		stops = append(stops, w.Next())
	}
	for _, p := range stops[1:6] {
		if math.Abs(p.Metres-640./6) > 1e-9 {
			t.Errorf("%v m between two stops", p.Metres)
		}
	}
	nearest := math.Inf(1)
	for _, out := range stops[:6] {
		for _, back := range stops[6:] {
			nearest = math.Min(nearest, distance(point{out.X, out.Y}, point{back.X, back.Y}))
		}
	}
	if nearest < 0.25*640/6 {
		t.Errorf("a stop of the way back lies %v m from one of the way out", nearest)
	}
	for _, c := range []struct {
		metres       float64
		fewest, most int
		want         float64
	}{{0, 1, 8, 80}, {1, 1, 8, 80}, {1e9, 4, 8, 160}, {64, 1, 99, 64}} {
		w, err := NewWalk(Transect, g, Spacing{Metres: c.metres, Fewest: c.fewest, Most: c.most}, rand.New(rand.NewPCG(1, 1)))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(w.spacing-c.want) > 1e-9 {
			t.Errorf("%+v: spacing %v", c, w.spacing)
		}
	}
}
