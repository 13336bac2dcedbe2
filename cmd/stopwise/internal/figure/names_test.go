package figure

import (
	"math"
	"testing"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"pgregory.net/rapid"
)

// Names stand within the plot, on no curve and on no other name, whatever the
// curves, if there is room at all.
func TestNamesCoverNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := newPanelPlot()
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 1, 0, 1
		n := &names{}
		for range rapid.IntRange(1, 4).Draw(t, "curves") {
			middle, steep := rapid.Float64Range(0.2, 0.8).Draw(t, "middle"), rapid.Float64Range(2, 40).Draw(t, "steepness")
			var xys plotter.XYs
			for i := range 41 {
				x := float64(i) / 40
				xys = append(xys, plotter.XY{X: x, Y: 1 / (1 + math.Exp(steep*(x-middle)))})
			}
			n.tracks = append(n.tracks, track{name: "rho 0.15", xys: xys, style: typed(textSize, true, ink)})
		}
		c := draw.New(vgimg.New(16*vg.Centimeter, 8*vg.Centimeter))
		p.Add(n)
		p.Draw(c)
		inside := p.DataCanvas(c)
		if len(n.taken) != len(n.tracks) {
			t.Fatalf("%d names of %d curves", len(n.taken), len(n.tracks))
		}
		trX, trY := p.Transforms(&inside)
		for i, r := range n.taken {
			if r.Min.X < inside.Min.X || r.Max.X > inside.Max.X || r.Min.Y < inside.Min.Y || r.Max.Y > inside.Max.Y {
				t.Fatalf("name %d at %v is outside of %v", i, r, inside.Rectangle)
			}
			for j, s := range n.taken[:i] {
				if r.Min.X < s.Max.X && s.Min.X < r.Max.X && r.Min.Y < s.Max.Y && s.Min.Y < r.Max.Y {
					t.Fatalf("names %d and %d overlap: %v, %v", j, i, s, r)
				}
			}
			for j, other := range n.tracks {
				for _, xy := range other.xys {
					if distance(r, vg.Point{X: trX(xy.X), Y: trY(xy.Y)}) == 0 {
						t.Fatalf("name %d at %v covers curve %d", i, r, j)
					}
				}
			}
		}
	})
}

func TestNamesOfMarksDoNotMeet(t *testing.T) {
	u := uprights{at: []upright{{10, "lower bound 10%"}, {11, "threshold 11%"}, {12, "upper bound 12%"}, {90, "far away"}}}
	rows := uprightRows(u, func(x float64) vg.Length { return vg.Length(4 * x) })
	if rows[0] != 0 || rows[1] != 1 || rows[2] != 2 || rows[3] != 0 {
		t.Errorf("rows %v, want 0 1 2 0", rows)
	}
}

func TestMatrix(t *testing.T) {
	// A quarter turn to the left, then a step of 3 to the right.
	m := matrix{1, 0, 0, 1, 3, 0}.after(matrix{0, 1, -1, 0, 0, 0})
	if x, y := m.at(vg.Point{X: 1, Y: 0}); x != 3 || y != 1 {
		t.Errorf("(1, 0) goes to (%g, %g), want (3, 1)", x, y)
	}
	if s := (matrix{2, 0, 0, -2, 0, 0}).scale(); s != 2 {
		t.Errorf("scale %g, want 2", s)
	}
}
