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
	last    []int    // of each line, the last node from which walks went on at the stop ahead
	// Of each node: its value, and the sums over counts.
	values, outer, middle []float64
}

// ahead is how many nodes are looked at beyond the last one from which walks went on.
const ahead = 8

// worthSharing is how many nodes are worth a second processor.
const worthSharing = 10000

// value returns the dual value at the prices.
func (g *simplex) value(d *dual, prices []float64) float64 {
	nodes := len(g.t) * len(g.v)
	w := &sweep{
		simplex: g, d: d, next: g.newSurface(), last: make([]int, len(g.t)),
		values: make([]float64, nodes), outer: make([]float64, nodes), middle: make([]float64, nodes),
	}
	for i, e := range d.Effort {
		w.weights[i] = e.Weight
	}
	lines := parallel.Each
	if nodes < worthSharing {
		lines = func(n int, f func(int)) {
			for a := range n {
				f(a)
			}
		}
	}
	now := g.newSurface()
	for j := d.Maximum; j >= 1; j-- { // after j stops
		verdict := d.decision(j, prices)
		lines(len(g.t), func(a int) {
			if j == d.Maximum {
				w.stop(a, 0, &verdict)
			} else {
				w.line(a, j >= d.Minimum, &verdict)
			}
			now.set(a, g, w.of(w.values, a))
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

// stop sets the values of a line from a node on to the cost of the verdict.
func (w *sweep) stop(a, from int, verdict *decision) {
	for b := from; b < len(w.v); b++ {
		w.of(w.values, a)[b] = verdict.cost(w.likelihoods(a, b))
	}
}

// line sets the values of a line.
//
// The true values being concave, the nodes at which one verdict is best are a convex
// set. Where neither costs anything in the middle world, as without a further sign, both
// sets hold its corner: on a line towards it walks go on up to some node and end at all
// beyond. Where going on seems to save nothing it saves nothing, as interpolation never
// finds it dearer than it is; so the first such node is where walks end.
func (w *sweep) line(a int, may bool, verdict *decision) {
	end := len(w.v) - 1
	values, once := w.of(w.values, a), may && verdict.act[1] == 0 && verdict.leave[1] == 0
	ends := func(b int, on float64) bool {
		l := w.likelihoods(a, b)
		on += w.weights[0]*l[0] + w.weights[1]*l[1] + w.weights[2]*l[2]
		values[b] = on
		if may {
			values[b] = min(on, verdict.cost(l))
		}
		if !once || values[b] == on {
			return false
		}
		w.stop(a, b+1, verdict)
		w.last[a] = b
		return true
	}
	shifts := w.shifts[a*w.each : (a+1)*w.each]
	on := 0.0 // where Lm is 0
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
		clear(outer)
		clear(middle)
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
	on = 0 // where Lm is all
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
