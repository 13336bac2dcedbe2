package layout

import (
	"math"
	"math/rand/v2"
	"slices"

	"github.com/paulmach/orb"
	"gonum.org/v1/gonum/floats"
)

// A beginning of a route: what is added up over its stops.
type beginning struct {
	mean, far, pairs float64
	sum              orb.Point
}

// add adds a stop; pairs is twice how unlike it is to those before it.
func (b *beginning) add(g *Ground, a int, pairs float64) {
	b.mean += g.mean[a]
	b.far += g.far[a]
	b.pairs += pairs
	b.sum[0] += g.at[a][0]
	b.sum[1] += g.at[a][1]
}

// total is what the whole route costs.
func (s *search) total() float64 {
	c := 0.0
	var b beginning
	for k, a := range s.chosen {
		c += s.way(k)
		b.add(s.g, a, 0)
		for _, o := range s.chosen[:k] {
			b.pairs += 2 * s.g.between(a, o)
			c += s.crowd(a, o)
		}
		c += s.imbalance(k, &b)
	}
	return c
}

// way is what the walk to stop k (from 0) costs.
func (s *search) way(k int) float64 {
	if k == 0 {
		return s.leg[0] * s.from(s.chosen[0])
	}
	return s.leg[k] * s.walk(s.chosen[k-1], s.chosen[k])
}

// imbalance is what the beginning that ends with stop k costs.
func (s *search) imbalance(k int, b *beginning) float64 {
	w := s.weight[k]
	if w == 0 {
		return 0
	}
	n := float64(k + 1)
	return w * (s.spread(n, b.mean, b.pairs) + s.reach(n, b.far) + s.offset(orb.Point{b.sum[0] / n, b.sum[1] / n}))
}

// rounding is more than two ways to add the same up can differ by.
const rounding = 1e-7

// reorder walks parts of the route the other way round, and single stops at
// another time, where that makes the whole better; it reports whether it did.
func (s *search) reorder() bool {
	changed := false
	now := s.total() - 1e-9
	var old float64
	try := func(i, j int, change, back func()) {
		change()
		// Most changes are none for the better, as what they touch shows alone.
		if part := s.part(i, j, old+rounding); part <= old+rounding {
			if c := s.total(); c < now {
				now, old, changed = c-1e-9, part, true
				return
			}
		}
		back()
	}
	clear(s.before)
	s.head = beginning{}
	for i := range s.chosen {
		for j := i + 1; j < len(s.chosen); j++ {
			turn := func() { slices.Reverse(s.chosen[i : j+1]) }
			old = s.part(i, j, math.Inf(1))
			try(i, j, turn, turn)
			try(i, j, func() { shift(s.chosen, i, j) }, func() { shift(s.chosen, j, i) })
			try(i, j, func() { shift(s.chosen, j, i) }, func() { shift(s.chosen, i, j) })
		}
		a := s.chosen[i]
		s.head.add(s.g, a, s.before[a])
		floats.AddScaled(s.before, 2, s.g.gapsOf(a))
	}
	return changed
}

// part is what depends on the order of the stops i to j: the walks to them and on, and
// the beginnings that end between them. Nothing in it is below 0, so that it may end
// where it is above most. head and before hold what stands before stop i.
func (s *search) part(i, j int, most float64) float64 {
	c, b := 0.0, s.head
	for k := i; k <= j; k++ {
		c += s.way(k)
		if k < j {
			a := s.chosen[k]
			pairs := 0.0
			gaps := s.g.gapsOf(a)
			for _, o := range s.chosen[i:k] {
				pairs += gaps[o]
			}
			b.add(s.g, a, s.before[a]+2*pairs)
			c += s.imbalance(k, &b)
		}
		if c > most {
			return c
		}
	}
	if j+1 < len(s.chosen) {
		c += s.way(j + 1)
	}
	return c
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
	radius float64   // of the places about the centre

	head   beginning // before the stop that reorder is at
	before []float64 // of each place, twice how unlike the stops of head are to it
	costs  []float64 // of each place, what costsOf returns
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
	for _, p := range g.at {
		s.radius = math.Max(s.radius, math.Hypot(p[0]-g.Centre[0], p[1]-g.Centre[1]))
	}
	s.before, s.costs = make([]float64, len(g.at)), make([]float64, len(g.at))
	return s
}

// drawn returns a search that begins with places drawn at random.
func (g *Ground) drawn(o Options, r *rand.Rand) *search {
	s := newSearch(g, o)
	for range o.First {
		s.chosen = append(s.chosen, r.IntN(len(g.at)))
	}
	return s
}

// run chooses the first stops together, each moved in turn to the place where the
// whole is best, then one after the other; then all are moved and put in order.
func (s *search) run() {
	for range 8 {
		if !s.sweep() {
			break
		}
	}
	for k := len(s.chosen); k < s.o.Last; k++ {
		s.chosen = append(s.chosen, 0)
		s.chosen[k] = floats.MinIdx(s.costsOf(k))
	}
	for range sweeps {
		moved := s.reorder()
		if !s.sweep() && !moved {
			break
		}
	}
}

// sweep moves every stop in turn to where the route is best with the others held,
// and reports whether any moved.
func (s *search) sweep() bool {
	moved := false
	for j, was := range s.chosen {
		costs := s.costsOf(j)
		if at := floats.MinIdx(costs); costs[at] < costs[was]-1e-9 {
			s.chosen[j], moved = at, true
		}
	}
	return moved
}

// costsOf returns what the route costs with stop j (from 0) at each of the places, as
// far as that depends on it. All but the price of a mean place off the centre is a
// sum over the other stops of how unlike they are to the place, and a polynomial in
// how far out it is.
func (s *search) costsOf(j int) []float64 {
	g, costs := s.g, s.costs
	last := len(s.chosen) - 1
	// Of all beginnings that hold stop j: what counts how unlike the place is to the
	// field, to stop k, and how far out it is, once and squared.
	toField, out, out2 := 0.0, 0.0, 0.0
	toStop := make([]float64, last+1)
	far, sum := 0.0, orb.Point{}
	var shifts []shifted
	for k, a := range s.chosen {
		if k != j {
			far += g.far[a]
			sum[0] += g.at[a][0]
			sum[1] += g.at[a][1]
		}
		w := s.weight[k]
		if k < j || w == 0 {
			continue
		}
		n := float64(k + 1)
		toField += 2 * w / g.even
		toStop[k] = 2 * w / (n * g.even)
		price := w * reachPrice / g.farVariance
		out += 2 * price * (far/n - g.farMean)
		out2 += price / n
		// Without stop j the mean place would lie so far off, were that at the centre.
		x, y := sum[0]-(n-1)*g.Centre[0], sum[1]-(n-1)*g.Centre[1]
		if math.Hypot(x, y)+s.radius > n*offsetLimit*g.Reach {
			shifts = append(shifts, shifted{n, w, sum})
		}
	}
	for i := range costs {
		c := 0.0
		if j > 0 {
			c = s.leg[j] * s.walk(s.chosen[j-1], i)
		} else {
			c = s.leg[0] * s.from(i)
		}
		if j < last {
			c += s.leg[j+1] * s.walk(i, s.chosen[j+1])
		}
		costs[i] = c + toField*g.mean[i] + g.far[i]*(out+out2*g.far[i])
	}
	beyond := 0.0
	for k := last; k >= 0; k-- {
		beyond += toStop[k]
		if a := s.chosen[k]; k != j {
			floats.AddScaled(costs, -beyond, g.gapsOf(a))
			for i, p := range g.at {
				if math.Abs(p[1]-g.at[a][1]) < s.apart {
					costs[i] += s.crowd(i, a)
				}
			}
		}
	}
	for _, b := range shifts {
		for i, p := range g.at {
			costs[i] += b.weight * s.offset(orb.Point{(b.sum[0] + p[0]) / b.n, (b.sum[1] + p[1]) / b.n})
		}
	}
	return costs
}

// shifted is a beginning of which the mean place can lie too far off the centre.
type shifted struct {
	n, weight float64
	sum       orb.Point // without the moving stop
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
	d, limit := x*x+y*y, offsetLimit*g.Reach
	if d <= limit*limit { // most are; no root for them
		return 0
	}
	return offsetPrice * (math.Sqrt(d)/g.Reach - offsetLimit)
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

func (s *search) walk(a, b int) float64 { return s.metres(s.g.at[a], s.g.at[b]) }

func (s *search) from(a int) float64 { return s.metres(*s.o.From, s.g.at[a]) }

// metres is what walking from place to place costs.
func (s *search) metres(p, q orb.Point) float64 {
	x, y := p[0]-q[0], p[1]-q[1]
	return walkWeight * math.Sqrt(x*x+y*y) / s.scale
}
