package layout

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/paulmach/orb"
)

// total is what the whole route costs.
func (s *search) total() float64 {
	c, mean, pairs, far := 0.0, 0.0, 0.0, 0.0
	var sum orb.Point
	for k, a := range s.chosen {
		if k > 0 {
			c += s.leg[k] * s.walk(s.chosen[k-1], a)
		} else {
			c += s.leg[k] * s.from(a)
		}
		mean += s.g.mean[a]
		far += s.g.far[a]
		sum[0] += s.g.at[a][0]
		sum[1] += s.g.at[a][1]
		for _, b := range s.chosen[:k] {
			pairs += 2 * s.g.between(a, b)
			c += s.crowd(a, b)
		}
		if w := s.weight[k]; w > 0 {
			n := float64(k + 1)
			c += w * (s.spread(n, mean, pairs) + s.reach(n, far) + s.offset(orb.Point{sum[0] / n, sum[1] / n}))
		}
	}
	return c
}

// reorder walks parts of the route the other way round, and single stops at
// another time, where that makes the whole better; it reports whether it did.
func (s *search) reorder() bool {
	changed := false
	now := s.total() - 1e-9
	try := func(change, back func()) {
		change()
		if c := s.total(); c < now {
			now, changed = c-1e-9, true
		} else {
			back()
		}
	}
	for i := range s.chosen {
		for j := i + 1; j < len(s.chosen); j++ {
			turn := func() { slices.Reverse(s.chosen[i : j+1]) }
			try(turn, turn)
			try(func() { shift(s.chosen, i, j) }, func() { shift(s.chosen, j, i) })
			try(func() { shift(s.chosen, j, i) }, func() { shift(s.chosen, i, j) })
		}
	}
	return changed
}

// shift moves the entry at i to j, the others closing up.
func shift(p []int, i, j int) {
	x := p[i]
	if i < j {
		copy(p[i:j], p[i+1:j+1])
	} else {
		copy(p[j+1:i+1], p[j:i])
	}
	p[j] = x
}

// A search holds the stops chosen so far, as numbers of places.
type search struct {
	g      *Ground
	o      Options
	chosen []int
	weight []float64 // of the beginning that ends with each stop, 0 before First
	leg    []float64 // of the walk to each stop
	scale  float64   // metres that count as one unit of walking
	apart  float64   // metres that stops lie apart, so as not to see the same plants' neighbours again
}

func newSearch(g *Ground, o Options) *search {
	s := &search{g: g, o: o, scale: math.Sqrt(g.Field.Area())}
	s.apart = apart * s.scale / math.Sqrt(float64(o.Last))
	ends, left := o.ends(), 1.0
	for k := range o.Last { // a walk counts by the visits that take it, a beginning by those that end there
		s.leg = append(s.leg, math.Max(leastLeg, left))
		left -= ends[k]
		w := 0.0
		if k+1 >= o.First {
			w = math.Max(leastWeight, endWeight*ends[k])
		}
		s.weight = append(s.weight, w)
	}
	return s
}

// begin chooses the first stops together: from places drawn at random, each is
// moved in turn to the place where the whole is best.
func (s *search) begin(r *rand.Rand) {
	for range s.o.First {
		s.chosen = append(s.chosen, r.IntN(len(s.g.at)))
	}
	for range 8 {
		if !s.sweep() {
			break
		}
	}
}

// add appends the stop that is best as the next one.
func (s *search) add() {
	best, at := math.Inf(1), 0
	s.chosen = append(s.chosen, 0)
	last := len(s.chosen) - 1
	for i := range s.g.at {
		s.chosen[last] = i
		if c := s.costOf(last); c < best {
			best, at = c, i
		}
	}
	s.chosen[last] = at
}

// sweep moves every stop in turn to where the route is best with the others held,
// and reports whether any moved.
func (s *search) sweep() bool {
	moved := false
	for j := range s.chosen {
		t := s.table(j)
		was := s.chosen[j]
		best, at := t.cost(was)-1e-9, was
		for i := range s.g.at {
			if c := t.cost(i); c < best {
				best, at = c, i
			}
		}
		s.chosen[j] = at
		moved = moved || at != was
	}
	return moved
}

// costOf is what the beginning that ends with stop k (from 0) and the way to it
// cost.
func (s *search) costOf(k int) float64 {
	c := 0.0
	if k > 0 {
		c = s.leg[k] * s.walk(s.chosen[k-1], s.chosen[k])
	} else {
		c = s.leg[k] * s.from(s.chosen[0])
	}
	for _, a := range s.chosen[:k] {
		c += s.crowd(a, s.chosen[k])
	}
	if s.weight[k] == 0 {
		return c
	}
	n := float64(k + 1)
	mean, pairs, far := 0.0, 0.0, 0.0
	var centre orb.Point
	for i, a := range s.chosen[:k+1] {
		mean += s.g.mean[a]
		far += s.g.far[a]
		centre[0] += s.g.at[a][0] / n
		centre[1] += s.g.at[a][1] / n
		for _, b := range s.chosen[:i] {
			pairs += 2 * s.g.between(a, b)
		}
	}
	return c + s.weight[k]*(s.spread(n, mean, pairs)+s.reach(n, far)+s.offset(centre))
}

// spread is the energy distance of n stops from the field in units of what stops
// at random have on average, whatever n is.
func (s *search) spread(n, mean, pairs float64) float64 {
	return n * (2*mean/n - pairs/(n*n) - s.g.even) / s.g.even
}

// reach is how far n stops are from lying as near to the middle and to the edges
// as the field does, in the same units.
func (s *search) reach(n, far float64) float64 {
	off := far/n - s.g.farMean
	return reachPrice * n * off * off / s.g.farVariance
}

// offset prices a mean place too far from the field's centre.
func (s *search) offset(mean orb.Point) float64 {
	g := s.g
	x, y := mean[0]-g.Centre[0], mean[1]-g.Centre[1]
	if limit := offsetLimit * g.Reach; x*x+y*y <= limit*limit { // most are; no root for them
		return 0
	}
	return offsetPrice * (g.offset(mean) - offsetLimit)
}

// offset returns the distance of a place from the field's centre as a share of
// its extent.
func (g *Ground) offset(p orb.Point) float64 {
	return math.Hypot(p[0]-g.Centre[0], p[1]-g.Centre[1]) / g.Reach
}

// crowd prices two stops that lie too near to each other.
func (s *search) crowd(a, b int) float64 {
	p, q := s.g.at[a], s.g.at[b]
	x, y := p[0]-q[0], p[1]-q[1]
	if d := x*x + y*y; d < s.apart*s.apart {
		return crowdPrice * (1 - math.Sqrt(d)/s.apart)
	}
	return 0
}

func (s *search) walk(a, b int) float64 {
	p, q := s.g.at[a], s.g.at[b]
	return walkWeight * math.Hypot(p[0]-q[0], p[1]-q[1]) / s.scale
}

func (s *search) from(a int) float64 {
	p, q := *s.o.From, s.g.at[a]
	return walkWeight * math.Hypot(p[0]-q[0], p[1]-q[1]) / s.scale
}

// A moving stop: what the cost is as a function of its place, the others held.
type moving struct {
	s    *search
	j    int
	rest []begun
}

// begun is what a beginning of the route holds beside the moving stop.
type begun struct {
	n, mean, pairs, far float64
	sum                 orb.Point
}

func (s *search) table(j int) moving {
	t := moving{s: s, j: j}
	var b begun
	for k, a := range s.chosen {
		if k != j {
			b.mean += s.g.mean[a]
			b.far += s.g.far[a]
			b.sum[0] += s.g.at[a][0]
			b.sum[1] += s.g.at[a][1]
			for i, c := range s.chosen[:k] {
				if i != j {
					b.pairs += 2 * s.g.between(a, c)
				}
			}
		}
		b.n = float64(k + 1)
		t.rest = append(t.rest, b)
	}
	return t
}

// cost returns what the route costs with the moving stop at place i, as far as
// that depends on it.
func (t moving) cost(i int) float64 {
	s, g, j := t.s, t.s.g, t.j
	c := 0.0
	if j > 0 {
		c += s.leg[j] * s.walk(s.chosen[j-1], i)
	} else {
		c += s.leg[0] * s.from(i)
	}
	if j+1 < len(s.chosen) {
		c += s.leg[j+1] * s.walk(i, s.chosen[j+1])
	}
	p, pairs := g.at[i], 0.0
	for k, a := range s.chosen {
		if k != j {
			pairs += 2 * g.between(i, a)
			c += s.crowd(i, a)
		}
		if k < j || s.weight[k] == 0 {
			continue
		}
		b := t.rest[k]
		mean := orb.Point{(b.sum[0] + p[0]) / b.n, (b.sum[1] + p[1]) / b.n}
		c += s.weight[k] * (s.spread(b.n, b.mean+g.mean[i], b.pairs+pairs) + s.reach(b.n, b.far+g.far[i]) + s.offset(mean))
	}
	return c
}
