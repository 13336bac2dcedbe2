package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A track is a curve or a set of points to be named, or only to be kept free.
type track struct {
	name  string // "" to be kept free only
	xys   plotter.XYs
	style text.Style
	apart bool // points that are not joined
	free  bool // to be kept free, but names may stand near it
	loose bool // the name may stand near others
}

// names writes the names of tracks beside them instead of a key. A name stands
// where it covers no curve and is farthest from the others. It is added to a plot
// last.
type names struct {
	tracks []track
	taken  []vg.Rectangle // filled as names are written
}

// How far a name stands from its curve, and from what distance on others do not
// matter.
const (
	nameGap = 3.5
	nameFar = 60
	covered = 1000.0 // the cost of each point of a curve under a name
)

// farGaps are tried where every place beside the curve covers something.
var farGaps = []vg.Length{8, 14, 24, 40, 60}

// line draws a curve in the stroke of a number, to be named.
func (n *names) line(p *plot.Plot, number int, name string, xys plotter.XYs, width vg.Length) error {
	n.tracks = append(n.tracks, track{name: name, xys: xys, style: typed(textSize, true, strokeOf(number).color)})
	return addLine(p, xys, strokeOf(number).line(width))
}

func (n *names) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	paths := make([][]vg.Point, len(n.tracks))
	for i, t := range n.tracks {
		points := make([]vg.Point, len(t.xys))
		for j, xy := range t.xys {
			points[j] = vg.Point{X: trX(xy.X), Y: trY(xy.Y)}
		}
		if t.apart {
			paths[i] = points
		} else {
			paths[i] = dense(points)
		}
	}
	for i, t := range n.tracks {
		if t.name == "" {
			continue
		}
		place, anchor, ok := n.best(c, paths, i)
		if !ok {
			continue
		}
		n.taken = append(n.taken, place)
		if nearest(place, paths[i]) > 2*nameGap {
			end := toward(anchor, place)
			c.StrokeLine2(draw.LineStyle{Color: grey, Width: 0.6}, anchor.X, anchor.Y, end.X, end.Y)
		}
		s := aligned(t.style, draw.XLeft, draw.YBottom)
		c.FillText(s, vg.Point{X: place.Min.X, Y: place.Min.Y}, t.name)
	}
}

// dense returns the points of a line about two points of type apart.
func dense(line []vg.Point) []vg.Point {
	var out []vg.Point
	for i, p := range line {
		if i > 0 {
			d := p.Sub(line[i-1])
			steps := int(math.Hypot(float64(d.X), float64(d.Y)) / 2)
			for k := 1; k < steps; k++ {
				out = append(out, line[i-1].Add(d.Scale(vg.Length(k)/vg.Length(steps))))
			}
		}
		out = append(out, p)
	}
	return out
}

// around are the sides of a point that a name can stand on, in halves of its own
// size; aside are further ones above and below.
var (
	around = []vg.Point{{X: 1, Y: -1}, {X: 1, Y: 0}, {X: 1, Y: 1}, {X: 0, Y: 1}, {X: -1, Y: 1}, {X: -1, Y: 0}, {X: -1, Y: -1}, {X: 0, Y: -1}}
	aside  = []vg.Point{{X: 0.7, Y: 1}, {X: 0.4, Y: 1}, {X: -0.4, Y: 1}, {X: -0.7, Y: 1}, {X: 0.7, Y: -1}, {X: 0.4, Y: -1}, {X: -0.4, Y: -1}, {X: -0.7, Y: -1}}
)

// toward returns the point of a name that is nearest to another point.
func toward(p vg.Point, r vg.Rectangle) vg.Point {
	return vg.Point{X: clamp(p.X, r.Min.X, r.Max.X), Y: clamp(p.Y, r.Min.Y, r.Max.Y)}
}

// best returns the best place for the name of track i, and the point that it is
// beside.
func (n *names) best(c draw.Canvas, paths [][]vg.Point, i int) (best vg.Rectangle, anchor vg.Point, ok bool) {
	t := n.tracks[i]
	w, h := t.style.Width(t.name)/slack, t.style.Height(t.name)
	gaps, sides := []vg.Length{nameGap}, around
	if t.apart { // single points leave little choice
		gaps, sides = []vg.Length{nameGap + 3, 14, 24}, append(around, aside...)
	}
	best, anchor, least := n.cheapest(c, paths, i, w, h, gaps, sides)
	if least >= covered { // or no place at all
		if far, at, cost := n.cheapest(c, paths, i, w, h, farGaps, sides); cost < least {
			best, anchor, least = far, at, cost
		}
	}
	return best, anchor, !math.IsInf(least, 1)
}

// cheapest returns the best place of a name beside its curve at one of some gaps.
func (n *names) cheapest(c draw.Canvas, paths [][]vg.Point, i int, w, h vg.Length, gaps []vg.Length, sides []vg.Point) (best vg.Rectangle, anchor vg.Point, least float64) {
	least = math.Inf(1)
	step := max(1, len(paths[i])/60)
	for k := 0; k < len(paths[i]); k += step {
		at := paths[i][k]
		for _, d := range sides {
			for _, gap := range gaps {
				if d.X*d.X == 1 && d.Y*d.Y == 1 {
					gap *= math.Sqrt2 / 2
				}
				r := vg.Rectangle{Min: vg.Point{X: at.X + (d.X-1)*w/2 + d.X*gap, Y: at.Y + (d.Y-1)*h/2 + d.Y*gap}}
				r.Max = r.Min.Add(vg.Point{X: w, Y: h})
				if cost := n.cost(c, paths, i, r); cost < least {
					best, least, anchor = r, cost, at
				}
			}
		}
	}
	return best, anchor, least
}

func (n *names) cost(c draw.Canvas, paths [][]vg.Point, own int, r vg.Rectangle) float64 {
	if r.Min.X < c.Min.X+1 || r.Max.X > c.Max.X || r.Min.Y < c.Min.Y+1 || r.Max.Y > c.Max.Y {
		return math.Inf(1)
	}
	for _, t := range n.taken {
		if r.Min.X < t.Max.X+4 && t.Min.X < r.Max.X+4 && r.Min.Y < t.Max.Y+1 && t.Min.Y < r.Max.Y+1 {
			return math.Inf(1)
		}
	}
	cost := 0.0
	for i, path := range paths {
		near := math.Inf(1) // squared
		for _, p := range path {
			d := squared(r, p)
			near = min(near, d)
			if d < 1.5*1.5 {
				cost += covered
			}
		}
		near = math.Sqrt(near)
		if i != own && !n.tracks[own].loose && !n.tracks[i].free {
			cost += 2 * (nameFar - math.Min(nameFar, near))
		}
		if i == own {
			cost += 4 * near
		}
	}
	return cost
}

func nearest(r vg.Rectangle, path []vg.Point) float64 {
	d := math.Inf(1)
	for _, p := range path {
		d = math.Min(d, distance(r, p))
	}
	return d
}

// distance returns how far a point lies from a rectangle.
func distance(r vg.Rectangle, p vg.Point) float64 { return math.Sqrt(squared(r, p)) }

func squared(r vg.Rectangle, p vg.Point) float64 {
	dx := max(0, r.Min.X-p.X, p.X-r.Max.X)
	dy := max(0, r.Min.Y-p.Y, p.Y-r.Max.Y)
	return float64(dx*dx + dy*dy)
}

func clamp(x, low, high vg.Length) vg.Length { return max(low, min(x, high)) }
