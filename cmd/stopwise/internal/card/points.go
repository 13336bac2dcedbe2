package card

import (
	"fmt"
	"slices"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A pointRow is a piece of the table of points on paper: what is found at a stop, and
// its points below.
type pointRow struct {
	Stage         string // the first piece of a stage's has its name, where there are several
	Head          string // what is found
	Found, Points []string
}

// pointColumns is how many columns fit beside each other, and pointLines how many lines
// of the decision table a piece takes.
const pointColumns, pointLines = 21, 2

// pointRows returns the points of the stages, once for stages that count the same.
func (c Card) pointRows() []pointRow {
	var rows []pointRow
	var known [][]rule.Run
	for i, s := range c.Stages {
		runs := s.PointRuns()
		if runs == nil || slices.ContainsFunc(known, func(w []rule.Run) bool { return slices.Equal(w, runs) }) {
			continue
		}
		known = append(known, runs)
		row := pointRow{Head: c.Language.Say("paper.found_here")}
		if !s.Measure.Bounded() {
			row.Head = c.Language.Say("paper.insects_here")
		}
		for _, r := range runs {
			found := fmt.Sprint(r.From)
			switch {
			case r.To == sampling.Unbounded:
				found = "≥ " + found
			case r.To > r.From:
				found = fmt.Sprintf("%d–%d", r.From, r.To)
			}
			row.Found, row.Points = append(row.Found, found), append(row.Points, fmt.Sprint(r.Worth))
		}
		pieces := 0
		for found := range slices.Chunk(row.Found, pointColumns) {
			piece := pointRow{Head: row.Head, Found: found, Points: row.Points[pieces*pointColumns : pieces*pointColumns+len(found)]}
			if pieces == 0 && len(c.Stages) > 1 {
				piece.Stage = c.tableName(i)
			}
			rows = append(rows, piece)
			pieces++
		}
	}
	return rows
}
