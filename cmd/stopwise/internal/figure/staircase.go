package figure

import (
	"cmp"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Staircases are the decision tables of stages as pictures.
type Staircases struct {
	Title, Note, Desc string
	Columns           int // panels side by side; 0 means 1
	// Leave, Act and WalkOn name the areas, in English where they are empty.
	Leave, Act, WalkOn string
	Stages             []Staircase
}

// A Staircase shows after which running total a visit ends, stop by stop, and
// the walk so far.
type Staircase struct {
	Head      string // what is counted, and for which stage
	StopLabel string
	// Leave and Act hold the numbers of each stop; a negative number means that
	// the verdict cannot come there.
	Leave, Act []int
	Walk       []int // running totals of the stops walked
	Decided    int   // stop at which the verdict came; 0 while there is none
	bare       bool  // without numbers at the steps and the name of the room between
}

// Picture returns the staircases as a picture.
func (v Staircases) Picture() (Picture, error) {
	columns := max(1, v.Columns)
	s := &sheet{head: v.Title, note: v.Note, desc: v.Desc, width: pictureWidth, row: 9 * vg.Centimeter}
	if columns > 1 {
		s.row = 6.4 * vg.Centimeter
	}
	if columns > 3 {
		s.row = 4.9 * vg.Centimeter
	}
	for i, stage := range v.Stages {
		p, err := stage.panel(columns > 1, zoneWords{cmp.Or(v.Leave, "leave"), cmp.Or(v.Act, "act"), cmp.Or(v.WalkOn, "walk on")})
		if err != nil {
			return nil, err
		}
		if i%columns == 0 {
			s.rows = append(s.rows, nil)
		}
		last := len(s.rows) - 1
		s.rows[last] = append(s.rows[last], p)
	}
	return s, nil
}

// manyStops is the number of stops up to which the numbers are written at the
// steps.
const manyStops = 30

// zoneWords name the areas of a staircase.
type zoneWords struct{ leave, act, walkOn string }

func (v Staircase) panel(small bool, words zoneWords) (panel, error) {
	p := newPanelPlot()
	n := len(v.Leave)
	p.X.Min, p.X.Max = 0.5, float64(n)+0.5
	p.Y.Min, p.Y.Max = -0.5, v.top()
	p.X.Tick.Marker, p.Y.Tick.Marker = stopTicks{n, small}, plainTicks{whole: true}
	leave, act := v.steps(v.Leave, 0.5), v.steps(v.Act, -0.5)
	p.Add(area{v.closed(leave, -0.5), leaveHue}, area{v.closed(act, p.Y.Max), actHue})
	addGrid(p)
	for _, b := range []struct {
		xys    plotter.XYs
		stroke stroke
	}{{leave, strokes[0]}, {act, strokes[1]}} {
		if len(b.xys) == 0 {
			continue
		}
		if err := addLine(p, b.xys, draw.LineStyle{Color: b.stroke.color, Width: 1.4}); err != nil {
			return panel{}, err
		}
	}
	if !small && !v.bare && n <= manyStops {
		p.Add(stepNumbers{v})
	}
	p.Add(zoneNames{v, small, words})
	if len(v.Walk) > 0 {
		if err := v.addWalk(p); err != nil {
			return panel{}, err
		}
	}
	return panel{head: v.Head, level: v.StopLabel, plot: p, top: 4}, nil
}

// top returns the highest total shown: a little above the last numbers and the
// walk.
func (v Staircase) top() float64 {
	most := 1
	for _, list := range [][]int{v.Leave, v.Act, v.Walk} {
		for _, x := range list {
			most = max(most, x)
		}
	}
	return math.Ceil(1.1*float64(most)) + 0.5
}

// steps returns the line halfway between the totals on its two sides, from the
// first stop that has a number on.
func (v Staircase) steps(numbers []int, by float64) plotter.XYs {
	var xys plotter.XYs
	for j, x := range numbers {
		if x >= 0 {
			y := float64(x) + by
			xys = append(xys, plotter.XY{X: float64(j) + 0.5, Y: y}, plotter.XY{X: float64(j) + 1.5, Y: y})
		}
	}
	return xys
}

// closed returns the area between a line and a level.
func (v Staircase) closed(line plotter.XYs, level float64) plotter.XYs {
	if len(line) == 0 {
		return nil
	}
	out := append(plotter.XYs{{X: line[0].X, Y: level}}, line...)
	return append(out, plotter.XY{X: line[len(line)-1].X, Y: level})
}

func (v Staircase) addWalk(p *plot.Plot) error {
	all := make(plotter.XYs, len(v.Walk))
	for j, x := range v.Walk {
		all[j] = plotter.XY{X: float64(j + 1), Y: float64(x)}
	}
	if err := addDotted(p, all, draw.LineStyle{Color: ink, Width: 1.2}, draw.GlyphStyle{Color: ink, Radius: 2.6, Shape: draw.CircleGlyph{}}); err != nil {
		return err
	}
	last := cmp.Or(v.Decided, len(v.Walk))
	return addDots(p, all[last-1:last], draw.GlyphStyle{Color: ink, Radius: 5.5, Shape: draw.RingGlyph{}})
}

// stepNumbers writes the leave numbers below their line and the act numbers
// above.
type stepNumbers struct{ v Staircase }

func (s stepNumbers) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	write := func(numbers []int, by float64, y draw.YAlignment, gap vg.Length, stroke stroke) {
		style := aligned(typed(tinySize, false, stroke.color), draw.XCenter, y)
		for j, x := range numbers {
			if x < 0 {
				continue
			}
			at := vg.Point{X: trX(float64(j + 1)), Y: trY(float64(x)+by) + gap}
			if at.Y-tinySize < c.Min.Y && gap < 0 {
				continue // no room below
			}
			if j < len(s.v.Walk) && math.Abs(float64(trY(float64(s.v.Walk[j]))-at.Y-gap)) < 8 {
				continue // the walk stands there
			}
			c.FillText(style, at, strconv.Itoa(x))
		}
	}
	write(s.v.Leave, 0.5, draw.YTop, -1.5, strokes[0])
	write(s.v.Act, -0.5, draw.YBottom, 1.5, strokes[1])
}

// zoneNames writes what the areas mean.
type zoneNames struct {
	v     Staircase
	small bool
	words zoneWords
}

func (z zoneNames) Plot(c draw.Canvas, p *plot.Plot) {
	trX, _ := p.Transforms(&c)
	size := vg.Length(panelSize)
	if z.small {
		size = smallSize
	}
	write := func(at vg.Point, x draw.XAlignment, y draw.YAlignment, clr stroke, text string) {
		c.FillText(aligned(typed(size, true, clr.color), x, y), at, text)
	}
	if first := firstAt(z.v.Act); first >= 0 {
		write(vg.Point{X: trX(float64(first)+0.5) + 6, Y: c.Max.Y - 4}, draw.XLeft, draw.YTop, strokes[1], z.words.act)
	}
	if firstAt(z.v.Leave) >= 0 {
		write(vg.Point{X: c.Max.X - 6, Y: c.Min.Y + 5}, draw.XRight, draw.YBottom, strokes[0], z.words.leave)
	}
	if !z.v.bare {
		z.walkOn(c, p, size, write)
	}
}

// walkOn writes the name of the room between the lines where it fits, as far to
// the left as the walk leaves it free.
func (z zoneNames) walkOn(c draw.Canvas, p *plot.Plot, size vg.Length, write func(vg.Point, draw.XAlignment, draw.YAlignment, stroke, string)) {
	text := z.words.walkOn
	trX, trY := p.Transforms(&c)
	half := typed(size, true, grey).Width(text)/2 + 3
	for j := range z.v.Leave {
		if z.v.Leave[j] < 0 || z.v.Act[j] < 0 {
			continue
		}
		x := trX(float64(j + 1))
		low, high := c.Min.Y, c.Max.Y
		for k := range z.v.Leave { // those that the name spans
			if right, left := trX(float64(k)+1.5), trX(float64(k)+0.5); left > x+half || right < x-half {
				continue
			}
			if z.v.Leave[k] >= 0 {
				low = max(low, trY(float64(z.v.Leave[k])+0.5))
			}
			if z.v.Act[k] >= 0 {
				high = min(high, trY(float64(z.v.Act[k])-0.5))
			}
		}
		y := (low + high) / 2
		if x-half < c.Min.X || x+half > c.Max.X || high-low < size+2 || z.walked(trX, trY, vg.Point{X: x, Y: y}, half) {
			continue
		}
		write(vg.Point{X: x, Y: y}, draw.XCenter, draw.YCenter, stroke{color: grey}, text)
		return
	}
	// Otherwise before the first verdict.
	first := firstAt(z.v.Act)
	if leave := firstAt(z.v.Leave); first < 0 || leave >= 0 && leave < first {
		first = leave
	}
	at := vg.Point{X: (c.Min.X + trX(float64(first)+0.5)) / 2, Y: c.Center().Y}
	if at.X-half > c.Min.X && !z.walked(trX, trY, at, half) {
		write(at, draw.XCenter, draw.YCenter, stroke{color: grey}, text)
	}
}

// walked reports whether the walk comes near a name.
func (z zoneNames) walked(trX, trY func(float64) vg.Length, at vg.Point, half vg.Length) bool {
	for j, total := range z.v.Walk {
		x, y := trX(float64(j+1)), trY(float64(total))
		if x > at.X-half-24 && x < at.X+half+24 && y > at.Y-24 && y < at.Y+24 {
			return true
		}
	}
	return false
}

func firstAt(numbers []int) int {
	for j, x := range numbers {
		if x >= 0 {
			return j
		}
	}
	return -1
}

// stopTicks are whole stops, every one of them where there is room.
type stopTicks struct {
	stops int
	small bool
}

func (t stopTicks) Ticks(_, _ float64) []plot.Tick {
	room := 30
	if t.small {
		room = 8
	}
	every := 1
	for _, e := range []int{1, 2, 5, 10, 20, 50, 100, 200} {
		if every = e; t.stops/e <= room {
			break
		}
	}
	var ticks []plot.Tick
	for j := 1; j <= t.stops; j++ {
		label := ""
		if j%every == 0 || j == 1 && every > 2 {
			label = strconv.Itoa(j)
		}
		ticks = append(ticks, plot.Tick{Value: float64(j), Label: label})
	}
	return ticks
}
