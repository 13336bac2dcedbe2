package layout

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Margin is how far, in metres, a scout keeps from the edges of a field. Common
// practice, no source.
const Margin = 20

// places is about how many places in a field stops are chosen from.
const places = 300

// A Ground is a field made ready for laying out stops in it. It may be used by
// several goroutines at once.
type Ground struct {
	Field  Field
	Margin float64 // kept from the edges: less than asked for where the field is too narrow for it
	Centre orb.Point
	// Reach is how far the field extends: the longer side of the box around it.
	Reach float64

	at     []orb.Point // the places
	cell   float64     // each stands for a square of this side
	spread [2]float64  // standard deviations of the places
	gaps   []float64   // how unlike all pairs of places are
	mean   []float64   // how unlike each place is to all others on average
	even   float64     // how unlike two places are on average
	// far is how far each place is from the centre: the square of the distance in
	// standard deviations of the field, each way by its own.
	far                  []float64
	farMean, farVariance float64 // over the whole field, edges included
}

// NewGround makes a field ready. margin is how far stops keep from its edges in
// metres, 0 for [Margin]. In a field that is too narrow for it, stops keep as far
// as leaves half of the field's own places. It returns an error where the field
// has no place for stops.
func NewGround(f Field, margin float64) (*Ground, error) {
	if margin == 0 {
		margin = Margin
	}
	if !(margin > 0) || math.IsInf(margin, 1) {
		return nil, &FieldError{"margin", fmt.Sprintf("%g metres", margin), "0 or more"}
	}
	g := &Ground{Field: f, Margin: margin}
	b := f.Shape.Bound()
	length, width := f.Size()
	g.Reach = math.Max(length, width)
	g.cell = math.Sqrt(f.Area() / places)
	type place struct {
		at   orb.Point
		edge float64
	}
	var all []place
	for y := b.Bottom() + g.cell/2; y < b.Top(); y += g.cell {
		for x := b.Left() + g.cell/2; x < b.Right(); x += g.cell {
			if p := (orb.Point{x, y}); f.Contains(p) {
				all = append(all, place{p, f.ToEdge(p)})
				g.Centre[0] += x
				g.Centre[1] += y
			}
		}
	}
	if len(all) < 10 {
		return nil, &FieldError{"boundary", "no room for stops", "a field wide enough to walk in"}
	}
	g.Centre[0] /= float64(len(all))
	g.Centre[1] /= float64(len(all))
	for {
		g.at = g.at[:0]
		for _, p := range all {
			if p.edge >= g.Margin {
				g.at = append(g.at, p.at)
			}
		}
		if 2*len(g.at) >= len(all) {
			break
		}
		g.Margin *= 0.8
	}
	g.weigh()
	everywhere := make([]orb.Point, len(all))
	for i, p := range all {
		everywhere[i] = p.at
	}
	g.weighFar(everywhere)
	return g, nil
}

// weigh computes what balance is judged by.
func (g *Ground) weigh() {
	n := float64(len(g.at))
	var sum, squares [2]float64
	for _, p := range g.at {
		for i := range sum {
			sum[i] += p[i]
			squares[i] += (p[i] - g.Centre[i]) * (p[i] - g.Centre[i])
		}
	}
	for i := range g.spread {
		g.spread[i] = math.Sqrt(squares[i] / n)
	}
	unit := math.Sqrt(g.spread[0] * g.spread[1])
	g.mean = make([]float64, len(g.at))
	g.gaps = make([]float64, len(g.at)*len(g.at))
	for i, p := range g.at {
		for j, q := range g.at {
			d := unlike(math.Hypot(p[0]-q[0], p[1]-q[1]) / unit)
			g.gaps[i*len(g.at)+j] = d
			g.mean[i] += d / n
		}
	}
	for _, m := range g.mean {
		g.even += m / n
	}
}

// weighFar computes what is between the middle and the edges.
func (g *Ground) weighFar(everywhere []orb.Point) {
	n := float64(len(everywhere))
	var squares [2]float64
	for _, p := range everywhere {
		for i := range squares {
			squares[i] += (p[i] - g.Centre[i]) * (p[i] - g.Centre[i]) / n
		}
	}
	far := func(p orb.Point) float64 {
		x, y := p[0]-g.Centre[0], p[1]-g.Centre[1]
		return x*x/squares[0] + y*y/squares[1]
	}
	for _, p := range everywhere {
		g.farMean += far(p) / n
	}
	for _, p := range everywhere {
		d := far(p) - g.farMean
		g.farVariance += d * d / n
	}
	g.far = make([]float64, len(g.at))
	for i, p := range g.at {
		g.far[i] = far(p)
	}
}

// unlike is how unlike two places are taken to be at a distance in the field's own
// units: neighbours are alike, and what lies far apart has nothing in common. The
// unit is the geometric mean of the standard deviations of places east and north,
// 170 m in a field of 40 ha.
func unlike(d float64) float64 {
	const half = 1.2 // at which they are half as unlike as they can be
	return d / (d + half)
}

// between returns how unlike two places are.
func (g *Ground) between(a, b int) float64 { return g.gaps[a*len(g.at)+b] }

// gapsOf returns how unlike a place is to all.
func (g *Ground) gapsOf(a int) []float64 { return g.gaps[a*len(g.at):][:len(g.at)] }
