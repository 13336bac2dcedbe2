package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Ladders show intervals of many visits under each other, those that miss the truth
// marked, in panels side by side.
type Ladders struct {
	Title, Note, Desc string
	LevelLabel        string
	Truth             float64 // a share
	TruthName         string
	Panels            []Ladder
}

// A Ladder is a panel of intervals, from the bottom up.
type Ladder struct {
	Head  string
	Rungs []Rung
}

// A Rung is an interval and the estimate in it, as shares.
type Rung struct{ Low, Estimate, High float64 }

// Misses reports whether an interval does not hold the truth.
func (r Rung) Misses(truth float64) bool { return truth < r.Low || truth > r.High }

// Picture returns the ladders as a picture.
func (v Ladders) Picture() (Picture, error) {
	s := &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 10 * vg.Centimeter, rows: [][]panel{nil}}
	top := v.Truth
	for _, l := range v.Panels {
		for _, r := range l.Rungs {
			top = math.Max(top, r.High)
		}
	}
	for _, l := range v.Panels {
		p := newPanelPlot()
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 100*math.Min(1, 1.03*top), 0, float64(len(l.Rungs)+1)
		p.X.Tick.Marker = plainTicks{unit: "%"}
		p.Y.Tick.Marker = plot.ConstantTicks(nil)
		marks := uprights{[]upright{{100 * v.Truth, v.TruthName}}, true}
		p.Add(marks, rungs{l.Rungs, v.Truth})
		s.rows[0] = append(s.rows[0], panel{l.Head, v.LevelLabel, p, marks.room(p.X.Min, p.X.Max, pictureWidth/3)})
	}
	return s, nil
}

type rungs struct {
	all   []Rung
	truth float64
}

func (l rungs) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	for i, r := range l.all {
		y := trY(float64(i + 1))
		line, shape, size := draw.LineStyle{Color: steel, Width: 0.9}, draw.GlyphDrawer(draw.CircleGlyph{}), vg.Length(1.5)
		if r.Misses(l.truth) {
			line, shape, size = draw.LineStyle{Color: rust, Width: 2}, draw.CrossGlyph{}, 4
		}
		c.StrokeLine2(line, trX(100*r.Low), y, trX(100*r.High), y)
		c.DrawGlyph(draw.GlyphStyle{Color: line.Color, Radius: size, Shape: shape}, vg.Point{X: trX(100 * r.Estimate), Y: y})
	}
}
