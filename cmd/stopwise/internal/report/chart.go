package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/olekukonko/tablewriter/pkg/twwidth"
)

// A Chart is a line picture in plain characters. Series are told apart by their
// marks, not by colour. The caller scales the values: a share shown in percent
// is multiplied by 100 and its label says so.
type Chart struct {
	Title, XLabel, YLabel string
	X                     []float64 // increasing
	Series                []Series
	YMin, YMax            float64 // both 0: from the data
	Marks                 []VMark
	Points                []Point // drawn over the series, the last ones on top
	Signs                 []Sign  // what the points' marks mean
	Rows                  int     // of the plotting area; 0: as most

	columns int // of the plotting area, set by In
	room    int // columns for what stands below and above it
}

// A Point is a single mark.
type Point struct {
	X, Y float64
	Mark rune
}

// A Sign explains the mark of points.
type Sign struct {
	Mark rune
	Name string
}

// A Series is one curve; a NaN leaves a gap.
type Series struct {
	Name string
	Mark rune
	Y    []float64 // as long as the chart's X
}

// A VMark is a dotted line at an x, such as a threshold.
type VMark struct {
	X     float64
	Label string
}

// Columns and rows of the plotting area: 12 steps upwards fall on quarters and
// thirds. Sideways there are steps in twelves, 60 of them where there is room, more
// only on a wide terminal.
const (
	chartColumns = 61
	mostChart    = 85
	leastChart   = 25
	chartRows    = 13
)

// In returns the picture for a text of so many columns, without spaces at the ends of
// its lines. It is empty where there is nothing to draw.
func (c Chart) In(columns int) string {
	if c.Rows == 0 {
		c.Rows = chartRows
	}
	if len(c.X) < 2 || !(c.X[len(c.X)-1] > c.X[0]) {
		return ""
	}
	low, high := c.yRange()
	if !(high > low) {
		return ""
	}
	yTicks := ticks(low, high, 4)
	labels := make(map[int]string)
	width := 0
	for _, y := range yTicks {
		s := tickLabel(y)
		labels[c.yRow(y, low, high)] = s
		width = max(width, twwidth.Width(s))
	}
	most := chartColumns
	if columns > TextWidth {
		most = mostChart
	}
	c.room = columns - width - 2
	c.columns = max(leastChart, min(most, (c.room-1)/12*12+1))
	area := newCanvas(c.columns, c.Rows)
	for _, m := range c.Marks {
		if col, ok := c.column(m.X); ok {
			for row := range c.Rows {
				area[row][col] = '┊'
			}
		}
	}
	// Backwards, so that the first series ends on top.
	for i := len(c.Series) - 1; i >= 0; i-- {
		c.draw(area, i, low, high)
	}
	for _, p := range c.Points {
		row := c.yRow(p.Y, low, high)
		if col, ok := c.column(p.X); ok && row >= 0 && row < c.Rows {
			area[row][col] = p.Mark
		}
	}
	margin := strings.Repeat(" ", width+2)
	var lines []string
	if c.Title != "" {
		lines = append(lines, Wrap(c.Title, columns, ""))
	}
	if c.YLabel != "" {
		lines = append(lines, Wrap(c.YLabel, columns, ""))
	}
	for _, l := range c.markLabels() {
		lines = append(lines, margin+l)
	}
	for row := range c.Rows {
		s, edge := labels[row], "│"
		if s != "" {
			edge = "┤"
		}
		lines = append(lines, strings.Repeat(" ", width-twwidth.Width(s))+s+" "+edge+string(area[row]))
	}
	axis, names := c.xAxis()
	lines = append(lines, strings.Repeat(" ", width+1)+"└"+axis, margin+names)
	if c.XLabel != "" {
		pad := max(0, (c.columns-twwidth.Width(c.XLabel))/2)
		lines = append(lines, margin+strings.Repeat(" ", pad)+c.XLabel)
	}
	if legend := c.legend(columns); legend != "" {
		lines = append(lines, "", legend)
	}
	return trimLines(strings.Join(lines, "\n"))
}

func (c Chart) yRange() (low, high float64) {
	if c.YMin != 0 || c.YMax != 0 {
		return c.YMin, c.YMax
	}
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range c.Series {
		for _, y := range s.Y {
			if !math.IsNaN(y) && !math.IsInf(y, 0) {
				low, high = min(low, y), max(high, y)
			}
		}
	}
	if low == high {
		return low - 1, high + 1
	}
	return low, high
}

// draw plots series i. Where there are several, each takes its turn at the
// columns, so that curves that lie on each other stay visible.
func (c Chart) draw(area canvas, i int, low, high float64) {
	before := math.NaN()
	for col := i; col < c.columns; col += len(c.Series) {
		y := c.at(i, col)
		if !math.IsNaN(y) {
			from, to := c.yRow(y, low, high), c.yRow(y, low, high)
			if !math.IsNaN(before) {
				// Close the gap of a steep piece.
				switch last := c.yRow(before, low, high); {
				case last > to:
					to = last - 1
				case last < from:
					from = last + 1
				}
			}
			for row := max(from, 0); row <= min(to, c.Rows-1); row++ {
				area[row][col] = c.Series[i].Mark
			}
		}
		before = y
	}
}

// at returns series i at a column, between its points along straight lines.
func (c Chart) at(i, col int) float64 {
	last := len(c.X) - 1
	x := c.X[0] + (c.X[last]-c.X[0])*float64(col)/float64(c.columns-1)
	y := c.Series[i].Y
	for j := range last {
		if x <= c.X[j+1] || j == last-1 {
			t := (x - c.X[j]) / (c.X[j+1] - c.X[j])
			switch {
			case t <= 0:
				return y[j]
			case t >= 1:
				return y[j+1]
			}
			return y[j] + t*(y[j+1]-y[j])
		}
	}
	return math.NaN()
}

// yRow returns the row of y: 0 at the top; outside the area where y is.
func (c Chart) yRow(y, low, high float64) int {
	r := math.Round((high - y) / (high - low) * float64(c.Rows-1))
	return int(max(-1, min(float64(c.Rows), r)))
}

func (c Chart) column(x float64) (int, bool) {
	first, last := c.X[0], c.X[len(c.X)-1]
	if !(x >= first && x <= last) {
		return 0, false
	}
	return int(math.Round((x - first) / (last - first) * float64(c.columns-1))), true
}

// markLabels returns the lines of labels above the area, as few as they fit in.
func (c Chart) markLabels() []string {
	var rows []canvas
	for _, m := range c.Marks {
		col, ok := c.column(m.X)
		if !ok || m.Label == "" {
			continue
		}
		placed := false
		for _, r := range rows {
			if placed = r.write(col, m.Label); placed {
				break
			}
		}
		if !placed {
			r := newCanvas(max(c.columns, c.room), 1)
			r.write(col, m.Label)
			rows = append(rows, r)
		}
	}
	lines := make([]string, len(rows))
	for i, r := range rows {
		lines[i] = string(r[0])
	}
	return lines
}

func (c Chart) xAxis() (axis, names string) {
	line := []rune(strings.Repeat("─", c.columns))
	labels := newCanvas(max(c.columns, c.room), 1)
	for _, x := range ticks(c.X[0], c.X[len(c.X)-1], 6) {
		if col, ok := c.column(x); ok && labels.write(col, tickLabel(x)) {
			line[col] = '┬'
		}
	}
	return string(line), string(labels[0])
}

// legend sets marks and names side by side, as many as fit into a line.
func (c Chart) legend(columns int) string {
	signs := slices.Clone(c.Signs)
	for _, s := range c.Series {
		if s.Name != "" && !slices.ContainsFunc(signs, func(o Sign) bool { return o.Name == s.Name }) {
			signs = append(signs, Sign{s.Mark, s.Name})
		}
	}
	legend, at := "", 0
	for i, s := range signs {
		part := string(s.Mark) + " " + s.Name
		w := twwidth.Width(part)
		switch {
		case i == 0:
		case at+4+w > columns:
			legend, at = legend+"\n", 0
		default:
			legend, at = legend+"    ", at+4
		}
		legend, at = legend+part, at+w
	}
	return legend
}

type canvas [][]rune

func newCanvas(columns, rows int) canvas {
	c := make(canvas, rows)
	for i := range c {
		c[i] = []rune(strings.Repeat(" ", columns))
	}
	return c
}

// write centres text on a column of the first row, if there is room for it.
func (c canvas) write(col int, text string) bool {
	r := []rune(text)
	start := max(0, min(col-(len(r)-1)/2, len(c[0])-len(r)))
	for i := max(0, start-1); i < min(len(c[0]), start+len(r)+1); i++ {
		if c[0][i] != ' ' {
			return false
		}
	}
	copy(c[0][start:], r)
	return true
}

// ticks returns round values from low to high, about as many as asked for.
func ticks(low, high float64, about int) []float64 {
	raw := (high - low) / float64(about)
	size := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * size
	for _, m := range []float64{1, 2, 2.5, 5} {
		if m*size >= raw*(1-1e-9) {
			step = m * size
			break
		}
	}
	var out []float64
	first, last := math.Ceil(low/step-1e-9), math.Floor(high/step+1e-9)
	for i := first; i <= last; i++ {
		out = append(out, i*step+0) // never -0
	}
	return out
}

func tickLabel(x float64) string { return strconv.FormatFloat(Significant(x, 10), 'g', -1, 64) }

// tableIntervals is the number of steps of a curve's table, chartIntervals that
// of its picture.
const (
	TableIntervals = 20
	ChartIntervals = 60
)

func Evenly(low, high float64, intervals int) []float64 {
	x := make([]float64, intervals+1)
	for i := range x {
		x[i] = low + (high-low)*float64(i)/float64(intervals)
	}
	return x
}
