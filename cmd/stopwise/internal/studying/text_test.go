package studying

import (
	"strings"
	"testing"
	"unicode/utf8"

	"stopwise/cmd/stopwise/internal/figure"
)

// Drawn by hand: shares from 0 to 20% in 41 columns, half a percent each; the truth at
// 10% is column 20. The highest interval comes first, and misses are thick.
func TestLadderText(t *testing.T) {
	l := figure.Ladder{Head: "head", Rungs: []figure.Rung{{Low: 0, Estimate: 0.05, High: 0.09}, {Low: 0.05, Estimate: 0.09, High: 0.2}}}
	v := figure.Ladders{Truth: 0.1, TruthName: "truth", Panels: []figure.Ladder{l}}
	got := strings.Split(ladderText(v, 41), "\n")
	want := []string{
		"head", "",
		strings.Repeat(" ", 10) + strings.Repeat("─", 8) + "o─┼" + strings.Repeat("─", 20),
		strings.Repeat("━", 10) + "X" + strings.Repeat("━", 8) + " ┊",
		strings.Repeat(" ", 20) + "^ truth",
	}
	for i := range want {
		if strings.TrimRight(got[i], " ") != want[i] {
			t.Errorf("line %d is %q, want %q", i, got[i], want[i])
		}
	}
	// Two stand side by side where there is room, else under each other.
	v.Panels = append(v.Panels, l)
	for width, lines := range map[int]int{80: 5, 57: 11, 30: 11} {
		text := ladderText(v, width)
		if n := strings.Count(text, "\n") + 1; n != lines {
			t.Errorf("%d lines in %d columns, want %d", n, width, lines)
		}
		for line := range strings.SplitSeq(text, "\n") {
			if n := utf8.RuneCountInString(line); n > width {
				t.Errorf("%d columns in %d: %q", n, width, line)
			}
		}
	}
}

// Four plants make a character; what lies up in the picture comes first, and a scout's
// digit stands at the upper left of a place.
func TestPlantsText(t *testing.T) {
	infested := map[[2]int]bool{{0, 3}: true, {3, 2}: true, {1, 0}: true, {2, 1}: true, {2, 0}: true, {3, 1}: true, {3, 0}: true}
	f := figure.PlantField{Head: "head", Along: 2, Across: 2, Wide: 2, High: 2, Infested: func(x, y int) bool { return infested[[2]int{x, y}] }}
	for _, c := range []struct {
		visits []figure.PlaceVisit
		want   string
	}{
		{nil, "┌──┐\n│▘▗│\n│▗█│\n└──┘"},
		{[]figure.PlaceVisit{{X: 1, Y: 1, Name: "7"}, {X: 0, Y: 0, Name: "3"}, {X: 0, Y: 0, Name: "4"}}, "┌──┐\n│▘7│\n│4█│\n└──┘"},
	} {
		f.Visits = c.visits
		if got := strings.Join(plantLines(f), "\n"); got != c.want {
			t.Errorf("drawn as\n%s\nwant\n%s", got, c.want)
		}
	}
	both := figure.Plots{Panels: []figure.PlantField{f, f}}
	for width, side := range map[int]bool{10: true, 9: false} {
		if got := strings.Contains(plantsText(both, width), "┌──┐  ┌──┐"); got != side {
			t.Errorf("in %d columns side by side is %v", width, got)
		}
	}
}
