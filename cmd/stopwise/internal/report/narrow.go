package report

import (
	"slices"
	"strings"

	"github.com/olekukonko/tablewriter/pkg/twwidth"
)

// leastColumn is how narrow a column of text is made at most.
const leastColumn = 12

// columnWidths returns how wide each column of a table is, how wide what stands
// below its head is, and the width of all with a gap between columns.
func (t *Table) columnWidths(gap int) (whole, body []int, total int) {
	whole, body = make([]int, len(t.Columns)), make([]int, len(t.Columns))
	total = gap * (len(t.Columns) - 1)
	for i, c := range t.Columns {
		for _, row := range t.Rows {
			if i < len(row) {
				body[i] = max(body[i], twwidth.Width(row[i]))
			}
		}
		whole[i] = max(body[i], twwidth.Width(c.Head))
		total += whole[i]
	}
	return whole, body, total
}

func (t *Table) fits(width, gap int) bool {
	_, _, total := t.columnWidths(gap)
	return total <= width
}

// narrow returns how the cells of a table are written so that it fits into a width,
// with a gap between columns: first heads are broken between words, the widest
// first, then texts, unless the table is too wide even so. Cells with numbers in columns
// that are set to the right stay whole.
func (t *Table) narrow(width, gap int) func(column int, text string) string {
	room, body, total := t.columnWidths(gap)
	least := make([]int, len(t.Columns))
	for i, c := range t.Columns {
		least[i] = max(body[i], longestWord(c.Head))
	}
	total = shrink(room, least, total, width)
	for i, c := range t.Columns {
		least[i] = longestWord(c.Head)
		for _, row := range t.Rows {
			switch {
			case i >= len(row):
			case !c.Right:
				least[i] = max(least[i], min(leastColumn, twwidth.Width(row[i])), longestWord(row[i]))
			case strings.ContainsAny(row[i], "0123456789"):
				least[i] = max(least[i], twwidth.Width(row[i]))
			default:
				least[i] = max(least[i], longestWord(row[i]))
			}
		}
	}
	if texts := slices.Clone(room); shrink(texts, least, total, width) <= width {
		room = texts
	}
	return func(column int, text string) string {
		text = flat(text)
		if twwidth.Width(text) <= room[column] {
			return text
		}
		return Wrap(text, room[column], "")
	}
}

// shrink takes from the widest columns, none below its least, until their total is
// no more than a width; it returns the total then.
func shrink(room, least []int, total, width int) int {
	for total > width {
		widest := -1
		for i := range room {
			if room[i] > least[i] && (widest < 0 || room[i] > room[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break // nothing is left to break
		}
		room[widest]--
		total--
	}
	return total
}

func longestWord(text string) int {
	longest := 0
	for _, w := range strings.Fields(text) {
		longest = max(longest, twwidth.Width(w))
	}
	return longest
}
