package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/olekukonko/tablewriter/pkg/twwidth"
	"pgregory.net/rapid"
)

// A table that is too wide stands closer and is broken between words; one that fits
// stays as it was, and numbers are never broken.
func TestNarrowTable(t *testing.T) {
	table := &Table{Columns: []Column{{Head: "stop", Right: true}, {Head: "infested plants so far", Right: true}, {Head: "what to do"}}}
	table.Add("1", "4 / 6", "go on to the next stop")
	table.Add("10", "12", "act")
	for _, c := range []struct {
		width int
		want  string
	}{
		{80, "" +
			"stop   infested plants so far   what to do\n" +
			"──────────────────────────────────────────────────────\n" +
			"   1                    4 / 6   go on to the next stop\n" +
			"  10                       12   act\n"},
		{40, "" +
			"stop   infested  what to do\n" +
			"      plants so\n" +
			"            far\n" +
			"───────────────────────────────────────\n" +
			"   1      4 / 6  go on to the next stop\n" +
			"  10         12  act\n"},
		{34, "" +
			"stop  infested  what to do\n" +
			"        plants\n" +
			"        so far\n" +
			"─────────────────────────────────\n" +
			"   1     4 / 6  go on to the next\n" +
			"                stop\n" +
			"  10        12  act\n"},
		{20, "" + // in parts
			"stop       infested\n" +
			"      plants so far\n" +
			"───────────────────\n" +
			"   1          4 / 6\n" +
			"  10             12\n" +
			"\n" +
			"stop  what to do\n" +
			"──────────────────\n" +
			"   1  go on to the\n" +
			"      next stop\n" +
			"  10  act\n"},
		{9, "" + // too wide in any case: texts stay whole
			"stop  infested  what to do\n" +
			"        plants\n" +
			"        so far\n" +
			"──────────────────────────────────────\n" +
			"   1     4 / 6  go on to the next stop\n" +
			"  10        12  act\n"},
	} {
		got, err := table.text(c.width)
		if err != nil {
			t.Fatal(err)
		}
		if got != c.want {
			t.Errorf("%d columns:\n%s\nwant\n%s", c.width, got, c.want)
		}
	}
}

// No line is wider than asked for where every column can be broken far enough, and
// no word is lost.
func TestNarrowFits(t *testing.T) {
	word := rapid.StringMatching(`[a-zé]{1,9}`)
	text := rapid.Map(rapid.SliceOfN(word, 1, 12), func(w []string) string { return strings.Join(w, " ") })
	rapid.Check(t, func(t *rapid.T) {
		table := &Table{}
		for range rapid.IntRange(1, 3).Draw(t, "columns") {
			table.Columns = append(table.Columns, Column{Head: text.Draw(t, "head")})
		}
		var words []string
		for range rapid.IntRange(1, 4).Draw(t, "rows") {
			var row []string
			for range table.Columns {
				row = append(row, text.Draw(t, "cell"))
			}
			table.Add(row...)
			words = append(words, strings.Fields(strings.Join(row, " "))...)
		}
		width := rapid.IntRange(46, 90).Draw(t, "width")
		got, err := table.text(width)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]int{}
		for line := range strings.Lines(got) {
			if twwidth.Width(strings.TrimRight(line, "\n")) > width {
				t.Fatalf("%d columns, a line has %d:\n%s", width, twwidth.Width(line), got)
			}
			for _, w := range strings.Fields(line) {
				seen[w]++
			}
		}
		for _, w := range words {
			if seen[w]--; seen[w] < 0 {
				t.Fatalf("%q is missing in\n%s", w, got)
			}
		}
	})
}

// What goes to no terminal is set in 80 columns.
func TestTextWidth(t *testing.T) {
	d := &Document{}
	d.Para("%s", strings.Repeat("word ", 60))
	var b bytes.Buffer
	if err := Write(&b, "text", Output{Doc: d}); err != nil {
		t.Fatal(err)
	}
	longest := 0
	for line := range strings.Lines(b.String()) {
		longest = max(longest, len(line)-1)
	}
	if longest > 80 || longest < 76 {
		t.Errorf("the longest line has %d columns", longest)
	}
}

// Spaces within cells are the last to go, and only where the table would be too wide.
func TestTablesCloseUp(t *testing.T) {
	table := &Table{Columns: []Column{{Head: "world"}, {Head: "stops", Right: true}, {Head: "risk", Right: true}}}
	table.Add("rho 0 / 1", "6.46 / 7.85 / 5.92", "9.5% ± 0.66%")
	for width, want := range map[int]string{
		43: "rho 0 / 1  6.46 / 7.85 / 5.92  9.5% ± 0.66%",
		42: "rho 0/1   6.46/7.85/5.92   9.5%±0.66%",
	} {
		s, err := table.text(width)
		if err != nil || !strings.Contains(s, want) {
			t.Errorf("in %d columns %v:\n%s", width, err, s)
		}
	}
}
