package card

import (
	"fmt"
	"slices"
	"unicode/utf8"

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

// pointColumns is how many columns fit beside each other, with so many letters and digits
// at the most, one for each line between them, and pointLines how many lines of the
// decision table a piece takes.
const pointColumns, pointMarks, pointLines = 21, 120, 2

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
		if len(c.Stages) > 1 {
			row.Stage = c.tableName(i)
		}
		left := row.room()
		for _, r := range runs {
			found := fmt.Sprint(r.From)
			switch {
			case r.To == sampling.Unbounded:
				found = "≥\u202f" + found
			case r.To > r.From:
				found = fmt.Sprintf("%d–%d", r.From, r.To)
			}
			width := utf8.RuneCountInString(found) + 1
			if len(row.Found) == pointColumns || width > left {
				rows = append(rows, row)
				row = pointRow{Head: row.Head}
				left = row.room()
			}
			left -= width
			row.Found, row.Points = append(row.Found, found), append(row.Points, fmt.Sprint(r.Worth))
		}
		rows = append(rows, row)
	}
	return rows
}

// room is for how many letters and digits there is room beside what the row is of.
func (r pointRow) room() int {
	return pointMarks - utf8.RuneCountInString(r.Head) - utf8.RuneCountInString(r.Stage)
}
