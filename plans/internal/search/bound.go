package search

import (
	"math"

	"gonum.org/v1/gonum/optimize"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/rule"
)

// LowerBound returns a number of weighted expected stops that no plan keeping
// the limits can beat, whatever it remembers of the stops: even one that knows
// each stop's own count. It takes the counts to be distributed as the three worlds
// of Effort say, and looks only at the limits in these worlds. It is 0 where the
// problem has not three worlds or no limit in them.
//
// The state is (L0, Lm, L1), the likelihoods of all counts so far in the lower,
// the middle and the upper world. For prices l0, l1 the least cost to go is
//
//	V_j(L) = min(l0 L0, l1 L1, sum w_i L_i + sum_x V_j+1(L_i f_i(x)))
//
// which is concave and homogeneous of degree one, so interpolation between the
// nodes of a grid never exceeds it; V_0(1, 1, 1) - l0 alpha - l1 beta is a lower
// bound for any prices (weak duality), and it is maximised over them.
func (p *Problem) LowerBound() float64 {
	d := p.dual()
	if d == nil {
		return 0
	}
	coarse := newSimplex(d, 40, 20, nil)
	price := func(x []float64) []float64 {
		prices := make([]float64, len(x))
		for i := range x {
			prices[i] = math.Exp(x[i])
		}
		return prices
	}
	start := make([]float64, len(d.limits))
	for i, l := range d.limits {
		start[i] = math.Log(2 / l.Allowed)
	}
	result, err := optimize.Minimize(
		optimize.Problem{Func: func(x []float64) float64 { return -coarse.value(d, price(x)) }},
		start,
		&optimize.Settings{FuncEvaluations: 80, Converger: &optimize.FunctionConverge{Absolute: 1e-4, Iterations: 8}},
		&optimize.NelderMead{SimplexSize: 0.3},
	)
	at := start
	if err == nil || result != nil {
		at = result.X
	}
	// A grid between the two brings the prices closer.
	middle := newSimplex(d, 80, 40, nil)
	result, err = optimize.Minimize(
		optimize.Problem{Func: func(x []float64) float64 { return -middle.value(d, price(x)) }},
		at,
		&optimize.Settings{FuncEvaluations: 16},
		&optimize.NelderMead{SimplexSize: 0.05},
	)
	if err == nil || result != nil {
		at = result.X
	}
	// Any prices give a valid bound; the fine grid only raises it.
	nt := fineGrid(len(d.told[0]))
	fine := newSimplex(d, nt, nt/2, p.Memory)
	return math.Max(fine.value(d, price(at)), coarse.value(d, price(at)))
}

// A dual is what the bound looks at of a problem: the limits in its three worlds.
type dual struct {
	*Problem
	limits []Limit
	world  []int        // of each limit
	told   [3][]float64 // the chances of what a stop can tell
}

func (p *Problem) dual() *dual {
	if len(p.Effort) != 3 {
		return nil
	}
	d := &dual{Problem: p}
	for _, l := range p.Limits {
		for i, w := range p.Effort {
			if w.Population == l.Population {
				d.limits, d.world = append(d.limits, l), append(d.world, i)
			}
		}
	}
	if len(d.limits) == 0 {
		return nil
	}
	d.told = p.told()
	return d
}

// A decision holds what the verdicts after a stop cost per likelihood.
type decision struct{ act, leave [3]float64 }

func (d *dual) decision(j int, prices []float64) (c decision) {
	for i, l := range d.limits {
		c.act[d.world[i]] += prices[i] * l.cost(rule.Act, j)
		c.leave[d.world[i]] += prices[i] * l.cost(rule.Leave, j)
	}
	return c
}

func (c *decision) cost(l [3]float64) float64 {
	return min(c.act[0]*l[0]+c.act[1]*l[1]+c.act[2]*l[2], c.leave[0]*l[0]+c.leave[1]*l[1]+c.leave[2]*l[2])
}

// fineGrid returns how many intervals the fine grid has in one direction: 320
// where a stop can tell up to 26 things, fewer for more, so that the transitions
// take no more than about 60 megabytes.
func fineGrid(counts int) int {
	return int(320 * math.Sqrt(26/float64(max(26, counts))))
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
	first [3][]float64 // chances of the counts of the first stop
}

// A Memory is what the bounds of several problems, one after another, take from
// one another: tens of megabytes. It is for one goroutine.
type Memory struct{ moves []transition }

func (m *Memory) transitions(n int) []transition {
	if m == nil {
		return make([]transition, n)
	}
	if cap(m.moves) < n {
		m.moves = make([]transition, n)
	}
	return m.moves[:n]
}

// A transition says where a count leads: the first of the four nodes around the
// ratios of the likelihoods, their sum, and how far along the cell the ratios are.
type transition struct {
	node           int32
	sum, along, up float64
}

// mean returns the sum times the interpolated value of the four nodes.
func (m *transition) mean(values []float64, w int) float64 {
	near, far := values[m.node:m.node+2], values[int(m.node)+w:int(m.node)+w+2]
	return m.sum * ((1-m.along)*((1-m.up)*near[0]+m.up*near[1]) + m.along*((1-m.up)*far[0]+m.up*far[1]))
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

func newSimplex(d *dual, nt, nv int, memory *Memory) *simplex {
	f := d.told
	g := &simplex{t: odds(nt), v: odds(nv), each: len(f[0]), first: f}
	g.nodes = len(g.t) * len(g.v)
	g.moves = memory.transitions(g.nodes * g.each)
	parallel.Each(g.nodes, func(node int) {
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
	return transition{int32(a*len(g.v) + b), sum, fa, fb}
}

// value returns the dual value at the prices.
func (g *simplex) value(d *dual, prices []float64) float64 {
	now, next := make([]float64, g.nodes), make([]float64, g.nodes)
	verdict := d.decision(d.Maximum, prices)
	for node := range next {
		next[node] = verdict.cost(g.likelihoods(node))
	}
	w := [3]float64{d.Effort[0].Weight, d.Effort[1].Weight, d.Effort[2].Weight}
	for j := d.Maximum - 1; j >= 1; j-- { // after j stops
		verdict := d.decision(j, prices)
		parallel.Each(g.nodes, func(node int) {
			l := g.likelihoods(node)
			cost := w[0]*l[0] + w[1]*l[1] + w[2]*l[2]
			stop := math.Inf(1)
			if j >= d.Minimum {
				stop = verdict.cost(l)
			}
			for i := node * g.each; i < (node+1)*g.each && cost < stop; i++ {
				cost += g.moves[i].mean(next, len(g.v))
			}
			now[node] = math.Min(cost, stop)
		})
		now, next = next, now
	}
	value := g.start(d.Problem, next)
	for i, l := range d.limits {
		value -= prices[i] * l.Allowed
	}
	return value
}

// start returns the cost of a whole walk, from the values after the first stop.
func (g *simplex) start(p *Problem, after []float64) float64 {
	cost, f := 0.0, g.first
	for _, w := range p.Effort {
		cost += w.Weight
	}
	for x := range g.each {
		m := g.transition(f[0][x], f[1][x], f[2][x])
		cost += m.mean(after, len(g.v))
	}
	return cost
}
