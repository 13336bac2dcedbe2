package search

import "math"

// fineGrid returns how many intervals the fine grid has in one direction: 320
// where a stop can tell up to 26 things, fewer for more.
func fineGrid(counts int) int {
	return int(320 * math.Sqrt(26/float64(max(26, counts))))
}

// A simplex is a grid over the ratios of the three likelihoods, whose lines are
// straight in them: node (a, b) has L0 : L1 = t_a : 1-t_a and Lm = v_b of the
// sum. The inner v_b are evenly spaced in their log odds, and a count moves all nodes of
// a line by the same log odds, to places between the same two lines. So how a count
// moves a line is worked out once, and a line's values are sums over runs of others.
type simplex struct {
	t, v   []float64
	shifts []shift // by line, then by count
	each   int     // counts per line
	first  [3][]float64
}

// A shift says where a count takes a line: between which two lines, how many cells
// towards the middle world, and what L0 + L1 and Lm are multiplied by, in parts for the
// two lines.
type shift struct {
	line, cells                        int
	outer, outerFar, middle, middleFar float64
}

// logOdds is how far out the grid is fine: further out hardly
// anybody walks on, and where nobody does the cost to go is a straight line and
// interpolation exact.
const logOdds = 5

func odds(n int) []float64 {
	x := make([]float64, n+1)
	for i := 1; i < n; i++ {
		x[i] = 1 / (1 + math.Exp(-logOdds*(2*float64(i-1)/float64(n-2)-1)))
	}
	x[n] = 1
	return x
}

// cell returns the interval of odds(n) that x lies in and how far along it is.
func cell(x float64, grid []float64) (int, float64) {
	n := len(grid) - 1
	i := 0
	if x > 0 && x < 1 {
		u := (math.Log(x)-math.Log1p(-x))/logOdds + 1
		i = int(math.Floor(u/2*float64(n-2))) + 1
	} else if x >= 1 {
		i = n - 1
	}
	i = max(0, min(i, n-1))
	for i > 0 && grid[i] > x { // rounding in the logarithms
		i--
	}
	for i < n-1 && grid[i+1] < x {
		i++
	}
	return i, clamp((x-grid[i])/(grid[i+1]-grid[i]), 0, 1)
}

func newSimplex(f [3][]float64, nt, nv int) *simplex {
	g := &simplex{t: odds(nt), v: odds(nv), each: len(f[0]), first: f}
	perCell := 2 * logOdds / float64(nv-2)
	g.shifts = make([]shift, 0, len(g.t)*g.each)
	for _, t := range g.t {
		for x := range g.each {
			outer, m := t*f[0][x]+(1-t)*f[2][x], f[1][x]
			var s shift
			if outer > 0 {
				var along float64
				s.line, along = cell(t*f[0][x]/outer, g.t)
				s.outer, s.outerFar = outer*(1-along), outer*along
				s.middle, s.middleFar = m*(1-along), m*along
			} else {
				s.middle = m
			}
			if outer+m > 0 {
				s.cells = int(math.Floor(clamp((math.Log(m)-math.Log(outer))/perCell, -float64(nv), float64(nv))))
			}
			g.shifts = append(g.shifts, s)
		}
	}
	return g
}

// A surface holds the values of the nodes of a simplex, as what is interpolated between
// them: along a line the value is linear in each cell, with one value where Lm is 0
// and one where Lm is all. The first and last cells are repeated beyond the ends.
type surface struct {
	outer, middle []float64
	width         int
}

func (g *simplex) cells() int { return len(g.v) - 1 }

func (g *simplex) newSurface() *surface {
	w := 3 * g.cells()
	return &surface{make([]float64, len(g.t)*w), make([]float64, len(g.t)*w), w}
}

// line returns the cells of a line from one on.
func (s *surface) line(a, from, n int) (outer, middle []float64) {
	at := a*s.width + s.width/3 + from
	return s.outer[at : at+n], s.middle[at : at+n]
}

// set gives the nodes of a line up to one their values.
func (s *surface) set(a int, g *simplex, values []float64, to int) {
	n := g.cells()
	outer, middle := s.line(a, -n, 3*n)
	for i, v := range g.v[:to] {
		slope := (values[i+1] - values[i]) / (g.v[i+1] - v)
		outer[n+i] = values[i] - v*slope
		middle[n+i] = values[i] + (1-v)*slope
	}
	for i := range n {
		outer[i], middle[i] = outer[n], middle[n]
	}
	if to == n {
		for i := 2 * n; i < 3*n; i++ {
			outer[i], middle[i] = outer[2*n-1], middle[2*n-1]
		}
	}
}

// at returns the interpolated value.
func (s *surface) at(g *simplex, l0, lm, l1 float64) float64 {
	if l0+lm+l1 == 0 {
		return 0
	}
	t := 0.5
	if l0+l1 > 0 {
		t = l0 / (l0 + l1)
	}
	a, along := cell(t, g.t)
	b, _ := cell(lm/(l0+lm+l1), g.v)
	nearOuter, nearMiddle := s.line(a, b, 1)
	farOuter, farMiddle := s.line(a+1, b, 1)
	return (1-along)*((l0+l1)*nearOuter[0]+lm*nearMiddle[0]) + along*((l0+l1)*farOuter[0]+lm*farMiddle[0])
}

func (g *simplex) likelihoods(a, b int) [3]float64 {
	t, v := g.t[a], g.v[b]
	return [3]float64{(1 - v) * t, v, (1 - v) * (1 - t)}
}
