package pilot

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

func read(t *testing.T, text string) *Data {
	t.Helper()
	d, err := Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

var nan = math.NaN()

func TestReadLayouts(t *testing.T) {
	stop := func(name string, line, plants, infested int) Stop {
		return Stop{Name: name, Line: line, Plants: plants, Infested: infested, X: nan, Y: nan}
	}
	tests := []struct {
		name, text string
		want       Data
	}{
		{"one row a stop", "field,stop,plants,infested\nA,1,20,3\nA,2,20,0\nB,1,18,18\n", Data{
			Layout: PerStop, Rows: 3,
			Fields: []Field{
				{Name: "A", Stops: []Stop{stop("1", 2, 20, 3), stop("2", 3, 20, 0)}},
				{Name: "B", Stops: []Stop{stop("1", 4, 18, 18)}},
			}}},
		{"other order, other case, extra columns, spaces", "Infested, who ,Stop,FIELD,plants,sky\n 3 ,Ann,1, A ,20,\n", Data{
			Layout: PerStop, Rows: 1, Ignored: []string{"who", "sky"},
			Fields: []Field{{Name: "A", Stops: []Stop{stop("1", 2, 20, 3)}}}}},
		{"byte order mark and CRLF", "\ufefffield,stop,plants,infested\r\nA,1,20,3\r\n", Data{
			Layout: PerStop, Rows: 1,
			Fields: []Field{{Name: "A", Stops: []Stop{stop("1", 2, 20, 3)}}}}},
		{"quoted cells, blank rows, no last line end", "\"field\",stop,plants,infested\n\n\"Sedge, upper\",1,20,3\n,,,\nB,1,20,4", Data{
			Layout: PerStop, Rows: 2,
			Fields: []Field{
				{Name: "Sedge, upper", Stops: []Stop{stop("1", 3, 20, 3)}},
				{Name: "B", Stops: []Stop{stop("1", 5, 20, 4)}},
			}}},
		{"one row a plant, stops mixed", "field,stop,plant,infested\nA,1,1,0\nA,2,1,1\nA,1,2,1\n", Data{
			Layout: PerPlant, Rows: 3,
			Fields: []Field{{Name: "A", Stops: []Stop{stop("1", 2, 2, 1), stop("2", 3, 1, 1)}}}}},
		{"one row a leaf", "field,stop,plant,leaf,count\nA,1,1,low,7\nA,1,1,up,0\nA,1,2,low,0\nA,1,2,up,0\nA,2,1,low,50\n", Data{
			Layout: PerLeaf, Rows: 5, Tally: 1,
			Fields: []Field{{Name: "A", Stops: []Stop{
				{Name: "1", Line: 2, Plants: 2, Infested: 1, X: nan, Y: nan,
					PlantCounts: []PlantCount{{2, 7, 7}, {2, 0, 0}}, Counts: []Frequency{{0, 3}, {7, 1}}},
				{Name: "2", Line: 6, Plants: 1, Infested: 1, X: nan, Y: nan,
					PlantCounts: []PlantCount{{1, 50, 50}}, Counts: []Frequency{{50, 1}}},
			}}}}},
		{"another date is another field", "field,stop,plants,infested,date,stage,x,y\nA,1,20,3,2026-05-14,leafing,1.5,-2\nA,1,20,9,2026-05-21,ripening,,\n", Data{
			Layout: PerStop, Rows: 2,
			Fields: []Field{
				{Name: "A", Date: "2026-05-14", Stage: "leafing", Stops: []Stop{{Name: "1", Line: 2, Plants: 20, Infested: 3, X: 1.5, Y: -2}}},
				{Name: "A", Date: "2026-05-21", Stage: "ripening", Stops: []Stop{stop("1", 3, 20, 9)}},
			}}},
		{"leaves win over the infested column", "field,stop,plant,leaf,count,infested\nA,1,1,1,4,1\n", Data{
			Layout: PerLeaf, Rows: 1, Tally: 1, Ignored: []string{"infested"},
			Fields: []Field{{Name: "A", Stops: []Stop{{Name: "1", Line: 2, Plants: 1, Infested: 1, X: nan, Y: nan,
				PlantCounts: []PlantCount{{1, 4, 4}}, Counts: []Frequency{{4, 1}}}}}}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if d := cmp.Diff(&test.want, read(t, test.text), cmpopts.EquateNaNs()); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestReadFaults(t *testing.T) {
	const head = "field,stop,plants,infested\n"
	const plants = "field,stop,plant,infested\n"
	const leaves = "field,stop,plant,leaf,count\n"
	tests := []struct{ name, text, want string }{
		{"empty", "", "line 1: the file is empty; accepted is a first line with the columns " + accepted + ", and rows below it"},
		{"only blank lines", "\n\n,,\n", "line 1: the file is empty; accepted is a first line with the columns " + accepted + ", and rows below it"},
		{"header only", head, "line 1: there are no rows below the header"},
		{"semicolons", "field;stop;plants;infested\nA;1;20;x\n", `line 2, column infested: "x" is not a whole number; a whole number from 0 to 100000 is accepted`},
		{"UTF-16", "\xff\xfef\x00i\x00", `line 1: no columns field, stop, plants, infested, found "fi"; accepted is a first line with the columns ` + accepted},
		{"no header", "A,1,20,3\n", `line 1: no columns field, stop, plants, infested, found "A,1,20,3"; accepted is a first line with the columns ` + accepted},
		{"missing column", "field,stop,plant,leaf\nA,1,1,1\n", `line 1: no column count, found "field,stop,plant,leaf"; accepted is a first line with the columns ` + accepted},
		{"missing infested", "field,stop,plant\nA,1,1\n", `line 1: no column infested, found "field,stop,plant"; accepted is a first line with the columns ` + accepted},
		{"column twice", "field,stop,plants,infested,Plants\nA,1,20,3,20\n", "line 1, column plants: the column stands there 2 times; once is accepted"},
		{"plant or plants", "field,stop,plants,plant,infested\nA,1,20,1,1\n", "line 1: there is a column plant and a column plants: one row a plant or one row a stop? Rename the one that is not meant"},
		{"x without y", "field,stop,plants,infested,x\nA,1,20,3,5\n", "line 1: of the columns x and y only one is there; both or neither are accepted"},
		{"short row", head + "A,1,20\n", "line 2: the row has 3 cells, the header has 4; as many as in the header are accepted"},
		{"long row", head + "A,1,20,3,\n", "line 2: the row has 5 cells, the header has 4; as many as in the header are accepted"},
		{"a row with semicolons", head + "A;1;20;3\n", "line 2: the row has 1 cell, the header has 4; as many as in the header are accepted"},
		{"no field", head + ",1,20,3\n", "line 2, column field: the cell is empty; a name or number is accepted"},
		{"no stop", head + "A, ,20,3\n", "line 2, column stop: the cell is empty; a name or number is accepted"},
		{"a word for a number", head + "A,1,twenty,3\n", `line 2, column plants: "twenty" is not a whole number; a whole number from 1 to 100000 is accepted`},
		{"a decimal", head + "A,1,20,3.5\n", `line 2, column infested: "3.5" is not a whole number; a whole number from 0 to 100000 is accepted`},
		{"no number", head + "A,1,20,\n", "line 2, column infested: the cell is empty; a whole number from 0 to 100000 is accepted"},
		{"negative", head + "A,1,20,-3\n", `line 2, column infested: "-3" is out of range; a whole number from 0 to 100000 is accepted`},
		{"no plants", head + "A,1,0,0\n", `line 2, column plants: "0" is out of range; a whole number from 1 to 100000 is accepted`},
		{"huge", head + "A,1,99999999999999999999,0\n", `line 2, column plants: "99999999999999999999" is out of range; a whole number from 1 to 100000 is accepted`},
		{"more infested than plants", head + "A,1,20,21\n", "line 2, column infested: 21 infested of 20 plants; from 0 to the number of plants is accepted"},
		{"stop twice", head + "A,1,20,3\nB,1,20,3\nA,1,20,4\n", `line 4, column stop: stop "1" of field "A" was already given on line 2; one row a stop is accepted`},
		{"plant twice", plants + "A,1,7,0\nA,1,8,0\nA,1,7,1\n", `line 4, column plant: plant "7" of stop "1", field "A", was already given on line 2; one row a plant is accepted`},
		{"leaf twice", leaves + "A,1,7,up,0\nA,1,7,low,4\nA,1,7,up,9\n", `line 4, column leaf: leaf "up" of plant "7", stop "1", field "A", was already given on line 2; one row a leaf is accepted`},
		{"infested is yes or no", plants + "A,1,7,2\n", `line 2, column infested: "2" is out of range; 0 (not infested) or 1 (infested) is accepted`},
		{"no plant", plants + "A,1,,1\n", "line 2, column plant: the cell is empty; a name or number is accepted"},
		{"no leaf", leaves + "A,1,1,,4\n", "line 2, column leaf: the cell is empty; a name or number is accepted"},
		{"negative count", leaves + "A,1,1,1,-1\n", `line 2, column count: "-1" is out of range; a whole number from 0 to 1000000 is accepted`},
		{"not a number", leaves + "A,1,1,1,NaN\n", `line 2, column count: "NaN" is not a whole number; a whole number from 0 to 1000000 is accepted`},
		{"a date in another form", "field,stop,plants,infested,date\nA,1,20,3,5/14/2026\n", `line 2, column date: "5/14/2026" is not a date; the forms 2026-05-14 (year-month-day) and 14.5.2026 (day.month.year) are accepted`},
		{"no such day", "field,stop,plants,infested,date\nA,1,20,3,2026-02-30\n", `line 2, column date: "2026-02-30" is not a date; the forms 2026-05-14 (year-month-day) and 14.5.2026 (day.month.year) are accepted`},
		{"half a date column", "field,stop,plants,infested,date\nA,1,20,3,2026-05-14\nA,2,20,3,\n", "line 3, column date: the cell is empty, but line 2 has a date; all rows or none is accepted"},
		{"half a stage column", "field,stop,plants,infested,stage\nA,1,20,3,\nA,2,20,3,leafing\n", "line 2, column stage: the cell is empty, but line 3 has a stage; all rows or none is accepted"},
		{"a word for a place", "field,stop,plants,infested,x,y\nA,1,20,3,gate,2\n", `line 2, column x: "gate" is not a place in metres; a number is accepted (such as 120.5), or x and y both empty`},
		{"half a place", "field,stop,plants,infested,x,y\nA,1,20,3,,2\n", `line 2, column x: "" is not a place in metres; a number is accepted (such as 120.5), or x and y both empty`},
		{"infinitely far", "field,stop,plants,infested,x,y\nA,1,20,3,1,Inf\n", `line 2, column y: "Inf" is not a place in metres; a number is accepted (such as 120.5), or x and y both empty`},
		{"two places", "field,stop,plant,infested,x,y\nA,1,1,0,1,2\nA,1,2,0,1,3\n", `line 3, column x: stop "1" is at 1,3 here and at 1,2 further up; one place a stop is accepted`},
		{"Latin-1", head + "L\xe4nge,1,20,3\n", `line 2, column field: "L?nge" is not UTF-8 text; save the file as CSV in UTF-8`},
		{"a quote inside", head + "A,1,2\"0,3\n", "line 2: the quotes do not fit (byte 6 of the line); a cell with a quote or comma stands in quotes, and a quote in it is written twice"},
		{"a quote left open", head + "A,1,20,3\n\"B,1,20,3\nC,1,20,3\n", "line 3: a quote is opened and not closed before line 4; a cell with a quote or comma stands in quotes, and a quote in it is written twice"},
		{"all faults at once", head + "A,1,x,-1\nA,2,20,30\n,3,20,1\nA,4,20,2\nA,4,20,2\n",
			`line 2, column plants: "x" is not a whole number; a whole number from 1 to 100000 is accepted
line 2, column infested: "-1" is out of range; a whole number from 0 to 100000 is accepted
line 3, column infested: 30 infested of 20 plants; from 0 to the number of plants is accepted
line 4, column field: the cell is empty; a name or number is accepted
line 6, column stop: stop "4" of field "A" was already given on line 5; one row a stop is accepted`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			d, err := Read(strings.NewReader(test.text))
			var errs *Errors
			if !errors.As(err, &errs) || d != nil {
				t.Fatalf("got %v, %v", d, err)
			}
			if diff := cmp.Diff(test.want, err.Error()); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A cause that spoils many rows is told once; causes beyond the twentieth are
// counted.
func TestFaultsAreCapped(t *testing.T) {
	text := "field,stop,plants,infested\n" + strings.Repeat("A,1,20,x\n", 444)
	_, err := Read(strings.NewReader(text))
	var errs *Errors
	if !errors.As(err, &errs) {
		t.Fatal(err)
	}
	// The first row has a fault in infested, the others are a stop twice.
	if errs.Total != 444 || len(errs.First) != 2 || errs.First[1].More != 442 || errs.Others() != 0 {
		t.Errorf("%d faults, %d kept", errs.Total, len(errs.First))
	}
	if got := err.Error(); strings.Count(got, "\n") != 1 || !strings.HasSuffix(got, "accepted (and so in 442 more rows)") {
		t.Error(got)
	}
	one, ok := errors.AsType[*Error](err)
	if !ok || one.Line != 2 || one.Column != "infested" {
		t.Errorf("%+v", one)
	}
	many := &Errors{}
	for i := range 30 {
		many.add(i+1, fmt.Sprint(i), "is wrong")
	}
	if many.Others() != 10 || len(many.First) != MaxErrors || !strings.HasSuffix(many.Error(), "\nand 10 more") {
		t.Error(many)
	}
}

// The same table in the dialects of spreadsheets.
func TestDialects(t *testing.T) {
	const plain = "field,stop,plants,infested,date,x,y\n\"Sedge, upper\",1,20,3,2026-05-04,1.5,-2\nB,1,20,4,2026-05-14,0,7.25\n"
	want := read(t, plain)
	semicolons := "field;stop;plants;infested;date;x;y\nSedge, upper;1;20;3;4.5.2026;1,5;-2\nB;1;20;4;14.05.2026;0;7,25\n"
	wide := func(s string, little bool) string {
		var order binary.AppendByteOrder = binary.BigEndian
		if little {
			order = binary.LittleEndian
		}
		var b []byte
		for _, u := range append([]uint16{0xFEFF}, utf16.Encode([]rune(s))...) {
			b = order.AppendUint16(b, u)
		}
		return string(b)
	}
	for name, text := range map[string]string{
		"semicolons, decimal commas, day.month.year": semicolons,
		"tabs":                       strings.ReplaceAll(semicolons, ";", "\t"),
		"bars":                       strings.ReplaceAll(semicolons, ";", "|"),
		"byte order mark":            "\ufeff" + semicolons,
		"UTF-16, little end first":   wide(semicolons, true),
		"UTF-16, big end first":      wide(plain, false),
		"commas, quoted decimals":    strings.ReplaceAll(strings.ReplaceAll(plain, "1.5", `"1,5"`), "7.25", `"7,25"`),
		"blank lines before, CR, LF": "\r\n\r\n" + strings.ReplaceAll(semicolons, "\n", "\r\n"),
	} {
		got := read(t, text)
		for i := range got.Fields {
			got.Fields[i].Stops[0].Line = want.Fields[i].Stops[0].Line
		}
		if d := cmp.Diff(want, got, cmpopts.EquateNaNs()); d != "" {
			t.Errorf("%s:\n%s", name, d)
		}
	}
}

// Two visits of a field on one day are two, where the table tells them apart.
func TestVisits(t *testing.T) {
	d := read(t, "visit,field,date,stop,plants,infested\nv1,A,2026-05-14,1,20,3\nv2,A,2026-05-14,1,20,4\nv1,A,2026-05-14,2,20,5\n")
	if len(d.Fields) != 2 || d.Fields[0].Infested() != 8 || d.Fields[1].Infested() != 4 || len(d.Ignored) > 0 {
		t.Errorf("%+v", d)
	}
}

// The rows of stages that count insects are passed over, and said.
func TestOtherMeasure(t *testing.T) {
	d := read(t, "field,stop,plants,infested,insects\nA,1,20,3,\nB,1,20,,17\n")
	if d.Rows != 1 || len(d.Fields) != 1 || len(d.Notes) != 1 || !strings.HasSuffix(d.Notes[0], ": 1") {
		t.Errorf("%+v", d)
	}
	if _, err := Read(strings.NewReader("field,stop,plants,infested,insects\nB,1,20,,17\n")); err == nil || !strings.Contains(err.Error(), "every row counts insects") {
		t.Error(err)
	}
}

// A mistyped stage makes another visit, and a note.
func TestNearStage(t *testing.T) {
	d := read(t, "field,stop,plants,infested,stage\nA,1,20,3,leafing\nB,1,20,3,leafing\nA,2,20,3,leafin\n")
	if len(d.Fields) != 3 || len(d.Notes) != 1 || !strings.Contains(d.Notes[0], `"leafin" (first on line 4) is like "leafing"`) {
		t.Errorf("%q", d.Notes)
	}
	for _, c := range []struct {
		a, b string
		want bool
	}{{"bud", "Bud", true}, {"flag", "falg", true}, {"flag", "flags", true}, {"flag", "slag", true}, {"pod fill", "pod-fill", true},
		{"flag", "pods", false}, {"V1", "V2", false}, {"leaf 1", "leaf 2", false}, {"leaf 1", "leaf 11", false}, {"flag", "flaaag", false}, {"ab", "ac", false}} {
		if got := nearStage(c.a, c.b); got != c.want || nearStage(c.b, c.a) != c.want {
			t.Errorf("%q and %q: %v", c.a, c.b, got)
		}
	}
}

func TestReaderFails(t *testing.T) {
	broken := errors.New("cable cut")
	in := io.MultiReader(strings.NewReader("field,stop,plants,infested\nA,1,20,3\n"), iotest.ErrReader(broken))
	if _, err := Read(in); !errors.Is(err, broken) {
		t.Error(err)
	}
	if _, err := Read(iotest.ErrReader(broken)); !errors.Is(err, broken) {
		t.Error(err)
	}
}

// endless never ends, and counts what was taken from it.
type endless struct{ taken int }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'x'
	}
	e.taken += len(p)
	return len(p), nil
}

func TestOpenQuoteDoesNotSwallowTheFile(t *testing.T) {
	rest := &endless{}
	_, err := Read(io.MultiReader(strings.NewReader("field,stop,plants,infested\nA,1,20,3\n\"B"), rest))
	want := "line 3: the row does not end within 1048576 bytes; is a quote opened and not closed?"
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	if rest.taken > 2*maxRow {
		t.Errorf("%d bytes read", rest.taken)
	}
}

func TestAtTally(t *testing.T) {
	d := read(t, "field,stop,plant,leaf,count\nA,1,1,1,49\nA,1,1,2,3\nA,1,2,1,50\nA,1,3,1,0\n")
	for tally, want := range map[int]int{1: 2, 49: 2, 50: 1, 51: 0} {
		at, err := d.AtTally(tally)
		if err != nil {
			t.Fatal(err)
		}
		if got := at.Fields[0].Infested(); got != want || at.Tally != tally {
			t.Errorf("tally %d: %d infested, want %d", tally, got, want)
		}
	}
	if d.Tally != 1 || d.Fields[0].Infested() != 2 {
		t.Error("the data were changed")
	}
	if _, err := d.AtTally(0); err == nil || err.Error() != "tally number 0, must be at least 1" {
		t.Error(err)
	}
	stops := read(t, "field,stop,plants,infested\nA,1,20,3\n")
	if _, err := stops.AtTally(5); err == nil || err.Error() != "a tally number needs counts (one row a leaf), the data have one row a stop" {
		t.Error(err)
	}
}

func TestField(t *testing.T) {
	d := read(t, "field,stop,plant,leaf,count,x,y\nA,1,1,1,4,0,0\nA,2,1,1,4,5,5\nA,2,2,1,0,5,5\nB,1,1,1,0,,\n")
	a := d.Fields[0]
	if a.Plants() != 3 || a.Infested() != 2 || math.Abs(a.Share()-2.0/3) > 1e-15 {
		t.Error(a.Plants(), a.Infested(), a.Share())
	}
	if diff := cmp.Diff([]Frequency{{0, 1}, {4, 2}}, a.Counts()); diff != "" {
		t.Error(diff)
	}
	for want, f := range map[string]Field{
		"A":                       {Name: "A"},
		"A (2026-05-14)":          {Name: "A", Date: "2026-05-14"},
		"A (leafing)":             {Name: "A", Stage: "leafing"},
		"A (2026-05-14, leafing)": {Name: "A", Date: "2026-05-14", Stage: "leafing"},
	} {
		if f.Label() != want {
			t.Errorf("%s, want %s", f.Label(), want)
		}
	}
}

// Whatever is written in any layout, column order and row order comes back.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		leaves := rapid.IntRange(1, 3).Draw(t, "leaves")
		seed := rapid.Uint64().Draw(t, "seed")
		r := rand.New(rand.NewPCG(seed, 0))
		perStop := [][]string{{"field", "stop", "plants", "infested"}}
		perPlant := [][]string{{"field", "stop", "plant", "infested"}}
		perLeaf := [][]string{{"field", "stop", "plant", "leaf", "count"}}
		want := map[string][2]int{}
		name := rapid.StringMatching(`[A-Za-z"',; ]{0,6}[a-z0-9"]`)
		for i := range rapid.IntRange(1, 4).Draw(t, "fields") {
			f := strings.TrimSpace(name.Draw(t, "field") + strconv.Itoa(i))
			for j := range rapid.IntRange(1, 4).Draw(t, "stops") {
				s := strconv.Itoa(j)
				plants, infested := 1+r.IntN(6), 0
				for p := range plants {
					largest := 0
					for l := range leaves {
						c := max(0, r.IntN(6)-3)
						largest = max(largest, c)
						perLeaf = append(perLeaf, []string{f, s, fmt.Sprint("p", p), fmt.Sprint(l), fmt.Sprint(c)})
					}
					perPlant = append(perPlant, []string{f, s, fmt.Sprint(p), fmt.Sprint(min(largest, 1))})
					infested += min(largest, 1)
				}
				perStop = append(perStop, []string{f, s, fmt.Sprint(plants), fmt.Sprint(infested)})
				want[f+"/"+s] = [2]int{plants, infested}
			}
		}
		for _, table := range [][][]string{perStop, perPlant, perLeaf} {
			rows := table[1:]
			r.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
			order := r.Perm(len(table[0]))
			var buf bytes.Buffer
			w := csv.NewWriter(&buf)
			for _, row := range table {
				out := make([]string, len(row))
				for i, c := range order {
					out[i] = row[c]
				}
				w.Write(out)
			}
			w.Flush()
			d, err := Read(&buf)
			if err != nil {
				t.Fatal(err)
			}
			got := map[string][2]int{}
			for _, f := range d.Fields {
				for _, s := range f.Stops {
					got[f.Name+"/"+s.Name] = [2]int{s.Plants, s.Infested}
				}
			}
			if diff := cmp.Diff(want, got); diff != "" || d.Rows != len(rows) {
				t.Fatalf("%d rows: %s", d.Rows, diff)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"field,stop,plants,infested\nA,1,20,3\n",
		"\ufefffield,stop,plant,infested,date,stage,x,y\r\nA,1,1,0,2026-05-14,leafing,1,2\r\n",
		"field,stop,plant,leaf,count\nA,1,1,1,4\nA,1,1,2,0\n",
		"field;stop;plants;infested\nA;1;20;3\n",
		"field,stop,plants,infested\n\"A,1,20,3\n",
		"field,stop,plants,infested\nA,1,20\nA,1,2,3,4\n",
		"\xff\xfe", "\n,\n", "\xfe\xff\x00f\x00i", "field|stop|plants|infested|visit\nA|1|20|3|x\n",
		"field;stop;plants;infested;date;x;y\nA;1;20;3;4.5.2026;1,5;2\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := Read(bytes.NewReader(text))
		if err != nil {
			checkErrors(t, err)
			return
		}
		checkData(t, d)
	})
}

func checkErrors(t *testing.T, err error) {
	var errs *Errors
	if !errors.As(err, &errs) || errs.Total < 1 || len(errs.First) > MaxErrors {
		t.Fatalf("%#v", err)
	}
	told := errs.Others()
	for _, e := range errs.First {
		told += 1 + e.More
	}
	if told != errs.Total {
		t.Fatalf("%d faults told, of %d", told, errs.Total)
	}
	for _, e := range errs.First {
		if e.Line < 1 || e.Message == "" || strings.ContainsAny(e.Error(), "\n\r") {
			t.Fatalf("%#v", e)
		}
	}
}

func checkData(t *testing.T, d *Data) {
	if len(d.Fields) == 0 || d.Rows == 0 {
		t.Fatal("no data and no error")
	}
	rows := 0
	for _, f := range d.Fields {
		seen := map[string]bool{}
		for _, s := range f.Stops {
			if seen[s.Name] || s.Name == "" || f.Name == "" {
				t.Fatalf("stop %q of field %q", s.Name, f.Name)
			}
			seen[s.Name] = true
			if s.Plants < 1 || s.Infested < 0 || s.Infested > s.Plants {
				t.Fatalf("%d infested of %d", s.Infested, s.Plants)
			}
			leaves, insects := 0, 0
			for _, p := range s.PlantCounts {
				leaves, insects = leaves+p.Leaves, insects+p.Insects
			}
			for _, c := range s.Counts {
				leaves, insects = leaves-c.Leaves, insects-c.Count*c.Leaves
				rows += c.Leaves
			}
			if leaves != 0 || insects != 0 {
				t.Fatal("plants and leaves do not fit")
			}
			switch d.Layout {
			case PerStop:
				rows++
			case PerPlant:
				rows += s.Plants
			}
		}
	}
	if rows != d.Rows {
		t.Fatalf("%d rows read, %d kept", d.Rows, rows)
	}
}

func BenchmarkRead(b *testing.B) {
	const rows = 1_000_000
	var stops, leaves bytes.Buffer
	stops.WriteString("field,stop,plants,infested\n")
	leaves.WriteString("field,stop,plant,leaf,count\n")
	for i := range rows {
		fmt.Fprintf(&stops, "Field %d,%d,20,%d\n", i/12, i%12, i%20)
		fmt.Fprintf(&leaves, "Field %d,%d,%d,%d,%d\n", i/480, i/40%12, i/2%20, i%2, i%97)
	}
	for name, text := range map[string][]byte{"stops": stops.Bytes(), "leaves": leaves.Bytes()} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Read(bytes.NewReader(text)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
