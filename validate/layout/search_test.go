package layout

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// What a stop costs at each place, and what an order of stops costs, differ between
// two routes as the whole routes do, which are added up pair by pair.
func TestCostsAreThoseOfTheWhole(t *testing.T) {
	f, _ := Rectangle(600, 350)
	g, err := NewGround(f, 0)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(3, 4))
	from := g.entrance(r)
	for range 30 {
		first := 1 + r.IntN(4)
		o := Options{First: first, Last: first + 1 + r.IntN(14), From: &from}
		s := g.drawn(o, r)
		for len(s.chosen) < o.Last { // near to each other or far off the centre as well
			s.chosen = append(s.chosen, r.IntN(len(g.at)/(1+r.IntN(4))))
		}
		n := len(s.chosen)
		j := r.IntN(n)
		costs := slices.Clone(s.costsOf(j))
		was, whole := s.chosen[j], s.total()
		for range 20 {
			s.chosen[j] = r.IntN(len(g.at))
			if got, want := costs[s.chosen[j]]-costs[was], s.total()-whole; math.Abs(got-want) > 1e-8 {
				t.Fatalf("stop %d of %d: %v more, the whole route %v", j, n, got, want)
			}
		}
		whole = s.total()
		i := r.IntN(n - 1)
		k := i + 1 + r.IntN(n-1-i)
		s.head = beginning{}
		for at := range s.before {
			s.before[at] = 0
			for _, o := range s.chosen[:i] {
				s.before[at] += 2 * g.between(at, o)
			}
		}
		for m, a := range s.chosen[:i] {
			pairs := 0.0
			for _, o := range s.chosen[:m] {
				pairs += 2 * g.between(a, o)
			}
			s.head.add(g, a, pairs)
		}
		old := s.part(i, k, math.Inf(1))
		slices.Reverse(s.chosen[i : k+1])
		if got, want := s.part(i, k, math.Inf(1))-old, s.total()-whole; math.Abs(got-want) > rounding/10 {
			t.Fatalf("stops %d to %d of %d: %v more, the whole route %v", i, k, n, got, want)
		}
	}
}
