package plans

import (
	"math"

	"gonum.org/v1/gonum/optimize"

	"stopwise/sampling"
)

// lowerBound returns a number of weighted expected stops that no plan keeping
// both risks can beat, whatever it remembers of the stops: even one that knows
// each stop's own count. near are prices to start the search from.
//
// The state is (L0, Lm, L1), the likelihoods of all counts so far in the lower,
// the middle and the upper world. For prices l0, l1 the least cost to go is
//
//	V_j(L) = min(l0 L0, l1 L1, sum w_i L_i + sum_x V_j+1(L_i f_i(x)))
//
// which is concave and homogeneous of degree one, so interpolation between the
// nodes of a grid never exceeds it; V_0(1, 1, 1) - l0 alpha - l1 beta is a lower
// bound for any prices (weak duality), and it is maximised over them.
func (p *problem) lowerBound(near prices) float64 {
	coarse := newSimplex(p, 80, 40)
	price := func(x []float64) prices { return prices{math.Exp(x[0]), math.Exp(x[1])} }
	start := []float64{math.Log(near.needless), math.Log(near.missed)}
	result, err := optimize.Minimize(
		optimize.Problem{Func: func(x []float64) float64 { return -coarse.value(p, price(x)) }},
		start,
		&optimize.Settings{FuncEvaluations: 80},
		&optimize.NelderMead{SimplexSize: 0.3},
	)
	at := start
	if err == nil || result != nil {
		at = result.X
	}
	// Any prices give a valid bound; the fine grid only raises it.
	nt := fineGrid(p)
	fine := newSimplex(p, nt, nt/2)
	return math.Max(fine.value(p, price(at)), coarse.value(p, price(at)))
}

// fineGrid returns how many intervals the fine grid has in one direction: 320
// for stops of up to 25 plants, fewer for larger ones, so that the transitions
// take no more than about 60 megabytes.
func fineGrid(p *problem) int {
	counts := max(26, p.counts()+1)
	return int(320 * math.Sqrt(26/float64(counts)))
}

// counts returns the largest count of one stop that is told apart.
func (p *problem) counts() int {
	if p.bounded {
		return p.units
	}
	return p.top
}

// A simplex is a grid over the ratios of the three likelihoods, whose lines are
// straight in them: node (a, b) has L0 : L1 = t_a : 1-t_a and Lm = v_b of the
// sum. How one stop's count moves a node does not depend on the stop, so it is
// worked out once.
type simplex struct {
	t, v  []float64
	nodes int
	moves []transition // by node, then by count
	each  int          // counts per node
}

// A transition says where a count leads: the sum of the likelihoods, and the four
// nodes around their ratios with their weights times that sum.
type transition struct {
	node   [4]int32
	weight [4]float64
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

func newSimplex(p *problem, nt, nv int) *simplex {
	top := p.counts()
	var f [3][]float64
	for i, pop := range []sampling.Population{p.lower, p.middle, p.upper} {
		f[i] = pop.Stop(p.units).Probs(top)
	}
	g := &simplex{t: odds(nt), v: odds(nv), each: top + 1}
	g.nodes = len(g.t) * len(g.v)
	g.moves = make([]transition, g.nodes*g.each)
	inParallel(g.nodes, func(node int) {
		l := g.likelihoods(node)
		for x := range g.each {
			g.moves[node*g.each+x] = g.transition(l[0]*f[0][x], l[1]*f[1][x], l[2]*f[2][x])
		}
	})
	return g
}

func (g *simplex) likelihoods(node int) [3]float64 {
	t, v := g.t[node/len(g.v)], g.v[node%len(g.v)]
	return [3]float64{(1 - v) * t, v, (1 - v) * (1 - t)}
}

func (g *simplex) transition(l0, lm, l1 float64) transition {
	sum := l0 + lm + l1
	if sum == 0 {
		return transition{}
	}
	t := 0.5
	if l0+l1 > 0 {
		t = l0 / (l0 + l1)
	}
	a, fa := cell(t, g.t)
	b, fb := cell(lm/sum, g.v)
	n := int32(a*len(g.v) + b)
	w := int32(len(g.v))
	return transition{
		[4]int32{n, n + 1, n + w, n + w + 1},
		[4]float64{sum * (1 - fa) * (1 - fb), sum * (1 - fa) * fb, sum * fa * (1 - fb), sum * fa * fb},
	}
}

// value returns the dual value at the prices.
func (g *simplex) value(p *problem, pr prices) float64 {
	now, next := make([]float64, g.nodes), make([]float64, g.nodes)
	decide := func(l [3]float64) float64 { return math.Min(pr.needless*l[0], pr.missed*l[2]) }
	for node := range next {
		next[node] = decide(g.likelihoods(node))
	}
	for j := p.maximum - 1; j >= 1; j-- { // after j stops
		inParallel(g.nodes, func(node int) {
			l := g.likelihoods(node)
			cost := p.weights[0]*l[0] + p.weights[1]*l[1] + p.weights[2]*l[2]
			stop := math.Inf(1)
			if j >= p.minimum {
				stop = decide(l)
			}
			for i := node * g.each; i < (node+1)*g.each && cost < stop; i++ {
				m := &g.moves[i]
				cost += m.weight[0]*next[m.node[0]] + m.weight[1]*next[m.node[1]] + m.weight[2]*next[m.node[2]] + m.weight[3]*next[m.node[3]]
			}
			now[node] = math.Min(cost, stop)
		})
		now, next = next, now
	}
	return g.start(p, next) - pr.needless*p.alpha - pr.missed*p.beta
}

// start returns the cost of a whole walk, from the values after the first stop.
func (g *simplex) start(p *problem, after []float64) float64 {
	cost := p.weights[0] + p.weights[1] + p.weights[2]
	top := g.each - 1
	f0, fm, f1 := p.lower.Stop(p.units).Probs(top), p.middle.Stop(p.units).Probs(top), p.upper.Stop(p.units).Probs(top)
	for x := range g.each {
		m := g.transition(f0[x], fm[x], f1[x])
		for c := range m.node {
			cost += m.weight[c] * after[m.node[c]]
		}
	}
	return cost
}
