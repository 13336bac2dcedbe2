package report

import (
	"fmt"
	"slices"
	"strings"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/pkg/twwidth"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// A Table is rows of ready-made text under named columns.
type Table struct {
	Caption string
	Columns []Column
	Rows    [][]string // each as long as Columns
}

// A Column is a column of a table.
type Column struct {
	Head  string // for people, with the unit
	Right bool   // aligned to the right, as numbers are
}

// NewTable returns a table with columns of these heads. A head that begins with ">" names
// numbers: its column is aligned to the right, and the sign is left out.
func NewTable(caption string, heads ...string) *Table {
	t := &Table{Caption: caption}
	t.Head(heads...)
	return t
}

// Head adds columns, with heads as for [NewTable].
func (t *Table) Head(heads ...string) {
	for _, h := range heads {
		head, right := strings.CutPrefix(h, ">")
		t.Columns = append(t.Columns, Column{head, right})
	}
}

// Add adds a row.
func (t *Table) Add(cells ...string) { t.Rows = append(t.Rows, cells) }

// text sets the table in so many columns. A wider one is narrowed by breaking heads
// and texts between words, and then by taking out spaces within cells, as far as that
// goes; one that is too wide even so is set in parts below each other, each of which
// begins with the columns that tell the rows apart.
func (t *Table) text(width int) (string, error) {
	s, err := t.tight(width)
	if err == nil && widest(s) > width {
		s, err = t.parted(width, s)
	}
	if err == nil && t.Caption != "" {
		s = Wrap(t.Caption, width, "") + "\n\n" + s
	}
	return s, err
}

// tight sets the table as narrow as it has to be to fit, or as it can be.
func (t *Table) tight(width int) (string, error) {
	s, err := t.set(width)
	if err == nil && widest(s) > width {
		closed, fault := t.close().set(width)
		if err = fault; widest(closed) < widest(s) {
			s = closed
		}
	}
	return s, err
}

// parted sets the table in parts that fit, as many columns in each as go in; whole is
// returned where one beside those that tell the rows apart is too wide.
func (t *Table) parted(width int, whole string) (string, error) {
	key := t.key()
	var parts []string
	for from := key; from < len(t.Columns); {
		var part string
		to := from
		for ; to < len(t.Columns); to++ {
			s, err := t.only(key, from, to+1).tight(width)
			if err != nil {
				return "", err
			}
			if widest(s) > width {
				break
			}
			part = s
		}
		if to == from {
			return whole, nil
		}
		parts, from = append(parts, part), to
	}
	return strings.Join(parts, "\n"), nil
}

// key returns how many of the first columns tell all rows apart.
func (t *Table) key() int {
	for n := 1; n < len(t.Columns); n++ {
		seen := map[string]bool{}
		for _, row := range t.Rows {
			seen[strings.Join(row[:min(n, len(row))], "\x00")] = true
		}
		if len(seen) == len(t.Rows) {
			return n
		}
	}
	return len(t.Columns)
}

// only returns the first columns, of a number, and those from one to before another.
func (t *Table) only(first, from, to int) *Table {
	p := &Table{Columns: slices.Concat(t.Columns[:first], t.Columns[from:to])}
	for _, row := range t.Rows {
		row = append(slices.Clone(row), make([]string, max(0, len(t.Columns)-len(row)))...)
		p.Add(slices.Concat(row[:first], row[from:to])...)
	}
	return p
}

// close returns the table without spaces between numbers that stand in one cell.
func (t *Table) close() *Table {
	c := &Table{Columns: t.Columns}
	for _, row := range t.Rows {
		cells := make([]string, len(row))
		for i, cell := range row {
			cells[i] = closer.Replace(cell)
		}
		c.Add(cells...)
	}
	return c
}

var closer = strings.NewReplacer(" / ", "/", " ± ", "±")

func widest(lines string) int {
	longest := 0
	for line := range strings.SplitSeq(lines, "\n") {
		longest = max(longest, twwidth.Width(line))
	}
	return longest
}

// set is text without the caption and without taking out spaces.
func (t *Table) set(width int) (string, error) {
	// The gap stands in for the column separator, and the rule runs through it.
	gap, rule := "   ", "───"
	if !t.fits(width, twwidth.Width(gap)) {
		gap, rule = "  ", "──"
	}
	s, err := t.render(renderer.NewBlueprint(tw.Rendition{
		Borders: tw.BorderNone,
		Symbols: tw.NewSymbolCustom("rule").WithRow("─").WithColumn(gap).WithCenter(rule).
			WithHeaderMid(rule).WithTopMid(rule).WithMidLeft(rule).WithBottomMid(rule),
		Settings: tw.Settings{
			Lines: tw.Lines{ShowTop: tw.Off, ShowBottom: tw.Off, ShowHeaderLine: tw.On, ShowFooterLine: tw.Off},
			Separators: tw.Separators{ShowHeader: tw.On, ShowFooter: tw.Off,
				BetweenRows: tw.Off, BetweenColumns: tw.On},
		},
	}), tw.PaddingNone, t.narrow(width, twwidth.Width(gap)))
	if err != nil {
		return "", err
	}
	if len(t.Rows) == 0 { // the rule is drawn on the way to the first row
		s += strings.Repeat("─", twwidth.Width(strings.TrimRight(s, "\n"))) + "\n"
	}
	return trimLines(s), nil
}

func (t *Table) markdown() (string, error) {
	s, err := t.render(renderer.NewMarkdown(), tw.Padding{Left: " ", Right: " "}, func(_ int, cell string) string {
		return strings.ReplaceAll(escape(flat(cell)), "|", `\|`)
	})
	if err != nil {
		return "", err
	}
	if t.Caption != "" {
		s = escape(oneLine(t.Caption)) + "\n\n" + s
	}
	return s, nil
}

func (t *Table) render(r tw.Renderer, padding tw.Padding, cell func(column int, text string) string) (string, error) {
	head := make([]string, len(t.Columns))
	align := make(tw.Alignment, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = cell(i, c.Head)
		align[i] = tw.AlignLeft
		if c.Right {
			align[i] = tw.AlignRight
		}
	}
	rows := make([][]string, len(t.Rows))
	for i, row := range t.Rows {
		if len(row) != len(head) {
			return "", fmt.Errorf("report: row %d of the table %q has %d cells, its head has %d", i+1, t.Caption, len(row), len(head))
		}
		for j, c := range row {
			rows[i] = append(rows[i], cell(j, c))
		}
	}
	var b strings.Builder
	w := tablewriter.NewTable(&b,
		tablewriter.WithRenderer(r),
		// The automatic format turns n_max into N MAX; automatic wrapping cuts long words.
		tablewriter.WithHeaderAutoFormat(tw.Off),
		tablewriter.WithHeaderAutoWrap(tw.WrapNone),
		tablewriter.WithRowAutoWrap(tw.WrapNone),
		tablewriter.WithTrimSpace(tw.Off),
		tablewriter.WithPadding(padding),
		tablewriter.WithAlignment(align),
	)
	w.Header(head)
	if err := w.Bulk(rows); err != nil {
		return "", err
	}
	if err := w.Render(); err != nil {
		return "", err
	}
	return b.String(), nil
}

// flat keeps a cell on one line, with its leading spaces.
func flat(s string) string {
	return strings.NewReplacer("\r\n", " ", "\n", " ", "\r", " ", "\t", " ").Replace(s)
}
