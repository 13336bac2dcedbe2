package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A Crowd is a decision table with many walks on it: at each stop and total a dot as
// large as the share of the walks that come there. Walks that go on are full dots,
// those that end are rings (leave) or crosses (act).
type Crowd struct {
	Title, Note, Desc string
	Stairs            Staircase
	Places            []CrowdPlace
}

// A CrowdPlace is a total after a stop, and the share of all walks that come there.
type CrowdPlace struct {
	Stop, Total int
	Share       float64
	Ends        CrowdEnd
}

// A CrowdEnd says what becomes of the walks at a place.
type CrowdEnd int

// What becomes of walks.
const (
	GoesOn CrowdEnd = iota
	EndsLeave
	EndsAct
)

// Picture returns the crowd as a picture.
func (v Crowd) Picture() (Picture, error) {
	v.Stairs.bare = true // the walks stand there
	stairs, err := v.Stairs.panel(false, zoneWords{"leave", "act", "walk on"})
	if err != nil {
		return nil, err
	}
	stairs.plot.Add(crowdDots(v.Places))
	return &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 9.4 * vg.Centimeter, rows: [][]panel{{stairs}}}, nil
}

type crowdDots []CrowdPlace

func (d crowdDots) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	for _, x := range d {
		at := vg.Point{X: trX(float64(x.Stop)), Y: trY(math.Min(float64(x.Total), p.Y.Max-0.5))}
		radius := vg.Length(max(0.8, 16*math.Sqrt(x.Share)))
		switch x.Ends {
		case EndsLeave:
			c.DrawGlyph(draw.GlyphStyle{Color: blue, Radius: max(1.4, radius), Shape: draw.RingGlyph{}}, at)
		case EndsAct:
			c.DrawGlyph(draw.GlyphStyle{Color: rust, Radius: max(1.4, radius), Shape: draw.CrossGlyph{}}, at)
		default:
			c.DrawGlyph(draw.GlyphStyle{Color: ink, Radius: radius, Shape: draw.CircleGlyph{}}, at)
		}
	}
}

// Overlay holds the decision tables of several plans laid over each other.
type Overlay struct {
	Title, Note, Desc string
	Head, StopLabel   string
	Tables            []OverlaidTable // at most four, told apart by their dashes
}

// An OverlaidTable is a named table; negative numbers mean never.
type OverlaidTable struct {
	Name       string
	Leave, Act []int
}

// Picture returns the tables as a picture.
func (v Overlay) Picture() (Picture, error) {
	p := newPanelPlot()
	stops, most := 0, 1
	for _, t := range v.Tables {
		stops = max(stops, len(t.Leave))
		for i := range t.Leave {
			most = max(most, t.Leave[i], t.Act[i])
		}
	}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0.5, float64(stops)+0.5, -0.5, math.Ceil(1.08*float64(most))
	p.X.Tick.Marker, p.Y.Tick.Marker = stopTicks{stops, false}, plainTicks{whole: true}
	addGrid(p)
	key := make([]*plotter.Line, len(v.Tables))
	for i, t := range slices.Backward(v.Tables) { // the first on top: it can be the shortest
		s := strokeOf(i)
		stairs := Staircase{Leave: t.Leave, Act: t.Act}
		for _, xys := range []plotter.XYs{stairs.steps(t.Leave, 0.5), stairs.steps(t.Act, -0.5)} {
			if len(xys) == 0 {
				continue
			}
			line, err := plotter.NewLine(xys)
			if err != nil {
				return nil, err
			}
			line.LineStyle = s.line(1.5)
			p.Add(line)
			key[i] = line
		}
	}
	// Stairs rise: the upper left is free for the key.
	p.Legend.Top, p.Legend.Left = true, true
	p.Legend.TextStyle, p.Legend.ThumbnailWidth = typed(textSize, true, ink), 1.2*vg.Centimeter
	p.Legend.XOffs, p.Legend.YOffs, p.Legend.Padding = 8, -6, 3
	for i, t := range v.Tables {
		if key[i] != nil {
			p.Legend.Add(" "+t.Name, key[i])
		}
	}
	return &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 10 * vg.Centimeter,
		rows: [][]panel{{{head: v.Head, level: v.StopLabel, plot: p, top: 4}}}}, nil
}
