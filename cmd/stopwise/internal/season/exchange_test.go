package season

import (
	"errors"
	"fmt"
	"stopwise/plans"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

const cardID = "0b5d6a3e-94c7-4d0a-9a57-0f6b8f6d3c11"

func cardText(plan string) string {
	return `Hello, three fields today:
stopwise-visit {"v":1,"id":"` + cardID + `","plan":"` + plan + `","field":"North","date":"2026-07-01","stage":"leafing","counts":[0,3],"plants":[20,18],"changes":3,"note":"windy"}

> stopwise-visit {"v":1,"id":"0b5d6a3e-94c7-4d0a-9a57-0f6b8f6d3c12","plan":"` + plan + `","field":"South","date":"2026-07-01","stage":"podding","counts":[1],"signs":[1],"changes":1}
`
}

func TestReadCards(t *testing.T) {
	cards, passed, err := ReadCards(strings.NewReader(cardText("sha256:ab")))
	if err != nil || passed != 1 || len(cards) != 2 {
		t.Fatal(cards, passed, err)
	}
	want := CardVisit{V: 1, ID: cardID, Plan: "sha256:ab", Field: "North", Date: "2026-07-01", Stage: "leafing", Counts: []int{0, 3}, Plants: []int{20, 18}, Changes: 3, Note: "windy"}
	if d := cmp.Diff(want, cards[0]); d != "" {
		t.Error(d)
	}
	if cards[1].Field != "South" || cards[1].Signs[0] != 1 {
		t.Errorf("%+v", cards[1])
	}
	line, err := cards[0].Line()
	if err != nil || line != strings.Split(cardText("sha256:ab"), "\n")[1] {
		t.Errorf("written again: %s, %v", line, err)
	}
}

func TestReadCardsFaults(t *testing.T) {
	good := strings.Split(cardText("sha256:ab"), "\n")[1]
	for change, want := range map[[2]string]string{
		{`"v":1`, `"v":2`}:                           "format version 2",
		{`"counts":[0,3]`, `"counts":[]`}:            "counts is empty",
		{`"counts":[0,3]`, `"counts":[0,-3]`}:        "stop 2: count -3",
		{`"counts":[0,3]`, `"counts":[0,3.5]`}:       "damaged",
		{`[20,18]`, `[20]`}:                          "plants has 1 numbers, and counts 2",
		{`[20,18]`, `[20,0]`}:                        "stop 2: 0 plants",
		{`"changes":3`, `"changes":1`}:               "changes is 1",
		{`"changes":3`, `"changes":3,"signs":[1]`}:   "signs has 1 numbers",
		{`"changes":3`, `"changes":3,"signs":[1,2]`}: "stop 2: sign 2",
		{`2026-07-01`, `1.7.`}:                       "not a date",
		{`"North"`, `" "`}:                           "field is empty",
		{cardID, "17"}:                               "id is",
		{`"note"`, `"nota"`}:                         "unknown field",
		{`"windy"}`, `"win`}:                         "copy the whole line again",
	} {
		text := "\n" + strings.Replace(good, change[0], change[1], 1)
		_, _, err := ReadCards(strings.NewReader(text))
		e, ok := errors.AsType[*plans.InputError](err)
		if !ok || e.Line != 2 || !strings.Contains(e.Message, want) {
			t.Errorf("%q: %v, want %q in line 2", change[1], err, want)
		}
	}
}

func addCards(t *testing.T, f *File, text string) (Outcome, error) {
	t.Helper()
	cards, _, err := ReadCards(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	var vs []*Visit
	for _, c := range cards {
		vs = append(vs, c.Visit(c.Stage, 20))
	}
	o, errs := f.AddCounts(vs, "2026-07-01T18:00:00Z")
	return o, errors.Join(errs...)
}

// A card's scout may know of a find that the file does not have: the next visit
// is then counted from it, here and on the card.
func TestCardKnowsOfAFind(t *testing.T) {
	for found, want := range map[string]bool{"": false, `,"found":true`: true} {
		f, plan := newFile(t)
		card := func(counts, changes string) string {
			return fmt.Sprintf(`stopwise-visit {"v":1,"id":"%s","plan":"%s","field":"North","date":"2026-07-01","stage":"leafing","counts":[%s],"changes":%s%s}`, cardID, plan, counts, changes, found)
		}
		for _, text := range []string{card("0", "1"), card("0,0", "2")} {
			if _, err := addCards(t, f, text); err != nil {
				t.Fatal(err)
			}
			if got := all(t, f)[0].Told.FoundBefore; got != want {
				t.Errorf("%s: found before is %v", text, got)
			}
		}
		v := all(t, f)[0]
		if _, err := f.Append(v, Entry{Kind: KindNote, Note: "windy", At: "2026-07-01T19:00:00Z"}); err != nil {
			t.Fatal(err)
		}
		if got := all(t, f)[0].Told.FoundBefore; got != want {
			t.Errorf("after a note: found before is %v, want %v", got, want)
		}
		if r, err := f.Verify(); err != nil || len(r.Faults) > 0 {
			t.Error(r.Faults, err)
		}
	}
}

// Visits of one field and day that came in at the same time keep the card's order:
// the last one says when the field is due.
func TestCardsKeepTheirOrder(t *testing.T) {
	for range 5 {
		f, plan := newFile(t)
		var text strings.Builder
		for _, counts := range []string{"0", "1", "2", "3"} {
			fmt.Fprintf(&text, `stopwise-visit {"v":1,"id":"%s","plan":"%s","field":"North","date":"2026-07-01","stage":"leafing","counts":[%s],"changes":1}`+"\n", uuid.NewString(), plan, counts)
		}
		if _, err := addCards(t, f, text.String()); err != nil {
			t.Fatal(err)
		}
		_, of := standings(all(t, f))
		if last := of["North"].last; len(of) != 1 || last.Told.Total != 3 {
			t.Fatalf("the last visit: %+v", last)
		}
	}
}

// A card hands the same visit over again and again, longer and corrected.
func TestCardsGoOn(t *testing.T) {
	f, plan := newFile(t)
	card := func(counts, changes string) string {
		return fmt.Sprintf(`stopwise-visit {"v":1,"id":"%s","plan":"%s","field":"North","date":"2026-07-01","stage":"leafing","counts":[%s],"changes":%s}`, cardID, plan, counts, changes)
	}
	for _, c := range []struct {
		counts, changes string
		want            Outcome
		stops           string
		entries         int
	}{
		{"1", "1", Outcome{Added: 1}, "[1]", 1},
		{"1", "1", Outcome{Same: 1}, "[1]", 1},
		{"1,2", "2", Outcome{Extended: 1}, "[1 2]", 2},
		{"1,2,3", "4", Outcome{Extended: 1}, "[1 2 3]", 3},
		{"4,2,3", "5", Outcome{Extended: 1}, "[4 2 3]", 4}, // corrected on the card
		{"1,2,3", "4", Outcome{Same: 1}, "[4 2 3]", 4},     // the older text once more
		{"4,2", "6", Outcome{Extended: 1}, "[4 2]", 5},     // taken back
		{"4,2", "6", Outcome{Same: 1}, "[4 2]", 5},
	} {
		o, err := addCards(t, f, card(c.counts, c.changes))
		if err != nil || o != c.want {
			t.Errorf("%s: %+v, %v, want %+v", c.counts, o, err, c.want)
		}
		vs := all(t, f)
		stops, err := vs[0].Stops()
		if err != nil {
			t.Fatal(err)
		}
		var got []int
		for _, s := range stops {
			got = append(got, s.Total)
		}
		if fmt.Sprint(got) != c.stops || len(vs) != 1 || len(vs[0].Entries) != c.entries {
			t.Errorf("%s: stops %v, %d entries; want %s, %d", c.counts, got, len(vs[0].Entries), c.stops, c.entries)
		}
	}
	if _, err := addCards(t, f, card("9,9", "6")); err == nil || !strings.Contains(err.Error(), "differ") {
		t.Errorf("other stops after the same changes: %v", err)
	}
	for name, text := range map[string]string{
		"another field":  strings.Replace(card("4,2", "7"), "North", "South", 1),
		"no such plan":   strings.Replace(card("4,2", "7"), plan, "sha256:00", 1),
		"no such stage":  strings.Replace(card("4,2", "7"), "leafing", "ripening", 1),
		"too many":       card("4,22", "7"),
		"one of several": strings.Replace(card("1", "1"), cardID[:8], "00000000", 1) + "\n" + card("9,9", "6"),
	} {
		if o, err := addCards(t, f, text); err == nil || o != (Outcome{}) {
			t.Errorf("%s: %+v, %v", name, o, err)
		}
	}
	if n := len(all(t, f)); n != 1 {
		t.Errorf("%d visits after faults, want 1", n)
	}
	sound(t, f)
}

func TestCardNotesAndSigns(t *testing.T) {
	f, plan := newFile(t)
	for _, want := range []Outcome{{Added: 2}, {Same: 2}} {
		if o, err := addCards(t, f, cardText(plan)); err != nil || o != want {
			t.Errorf("%+v, %v", o, err)
		}
	}
	vs := all(t, f)
	if e := vs[0].Entries; len(e) != 3 || e[2].Note != "windy" || e[1].Plants != 18 {
		t.Errorf("%+v", e)
	}
	if e := vs[1].Entries; len(e) != 1 || e[0].Sign == nil || !*e[0].Sign {
		t.Errorf("%+v", e)
	}
	sound(t, f)
}

func FuzzReadCards(f *testing.F) {
	f.Add(cardText("sha256:ab"))
	f.Add("stopwise-visit {}\nstopwise-visit [1]\nstopwise-visit")
	f.Add(`stopwise-visit {"v":1,"counts":[1e9]} stopwise-visit {"v":1}`)
	f.Fuzz(func(t *testing.T, text string) {
		cards, _, err := ReadCards(strings.NewReader(text))
		if err == nil && len(cards) > strings.Count(text, "stopwise-visit") {
			t.Fatalf("%d visits in %q", len(cards), text)
		}
		for _, c := range cards {
			line, err := c.Line()
			if err != nil {
				t.Fatal(err)
			}
			again, _, err := ReadCards(strings.NewReader(line))
			if err != nil || len(again) != 1 || cmp.Diff(c, again[0]) != "" {
				t.Fatalf("%+v written and read: %+v, %v", c, again, err)
			}
			if stops, err := c.Visit("", 20).Stops(); err != nil || len(stops) != len(c.Counts) {
				t.Fatalf("%+v: %v, %v", c, stops, err)
			}
		}
	})
}

func stageLeafing(plan, name string) (string, int, bool, error) {
	if name != "" && name != "leafing" {
		return "", 0, false, fmt.Errorf("no stage %q", name)
	}
	return "leafing", 20, false, nil
}

func TestTable(t *testing.T) {
	text := "\ufeffDate, field,weather,stop,infested,plants,sign,stage\n" +
		"2026-07-01,North,dry,2,3,18,yes,leafing\n" +
		"2026-07-01,\"North\",dry,1,0,,,\n" +
		"2026-07-02,North,wet,1,5,20,no,leafing\n"
	rows, err := ReadTable(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	vs, err := VisitsOf(rows, "sha256:ab", stageLeafing)
	if err != nil {
		t.Fatal(err)
	}
	// The same as a spreadsheet of another language writes it.
	other := strings.NewReplacer(",", ";", "2026-07-01", "1.7.2026", "2026-07-02", "2.7.2026").Replace(text)
	if again, err := ReadTable(strings.NewReader(other)); err != nil || cmp.Diff(rows, again) != "" {
		t.Errorf("%v\n%s", err, cmp.Diff(rows, again))
	}
	yes, no := true, false
	want := []Entry{{Kind: KindStop, Stop: 1, Plants: 20}, {Kind: KindStop, Stop: 2, Total: 3, Plants: 18, Sign: &yes}}
	if len(vs) != 2 || vs[0].Field != "North" || vs[0].Source != "import" {
		t.Fatalf("%+v", vs)
	}
	if d := cmp.Diff(want, vs[0].Entries); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]Entry{{Kind: KindStop, Stop: 1, Total: 5, Plants: 20, Sign: &no}}, vs[1].Entries); d != "" {
		t.Error(d)
	}
	// The ids follow from what the rows say, so that a table can be read again.
	again, err := VisitsOf(rows, "sha256:ab", stageLeafing)
	if err != nil || again[0].ID != vs[0].ID || vs[0].ID == vs[1].ID {
		t.Errorf("%+v, %v", again, err)
	}
}

func TestTableFaults(t *testing.T) {
	for text, want := range map[string]string{
		"":                                "the table is empty",
		"field date stop infested\n":      `line 1, column 1: no column "field"`,
		"field,date,stop\n":               `no column "infested" or "insects"`,
		"field,date,stop,infested,stop\n": `column "stop" appears twice`,
		"field,date,stop,infested\nA,2026-07-01,1\n":              "line 2, column 1: 3 cells; the header has 4",
		"field,date,stop,infested\nA,2026-07-01,1,3.5\n":          `line 2, column 16: infested: "3.5" is not a whole number of 0 or more`,
		"field,date,stop,infested\nA,2026-07-01,0,3\n":            `stop: "0" is not a whole number of 1 or more`,
		"field,date,stop,infested\n,2026-07-01,1,3\n":             "field: is empty",
		"field,date,stop,infested\nA,1.7.26,1,3\n":                "date: ",
		"field,date,stop,infested,sign\nA,2026-07-01,1,3,maybe\n": `sign: "maybe"`,
		"field,date,stop,infested,insects\nA,2026-07-01,1,3,4\n":  "both given",
		"field,date,stop,infested,visit\nA,2026-07-01,1,3,7\n":    "is not an id",
		"field,date,stop,infested\n\"A,2026-07-01,1,3\n":          "line",
	} {
		if _, err := ReadTable(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	for text, want := range map[string]string{
		"A,2026-07-01,2,3\n":                   "the next stop is 1",
		"A,2026-07-01,1,3\nA,2026-07-01,1,3\n": "the next stop is 2",
	} {
		rows, err := ReadTable(strings.NewReader("field,date,stop,infested\n" + text))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := VisitsOf(rows, "sha256:ab", stageLeafing); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	rows, _ := ReadTable(strings.NewReader("field,date,stop,infested,visit,stage\nA,2026-07-01,1,3," + cardID + ",\nB,2026-07-01,2,3," + cardID + ",\nA,2026-07-01,2,3,,pod fill\n"))
	_, err := VisitsOf(rows, "sha256:ab", stageLeafing)
	if err == nil || !strings.Contains(err.Error(), "another field, date, stage, plan or last in line 2") || !strings.Contains(err.Error(), "line 4, column 1: no stage") {
		t.Errorf("%v", err)
	}
}

func FuzzReadTable(f *testing.F) {
	f.Add("field,date,stop,infested\nA,2026-07-01,1,3\n")
	f.Add("field,date,stop,infested,plants,sign,visit,plan,stage,insects\nA,2026-07-01,1,,20,yes,,,leafing,7\n\"")
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := ReadTable(strings.NewReader(text))
		if err != nil {
			return
		}
		vs, err := VisitsOf(rows, "sha256:ab", stageLeafing)
		if err != nil {
			return
		}
		n := 0
		for _, v := range vs {
			n += len(v.Entries)
		}
		if n != len(rows) {
			t.Fatalf("%d rows, %d stops", len(rows), n)
		}
	})
}

func FuzzReadDocument(f *testing.F) {
	f.Add(`{"kind":"stopwise season","version":1,"plans":{},"visits":[]}`)
	f.Add(`{"kind":"stopwise season","version":1,"plans":{"a":{}},"visits":[null,{"id":""}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		none := documentTaker{
			plans:    func(map[string]string) error { return nil },
			visit:    func(*Visit) error { return nil },
			expected: func([]string) error { return nil },
		}
		if readDocument(strings.NewReader(text), none) == nil && !strings.Contains(text, "season") && !strings.Contains(text, `\\u`) {
			t.Fatalf("%q was taken", text)
		}
	})
}
