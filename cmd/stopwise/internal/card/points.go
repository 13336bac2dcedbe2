package card

import (
	"fmt"
	"slices"
)

// A pointRow is a piece of the table of points on paper: what is found at a stop, and
// its points below.
type pointRow struct {
	Stage         string // the first piece of a stage's has its name, where there are several
	Found, Points []string
}

// pointColumns is how many columns fit beside each other, and pointLines how many lines
// of the decision table a piece takes.
const pointColumns, pointLines = 21, 2

// pointRows returns the points of the stages, once for stages that count the same.
func (c Card) pointRows() []pointRow {
	var rows []pointRow
	var known [][]int
	for i, s := range c.Stages {
		worth := s.WorthMap()
		if s.Worth.Points == nil || slices.ContainsFunc(known, func(w []int) bool { return slices.Equal(w, worth) }) {
			continue
		}
		known = append(known, worth)
		var row pointRow
		for from := 0; from < len(worth); {
			to := from
			for to+1 < len(worth) && worth[to+1] == worth[from] {
				to++
			}
			found := fmt.Sprint(from)
			if to > from {
				found = fmt.Sprintf("%d–%d", from, to)
			}
			row.Found, row.Points = append(row.Found, found), append(row.Points, fmt.Sprint(worth[from]))
			from = to + 1
		}
		pieces := 0
		for found := range slices.Chunk(row.Found, pointColumns) {
			piece := pointRow{Found: found, Points: row.Points[pieces*pointColumns : pieces*pointColumns+len(found)]}
			if pieces == 0 && len(c.Stages) > 1 {
				piece.Stage = c.tableName(i)
			}
			rows = append(rows, piece)
			pieces++
		}
	}
	return rows
}
