package search

import (
	"gonum.org/v1/gonum/floats"

	"stopwise/plans/internal/parallel"
)

// A sweep computes the values of the nodes of a simplex stop by stop, from the last.
type sweep struct {
	*simplex
	d       *dual
	weights [3]float64
	next    *surface // after the stop ahead
	verdict decision
	last    []int // of each line, the last node from which walks went on at the stop ahead
	// Of each node: the cost of a verdict, the value, and the sums over counts.
	stop, values, outer, middle []float64
}

// ahead is how many nodes are looked at beyond the last one from which walks went on.
const ahead = 4

// worthSharing is how many nodes are worth a second processor.
const worthSharing = 10000

// value returns the dual value at the prices.
func (g *simplex) value(d *dual, prices []float64) float64 {
	n := len(g.t) * len(g.v)
	memory := make([]float64, 4*n)
	w := &sweep{
		simplex: g, d: d, next: g.newSurface(), last: make([]int, len(g.t)),
		stop: memory[:n], values: memory[n : 2*n], outer: memory[2*n : 3*n], middle: memory[3*n:],
	}
	for i, e := range d.Effort {
		w.weights[i] = e.Weight
	}
	lines := parallel.Each
	if n < worthSharing {
		lines = func(n int, f func(int)) {
			for a := range n {
				f(a)
			}
		}
	}
	now := g.newSurface()
	end := len(g.v) - 1
	changed := 0                      // the stop at which verdicts last cost something else
	for j := d.Maximum; j >= 1; j-- { // after j stops
		if verdict := d.decision(j, prices); verdict != w.verdict || j == d.Maximum {
			w.verdict, changed = verdict, j
		}
		lines(len(g.t), func(a int) {
			if j == changed {
				w.stops(a)
			}
			if j == d.Maximum {
				copy(w.of(w.values, a), w.of(w.stop, a))
			} else {
				w.line(a, j >= d.Minimum)
			}
			to := w.last[a]
			if changed-j < 2 { // what both surfaces hold further on is of other costs
				to = end
			}
			now.set(a, g, w.of(w.values, a), to)
		})
		now, w.next = w.next, now
	}
	value := w.start()
	for i, l := range d.limits {
		value -= prices[i] * l.Allowed
	}
	return value
}

// of returns the part of a line.
func (w *sweep) of(nodes []float64, a int) []float64 {
	return nodes[a*len(w.v) : (a+1)*len(w.v)]
}

// stops sets what verdicts cost at the nodes of a line.
func (w *sweep) stops(a int) {
	stop := w.of(w.stop, a)
	for b := range stop {
		stop[b] = w.verdict.cost(w.likelihoods(a, b))
	}
}

// line sets the values of a line.
//
// The true values being concave, the nodes at which one verdict is best are a convex
// set. Where neither costs anything in the middle world, as without a further sign, both
// sets hold its corner: on a line towards it walks go on up to some node and end at all
// beyond. Where going on seems to save nothing it saves nothing, as interpolation never
// finds it dearer than it is; so the first such node is where walks end.
func (w *sweep) line(a int, may bool) {
	end, t := len(w.v)-1, w.t[a]
	values, stop := w.of(w.values, a), w.of(w.stop, a)
	once := may && w.verdict.act[1] == 0 && w.verdict.leave[1] == 0
	// ends sets the value of a node from what going on costs, and reports whether
	// walks end at all from it on.
	ends := func(b int, on float64) bool {
		if may && stop[b] <= on {
			if once {
				copy(values[b:], stop[b:])
				w.last[a] = b
				return true
			}
			on = stop[b]
		}
		values[b] = on
		return false
	}
	shifts := w.shifts[a*w.each : (a+1)*w.each]
	one, oneMiddle := w.weights[0]*t+w.weights[2]*(1-t), w.weights[1] // the next stop
	on := one                                                         // where Lm is 0
	for i := range shifts {
		s := &shifts[i]
		near, _ := w.next.line(s.line, 0, 1)
		far, _ := w.next.line(s.line+1, 0, 1)
		on += s.outer*near[0] + s.outerFar*far[0]
	}
	if ends(0, on) {
		return
	}
	for from, to := 1, 0; from < end; from = to {
		to = min(end, max(w.last[a], from)+ahead)
		outer, middle := w.of(w.outer, a)[from:to], w.of(w.middle, a)[from:to]
		for i := range outer {
			outer[i], middle[i] = one, oneMiddle
		}
		for i := range shifts {
			s := &shifts[i]
			nearOuter, nearMiddle := w.next.line(s.line, from+s.cells, to-from)
			farOuter, farMiddle := w.next.line(s.line+1, from+s.cells, to-from)
			floats.AddScaled(outer, s.outer, nearOuter)
			floats.AddScaled(outer, s.outerFar, farOuter)
			floats.AddScaled(middle, s.middle, nearMiddle)
			floats.AddScaled(middle, s.middleFar, farMiddle)
		}
		for i := range outer {
			if b := from + i; ends(b, (1-w.v[b])*outer[i]+w.v[b]*middle[i]) {
				return
			}
		}
	}
	on = oneMiddle // where Lm is all
	for i := range shifts {
		s := &shifts[i]
		_, near := w.next.line(s.line, end-1, 1)
		_, far := w.next.line(s.line+1, end-1, 1)
		on += s.middle*near[0] + s.middleFar*far[0]
	}
	ends(end, on)
	w.last[a] = end
}

// start returns the cost of a whole walk, from the values after the first stop.
func (w *sweep) start() float64 {
	cost := w.weights[0] + w.weights[1] + w.weights[2]
	for x := range w.each {
		cost += w.next.at(w.simplex, w.first[0][x], w.first[1][x], w.first[2][x])
	}
	return cost
}
