package figure

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Followed is what a season of visits does: how many fields are treated by their
// level, when growing fields are treated, and on which days fields are visited.
type Followed struct {
	Title, Note, Desc string

	TreatedHead, LevelLabel string
	Share                   bool // levels are shares, in [0, 1]; else means
	Treated                 []Line
	Lower, Threshold, Upper Mark

	// The chances by day of one field; may be empty.
	TreatmentHead, TreatmentLabel string
	Treatment                     []float64 // by day
	Crossings                     []Mark    // days with their names

	VisitHead, VisitLabel string
	Visit                 []float64 // by day
}

// A Line is a named line of points.
type Line struct {
	Name   string
	Points []XY
}

// Picture returns the season as a picture.
func (f Followed) Picture() (Picture, error) {
	s := &sheet{head: f.Title, note: f.Note, desc: f.Desc, width: pictureWidth, row: 7.4 * vg.Centimeter}
	treated, err := f.treatedPanel()
	if err != nil {
		return nil, err
	}
	s.rows = [][]panel{{treated}}
	if len(f.Treatment) > 0 {
		s.rows = append(s.rows, []panel{f.dayPanel(f.TreatmentHead, f.TreatmentLabel, f.Treatment, f.Crossings)})
	}
	if len(f.Visit) > 0 {
		s.rows = append(s.rows, []panel{f.dayPanel(f.VisitHead, f.VisitLabel, f.Visit, nil)})
	}
	return s, nil
}

func (f Followed) treatedPanel() (panel, error) {
	p := newPanelPlot()
	scale := 1.0
	p.X.Tick.Marker, p.Y.Tick.Marker = plainTicks{}, plainTicks{unit: "%"}
	if f.Share {
		scale, p.X.Tick.Marker = 100, plainTicks{unit: "%"}
	}
	p.Y.Min, p.Y.Max = 0, 100
	points := f.Treated[0].Points
	p.X.Min, p.X.Max = scale*points[0].X, scale*points[len(points)-1].X
	addGrid(p)
	marks := uprights{names: true}
	for _, m := range []Mark{f.Lower, f.Threshold, f.Upper} {
		if m.Name != "" {
			marks.at = append(marks.at, upright{scale * m.Level, m.Name})
		}
	}
	p.Add(marks)
	n := &names{tracks: marks.tracks(p)}
	for i, l := range f.Treated {
		if err := n.line(p, i, l.Name, scaled(l.Points, scale, 100), 1.6); err != nil {
			return panel{}, err
		}
	}
	p.Add(n)
	return panel{f.TreatedHead, f.LevelLabel, p, marks.room(p.X.Min, p.X.Max, pictureWidth-2*vg.Centimeter)}, nil
}

// dayPanel draws a chance for each day as a bar.
func (f Followed) dayPanel(head, label string, chances []float64, marks []Mark) panel {
	p := newPanelPlot()
	p.X.Tick.Marker, p.Y.Tick.Marker = plainTicks{whole: true}, plainTicks{unit: "%"}
	p.X.Min, p.X.Max = -0.6, float64(len(chances))-0.4
	for _, c := range chances {
		p.Y.Max = math.Max(p.Y.Max, 115*c)
	}
	if p.Y.Max == 0 {
		p.Y.Max = 1
	}
	addGrid(p)
	p.Add(dayBars(chances))
	up := uprights{names: true}
	for _, m := range marks {
		up.at = append(up.at, upright{m.Level, m.Name})
	}
	p.Add(up)
	top := vg.Length(4)
	if len(marks) > 0 {
		top = up.room(p.X.Min, p.X.Max, pictureWidth-2*vg.Centimeter)
	}
	return panel{head, label, p, top}
}

type dayBars []float64

func (b dayBars) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	for day, chance := range b {
		if chance <= 0 {
			continue
		}
		bar := vg.Rectangle{
			Min: vg.Point{X: trX(float64(day) - 0.38), Y: trY(0)},
			Max: vg.Point{X: trX(float64(day) + 0.38), Y: trY(100 * chance)},
		}
		c.SetColor(steel)
		c.Fill(bar.Path())
	}
}
