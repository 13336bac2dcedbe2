package report

import (
	"fmt"
	"math"
	"strings"

	"github.com/olekukonko/tablewriter/pkg/twwidth"
)

// A Histogram shows counts by class as bars, several panels side by side on one
// scale.
type Histogram struct {
	Label  string   // what the classes are of
	Panels []string // titles
	Rows   []HistogramRow
}

// A HistogramRow is a class.
type HistogramRow struct {
	Label string
	Bars  []Bar // as many as panels
	Note  string
	Above string // a line drawn above the row, with this text; none where empty
}

// A Bar is a count, with a mark where it was expected.
type Bar struct {
	Count    int
	Expected float64 // its mark is left out where it would stand at the start
	Dark     bool
}

// The longest bar has at most and at least so many columns.
const (
	mostBar  = 26
	leastBar = 6
)

// In returns the picture for a text of so many columns, without spaces at the ends of
// its lines. It is empty where there is nothing to draw.
func (h Histogram) In(columns int) string {
	top, digits, note := 0.0, 1, 0
	labels := twwidth.Width(h.Label)
	for _, r := range h.Rows {
		labels = max(labels, twwidth.Width(r.Label))
		if r.Note != "" {
			note = max(note, 2+twwidth.Width(r.Note))
		}
		for _, b := range r.Bars {
			top = max(top, float64(b.Count), b.Expected)
			digits = max(digits, len(fmt.Sprint(b.Count)))
		}
	}
	if top == 0 {
		return ""
	}
	bar := (columns-labels-note)/max(1, len(h.Panels)) - 3 - digits
	bar = max(leastBar, min(mostBar, bar))
	panel := bar + 1 + digits
	pad := func(s string, width int) string { return s + strings.Repeat(" ", max(0, width-twwidth.Width(s))) }
	head := pad(h.Label, labels)
	for _, p := range h.Panels {
		head += "  " + pad(p, panel)
	}
	lines := []string{head}
	for _, r := range h.Rows {
		if r.Above != "" {
			width := labels + len(h.Panels)*(panel+2)
			lines = append(lines, "── "+r.Above+" "+strings.Repeat("─", max(2, width-4-twwidth.Width(r.Above))))
		}
		line := pad(r.Label, labels)
		for _, b := range r.Bars {
			line += fmt.Sprintf("  %s %*d", b.draw(top, bar), digits, b.Count)
		}
		if r.Note != "" {
			line += "  " + r.Note
		}
		lines = append(lines, line)
	}
	return trimLines(strings.Join(lines, "\n"))
}

func (b Bar) draw(top float64, columns int) string {
	cells := []rune(strings.Repeat(" ", columns))
	fill := '░'
	if b.Dark {
		fill = '█'
	}
	for i := range scaled(float64(b.Count), top, columns) {
		cells[i] = fill
	}
	if at := int(math.Round(b.Expected / top * float64(columns))); at >= 1 {
		cells[min(columns-1, at)] = '│'
	}
	return string(cells)
}

// scaled returns the columns of a count; what is not 0 has at least one.
func scaled(x, top float64, columns int) int {
	if x == 0 {
		return 0
	}
	return max(1, int(math.Round(x/top*float64(columns))))
}
