package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", path, d)
	}
}

type sampleJSON struct {
	Envelope
	Rows []sampleRow `json:"rows"`
}

type sampleRow struct {
	Stop  int      `json:"stop"`
	Leave *int     `json:"leave"`
	Risk  float64  `json:"risk"`
	Rho   *float64 `json:"rho"`
	Text  string   `json:"text"`
}

// sample is an invented output that uses every kind of block.
func sample() Output {
	leave := 1
	t := &Table{
		Caption: "Stop by stop: leave the field at or below the first number, act at or above the second.",
		Columns: []Column{{"stop", true}, {"infested so far", true}, {"what to do", false}},
	}
	t.Add("1", "4", "go on")
	t.Add("2", "9 | 10", "leave, *surely*")
	t.Add("10", "", "act ≥ 12 <b>")
	d := &Document{}
	d.Heading("Russet thrips, leafing stage")
	d.Para("The plan walks at most %d stops. %s of the fields at the lower bound are treated needlessly, and no more than that: the chance is exact.", 20, Percent(0.0031))
	d.Table(t)
	d.List("walk to the next stop", "examine twenty plants, the ones that stand next to each other, and do not choose the worst leaf of a plant but the agreed one")
	d.Picture("a  b   \n  \\/*|")
	d.Note("rho comes from %d fields; with ten or more its interval would be narrower. See `stopwise fit *.csv`, and mind a < b.", 6)
	type row struct {
		Stop     int64    `json:"stop"`
		Infested *int     `json:"infested"`
		Verdict  string   `json:"verdict"`
		Risk     float64  `json:"risk"`
		Rho      *float64 `json:"rho"`
	}
	r := RecordsOf([]row{{1, &leave, "go, on", 0.1, nil}, {2, nil, `say "act"`, 1.0 / 3, new(float64)}})
	return Output{d, r, sampleJSON{Envelope{"sample", 1}, []sampleRow{{1, &leave, 1.0 / 3, nil, "a < b & c ≥ d"}}}}
}

func TestWriteGolden(t *testing.T) {
	for _, format := range Formats {
		var b bytes.Buffer
		if err := Write(&b, format, sample()); err != nil {
			t.Fatal(err)
		}
		golden(t, "sample."+format, b.String())
	}
}

func TestTextHasNoTrailingSpaces(t *testing.T) {
	text, err := sample().Doc.Text(TextWidth)
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range strings.Split(text, "\n") {
		if strings.TrimRight(l, " \t") != l {
			t.Errorf("line %d ends in spaces: %q", i+1, l)
		}
	}
}

func TestEmpty(t *testing.T) {
	for _, format := range []string{"text", "markdown"} {
		var b bytes.Buffer
		if err := Write(&b, format, Output{Doc: &Document{}}); err != nil || b.Len() != 0 {
			t.Errorf("%s: %q, %v", format, b.String(), err)
		}
	}
	d := &Document{}
	d.Table(&Table{Columns: []Column{{Head: "stop", Right: true}, {Head: "n_max"}}})
	text, err := d.Text(TextWidth)
	if want := "stop   n_max\n────────────\n"; err != nil || text != want {
		t.Errorf("%q, %v, want %q", text, err, want)
	}
	md, err := d.Markdown()
	if want := "| stop | n_max |\n|-----:|:------|\n"; err != nil || md != want {
		t.Errorf("%q, %v, want %q", md, err, want)
	}
}

func TestWriteRefuses(t *testing.T) {
	doc := &Document{}
	doc.Para("text")
	ragged := &Document{}
	ragged.Table(&Table{Columns: []Column{{Head: "a"}, {Head: "b"}}, Rows: [][]string{{"1"}}})
	type risk struct {
		Risk float64 `json:"risk"`
	}
	type list struct {
		A []int `json:"a"`
	}
	short, strange := RecordsOf([]risk{{0}}), RecordsOf([]risk{{0}})
	strange.AddOnly(map[string]any{"chance": 1})
	nan, odd := RecordsOf([]risk{{math.NaN()}}), RecordsOf([]list{{[]int{1}}})
	type bad struct {
		Envelope
		X float64 `json:"x"`
	}
	for _, c := range []struct {
		format string
		o      Output
		want   string
	}{
		{"csv", Output{Doc: doc, JSON: 1}, "csv cannot hold this output; use text, markdown or json"},
		{"json", Output{Doc: doc, Records: short}, "json cannot hold this output; use text, markdown or csv"},
		{"markdown", Output{JSON: 1}, "markdown cannot hold this output; use json"},
		{"text", Output{Doc: ragged}, "row 1 of the table \"\" has 1 cells, its head has 2"},
		{"csv", Output{Records: strange}, "csv has no column chance"},
		{"csv", Output{Records: nan}, "csv row 1, risk: csv cannot hold the value NaN"},
		{"csv", Output{Records: odd}, "csv row 1, a: csv cannot hold a []int"},
		{"json", Output{JSON: bad{Envelope{"x", 1}, math.NaN()}}, "json cannot hold the value NaN"},
		{"json", Output{JSON: bad{Envelope{"x", 1}, math.Inf(-1)}}, "json cannot hold the value -Inf"},
		{"json", Output{JSON: bad{}}, "has no kind and version"},
		{"json", Output{JSON: []int{1}}, "has no kind and version"},
	} {
		var b bytes.Buffer
		err := Write(&b, c.format, c.o)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.format, err, c.want)
		}
		if b.Len() > 0 {
			t.Errorf("%s: wrote %q although it failed", c.format, b.String())
		}
		_, isFormat := errors.AsType[*FormatError](err)
		if want := strings.Contains(c.want, "this output"); isFormat != want {
			t.Errorf("%s: format error %v, want %v", c.format, isFormat, want)
		}
	}
}

// What is written for machines reads back as it was, to the last digit.
func TestMachinesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64().Draw(t, "x")
		s := rapid.StringN(0, 20, -1).Draw(t, "s")
		type row struct {
			X float64 `json:"x"`
			S string  `json:"s"`
		}
		r := RecordsOf([]row{{x, s}})
		var b bytes.Buffer
		if err := Write(&b, "csv", Output{Records: r}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != 2 {
			t.Fatalf("%v, %v", rows, err)
		}
		var back float64
		if err := json.Unmarshal([]byte(rows[1][0]), &back); err != nil || back != x {
			t.Fatalf("%v came back as %v (%v)", x, back, err)
		}
		// encoding/csv reads \r\n inside quotes as \n.
		if want := strings.ReplaceAll(s, "\r\n", "\n"); rows[1][1] != want {
			t.Fatalf("%q came back as %q", s, rows[1][1])
		}
	})
}

// No word of a table gets lost, however long or wide it is.
func TestTableKeepsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[A-Za-z0-9_.()%≥虫-]{1,120}`)
		n := rapid.IntRange(1, 5).Draw(t, "columns")
		table := &Table{}
		var all []string
		for range n {
			w := word.Draw(t, "head")
			table.Columns = append(table.Columns, Column{Head: w, Right: rapid.Bool().Draw(t, "right")})
			all = append(all, w)
		}
		for range rapid.IntRange(0, 4).Draw(t, "rows") {
			row := rapid.SliceOfN(word, n, n).Draw(t, "row")
			table.Add(row...)
			all = append(all, row...)
		}
		text, err := table.text(TextWidth)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]int{}
		for _, w := range strings.Fields(text) { // a wide table's first columns are repeated
			got[w]++
		}
		for _, w := range all {
			if got[w]--; got[w] < 0 {
				t.Fatalf("%q is lost", w)
			}
		}
	})
}

func TestWrapKeepsWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOf(rapid.StringMatching(`[a-z]{1,30}`)).Draw(t, "words")
		width := rapid.IntRange(1, 100).Draw(t, "width")
		got := Wrap(strings.Join(words, " "), width, "  ")
		if d := cmp.Diff(append([]string{}, words...), append([]string{}, strings.Fields(got)...)); d != "" {
			t.Fatal(d)
		}
		for l := range strings.SplitSeq(got, "\n") {
			if len(l) > width && len(strings.Fields(l)) > 1 {
				t.Fatalf("%q is wider than %d", l, width)
			}
		}
	})
}

func TestEscape(t *testing.T) {
	for in, want := range map[string]string{
		"plain":            "plain",
		"a*b":              `a\*b`,
		"<b> < 5 <0.01%":   `\<b> < 5 <0.01%`,
		"run `a*b` or a*b": "run `a*b` or a\\*b",
		"open ` a*b":       "open ` a\\*b",
		`back\slash`:       `back\\slash`,
	} {
		if got := escape(in); got != want {
			t.Errorf("escape(%q) = %q, want %q", in, got, want)
		}
	}
}
