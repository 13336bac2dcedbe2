package studying

import (
	"math"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
)

// Columns of a ladder in characters: at least so many, and so many between two.
const (
	leastLadder   = 28
	betweenPanels = 2
)

// ladderText draws ladders in characters: side by side where there is room, else under
// each other.
func ladderText(v figure.Ladders, width int) string {
	side := len(v.Panels)
	if (width-betweenPanels*(side-1))/side < leastLadder {
		side = 1
	}
	each := (width - betweenPanels*(side-1)) / side
	var blocks []string
	for panels := range slices.Chunk(v.Panels, side) {
		var parts [][]string
		for _, l := range panels {
			parts = append(parts, ladderLines(v, l, each))
		}
		blocks = append(blocks, besides(parts, each))
	}
	return strings.Join(blocks, "\n\n")
}

// ladderLines draws one ladder: its head, the intervals from the highest down, and what
// the truth is.
func ladderLines(v figure.Ladders, l figure.Ladder, width int) []string {
	top := v.Truth
	for _, p := range v.Panels {
		for _, r := range p.Rungs {
			top = max(top, r.High)
		}
	}
	at := func(share float64) int { return min(width-1, int(math.Round(share/top*float64(width-1)))) }
	lines := strings.Split(report.Wrap(l.Head, width, ""), "\n")
	for len(lines) < 2 { // heads of several panels end on one line
		lines = append(lines, "")
	}
	for _, r := range slices.Backward(l.Rungs) {
		line := []rune(strings.Repeat(" ", width))
		line[at(v.Truth)] = '┊'
		bar, dot := '─', 'o'
		if r.Misses(v.Truth) {
			bar, dot = '━', 'X'
		}
		for x := at(r.Low); x <= at(r.High); x++ {
			line[x] = bar
		}
		if !r.Misses(v.Truth) {
			line[at(v.Truth)] = '┼'
		}
		line[at(r.Estimate)] = dot
		lines = append(lines, string(line))
	}
	name := []rune("^ " + v.TruthName)
	return append(lines, strings.Repeat(" ", max(0, min(at(v.Truth), width-len(name))))+string(name))
}

// besides sets blocks of lines side by side, each so wide.
func besides(blocks [][]string, width int) string {
	var lines []string
	for i := 0; ; i++ {
		var parts []string
		more := false
		for _, b := range blocks {
			part := ""
			if i < len(b) {
				part, more = b[i], true
			}
			parts = append(parts, part+strings.Repeat(" ", max(0, width-len([]rune(part)))))
		}
		if !more {
			return strings.Join(lines, "\n")
		}
		lines = append(lines, strings.Join(parts, strings.Repeat(" ", betweenPanels)))
	}
}
