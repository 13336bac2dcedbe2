package studying

import (
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
)

// quarters are characters by their dark quarters: 1 top left, 2 top right, 4 bottom
// left, 8 bottom right.
var quarters = []rune(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█")

// plantsText draws fields in characters, four plants in each, side by side where there
// is room.
func plantsText(v figure.Plots, width int) string {
	var blocks [][]string
	most := 0
	for _, f := range v.Panels {
		lines := plantLines(f)
		most = max(most, len([]rune(lines[0])))
		blocks = append(blocks, lines)
	}
	side := max(1, (width+betweenPanels)/(most+betweenPanels))
	var rows []string
	for i := 0; i < len(blocks); i += side {
		part := blocks[i:min(i+side, len(blocks))]
		for k, b := range part {
			head := strings.Split(report.Wrap(v.Panels[i+k].Head, most, ""), "\n")
			for len(head) < 3 {
				head = append(head, "")
			}
			part[k] = slices.Concat(head, b)
		}
		rows = append(rows, besides(part, most))
	}
	return strings.Join(rows, "\n\n")
}

// plantLines draws one field in a frame. What lies farthest up comes first.
func plantLines(f figure.PlantField) []string {
	wide, high := f.Along*f.Wide, f.Across*f.High
	named := map[[2]int]rune{}
	for _, v := range f.Visits {
		named[[2]int{v.X * f.Wide / 2, ((v.Y+1)*f.High - 1) / 2}] = []rune(v.Name)[0]
	}
	edge := strings.Repeat("─", (wide+1)/2)
	lines := []string{"┌" + edge + "┐"}
	for y := (high+1)/2 - 1; y >= 0; y-- {
		line := "│"
		for x := range (wide + 1) / 2 {
			if name, ok := named[[2]int{x, y}]; ok {
				line += string(name)
				continue
			}
			dark := 0
			for i, at := range [][2]int{{2 * x, 2*y + 1}, {2*x + 1, 2*y + 1}, {2 * x, 2 * y}, {2*x + 1, 2 * y}} {
				if at[0] < wide && at[1] < high && f.Infested(at[0], at[1]) {
					dark |= 1 << i
				}
			}
			line += string(quarters[dark])
		}
		lines = append(lines, line+"│")
	}
	return append(lines, "└"+edge+"┘")
}
