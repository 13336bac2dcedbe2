package figure

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Plots are made fields seen from above, every plant a dot, side by side.
type Plots struct {
	Title, Note, Desc string
	Panels            []PlantField
}

// A PlantField is a field of places where a scout could stop, each a block of plants.
type PlantField struct {
	Head          string
	Along, Across int // places
	Wide, High    int // plants of a place
	Infested      func(x, y int) bool
	Visits        []PlaceVisit
}

// A PlaceVisit is a place at which a scout stops.
type PlaceVisit struct {
	X, Y int // of the place
	Name string
}

// Picture returns the fields as a picture.
func (v Plots) Picture() (Picture, error) {
	one := v.Panels[0]
	width := (pictureWidth - between*vg.Length(len(v.Panels)-1)) / vg.Length(len(v.Panels))
	row := width*vg.Length(one.Across*one.High)/vg.Length(one.Along*one.Wide) + 1.6*vg.Centimeter
	s := &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: row, rows: [][]panel{nil}}
	for _, f := range v.Panels {
		p := newPanelPlot()
		p.HideAxes()
		p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, float64(f.Along*f.Wide), 0, float64(f.Across*f.High)
		p.Add(f)
		s.rows[0] = append(s.rows[0], panel{head: f.Head, plot: p, top: 4})
	}
	return s, nil
}

// Plot draws the plants, infested ones large and dark, and a frame with its name
// around each place visited.
func (f PlantField) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	spacing := trX(1) - trX(0)
	dots := func(infested bool, half vg.Length, clr color.Color) {
		var all vg.Path
		for y := range f.Across * f.High {
			for x := range f.Along * f.Wide {
				if f.Infested(x, y) != infested {
					continue
				}
				at := vg.Point{X: trX(float64(x) + 0.5), Y: trY(float64(y) + 0.5)}
				all.Move(vg.Point{X: at.X - half, Y: at.Y})
				all.Line(vg.Point{X: at.X, Y: at.Y + half})
				all.Line(vg.Point{X: at.X + half, Y: at.Y})
				all.Line(vg.Point{X: at.X, Y: at.Y - half})
				all.Close()
			}
		}
		if len(all) == 0 {
			return
		}
		c.SetColor(clr)
		c.Fill(all)
	}
	dots(false, 0.16*spacing, grey)
	dots(true, 0.52*spacing, rust)
	name := aligned(typed(tinySize, true, white), draw.XCenter, draw.YCenter)
	for _, v := range f.Visits {
		x0, y0 := trX(float64(v.X*f.Wide)), trY(float64(v.Y*f.High))
		x1, y1 := trX(float64((v.X+1)*f.Wide)), trY(float64((v.Y+1)*f.High))
		c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.9}, []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}, {X: x0, Y: y0}})
		tag := vg.Rectangle{Min: vg.Point{X: x0, Y: y1 - tinySize - 1}, Max: vg.Point{X: x0 + name.Width(v.Name) + 3, Y: y1}}
		c.SetColor(ink)
		c.Fill(tag.Path())
		c.FillText(name, vg.Point{X: (tag.Min.X + tag.Max.X) / 2, Y: (tag.Min.Y + tag.Max.Y) / 2}, v.Name)
	}
}
