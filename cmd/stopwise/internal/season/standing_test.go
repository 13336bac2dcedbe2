package season

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stopwise/plans"
)

const typed = "2026-07-02T08:00:00Z"

func dueText(t *testing.T, f *File, date string) (out []string) {
	t.Helper()
	list, err := f.Due(date, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range list.Fields {
		s := fmt.Sprintf("%s %d", d.Field, d.Days)
		if d.Visit == nil {
			s = d.Field + " never visited"
		}
		if d.Unfinished {
			s += " unfinished"
		}
		if d.Decided != nil {
			s += " " + d.Decided.Told.Verdict
		}
		out = append(out, s)
	}
	for _, v := range list.Odd {
		out = append(out, "odd "+v.Field+" "+v.Date)
	}
	return out
}

func verdictOf(t *testing.T, f *File, field string) string {
	t.Helper()
	s, err := f.Summary(Filter{Field: field}, func(string, string) (bool, error) { return false, nil })
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Fields) == 0 {
		return "none"
	}
	return fmt.Sprint(s.Fields[0].Verdict().Told.Verdict, " of ", s.All.Visits)
}

// A visit without stops counts for nothing, and one without a verdict does not
// hide the one before it.
func TestVerdictStays(t *testing.T) {
	f, plan := newFile(t)
	record(t, f, NewVisit("North", "2026-07-01", "leafing", plan), stop(1, 20), stop(2, 20))
	if got := verdictOf(t, f, "North"); got != "act of 1" {
		t.Fatal(got)
	}
	empty := NewVisit("North", "2026-07-02", "leafing", plan)
	record(t, f, empty, stop(1, 0), Entry{Kind: KindUndo, Stop: 1}, Entry{Kind: KindNote, Note: "wrong field"})
	if got := verdictOf(t, f, "North"); got != "act of 1" {
		t.Errorf("after a visit of no stops: %s", got)
	}
	if got := dueText(t, f, "2026-07-09"); got != nil {
		t.Errorf("after a visit of no stops due: %v", got)
	}
	begun := NewVisit("North", "2026-07-03", "leafing", plan)
	record(t, f, begun, stop(1, 3))
	if got := verdictOf(t, f, "North"); got != "act of 2" {
		t.Errorf("after one without a verdict: %s", got)
	}
	if d := cmp.Diff([]string{"North 2 unfinished act"}, dueText(t, f, "2026-07-05")); d != "" {
		t.Error(d)
	}
	// Made void it is gone from both, and stays in the file with its answers.
	if done, err := f.Void(begun, "wrong field", typed, "Ann"); !done || err != nil {
		t.Fatal(done, err)
	}
	if got := dueText(t, f, "2026-07-05"); got != nil {
		t.Errorf("due after a void one: %v", got)
	}
	if v, err := f.Visit(begun.ID); err != nil || len(v.Entries) != 2 || !v.Told.Void || v.Entries[1].Note != "wrong field" || v.Told.Stops != 1 {
		t.Errorf("%+v, %v", v, err)
	}
	if again, err := f.Resume("North", "2026-07-03", "leafing", plan); again != nil || err != nil {
		t.Errorf("a void visit is gone on with: %+v, %v", again, err)
	}
	if done, err := f.Void(begun, "again", typed, ""); done || err != nil {
		t.Errorf("void twice: %v, %v", done, err)
	}
	if done, err := f.Unvoid(begun, "it was the right one", typed, ""); !done || err != nil || begun.Told.Void {
		t.Errorf("not void: %v, %v, %+v", done, err, begun.Told)
	}
	record(t, f, NewVisit("North", "2026-07-06", "leafing", plan), stop(1, 0), stop(2, 0))
	if got := verdictOf(t, f, "North"); got != "leave of 3" {
		t.Errorf("after a later verdict: %s", got)
	}
	sound(t, f)
}

// A void visit, or one of no stops, says nothing of the field's past either.
func TestHistoryOfWhatCounts(t *testing.T) {
	for name, spoil := range map[string]func(f *File, v *Visit) error{
		"void":     func(f *File, v *Visit) error { _, err := f.Void(v, "x", typed, ""); return err },
		"no stops": func(f *File, v *Visit) error { _, err := f.Append(v, Entry{Kind: KindUndo, Stop: 1}); return err },
	} {
		f, plan := newFile(t)
		v := NewVisit("North", "2026-07-01", "leafing", plan)
		record(t, f, v, stop(1, 4))
		if err := spoil(f, v); err != nil {
			t.Fatal(err)
		}
		j := record(t, f, NewVisit("North", "2026-07-03", "podding", plan), stop(1, 0))
		if j.Told.FoundBefore || j.Told.InStage != nil {
			t.Errorf("%s: %+v", name, j.Told)
		}
	}
}

// An earlier visit of the same day counts as before.
func TestHistoryOfTheSameDay(t *testing.T) {
	f, plan := newFile(t)
	record(t, f, NewVisit("North", "2026-07-01", "leafing", plan), stop(1, 4))
	j := record(t, f, NewVisit("North", "2026-07-01", "podding", plan), stop(1, 0))
	if !j.Told.FoundBefore || j.Told.InStage == nil || *j.Told.InStage != 0 {
		t.Errorf("%+v", j.Told)
	}
}

func TestRename(t *testing.T) {
	f, plan := newFile(t)
	g, _ := newFile(t)
	v := NewVisit("Nroth", "2026-07-01", "leafing", plan)
	record(t, f, v, stop(1, 20), stop(2, 20))
	if _, err := f.Expect([]string{"Nroth", "South"}); err != nil {
		t.Fatal(err)
	}
	if _, err := g.Merge(f); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"", "a\x1bb", strings.Repeat("x", 201)} {
		if err := f.Rename([]*Visit{v}, bad, "a slip", typed, ""); err == nil {
			t.Errorf("%q was taken as a name", bad)
		}
	}
	if err := f.Rename([]*Visit{v}, "North", "a slip", typed, "Ann"); err != nil {
		t.Fatal(err)
	}
	back, err := f.Visit(v.ID)
	if err != nil || back.Field != "North" || back.Entries[2].Was != "Nroth" || back.Entries[2].Name != "North" || back.Told.Verdict != "act" {
		t.Errorf("%+v, %v", back, err)
	}
	if got := verdictOf(t, f, "Nroth"); got != "none" {
		t.Errorf("the old name has %s", got)
	}
	if d := cmp.Diff([]string{"South never visited"}, dueText(t, f, "2026-07-02")); d != "" {
		t.Error(d)
	}
	sound(t, f)
	// The other file learns of it, and the older copy does not take it back.
	for _, want := range []Outcome{{Extended: 1}, {Same: 1}} {
		if o, err := g.Merge(f); err != nil || o != want {
			t.Errorf("%+v, %v, want %+v", o, err, want)
		}
	}
	if v, err := g.Visit(v.ID); err != nil || v.Field != "North" {
		t.Errorf("%+v, %v", v, err)
	}
	sound(t, g)
}

// Undo takes back the last answer that stands, whatever it was, and then the one
// before it.
func TestUndoTakesBackAnything(t *testing.T) {
	f, plan := newFile(t)
	v := NewVisit("North", "2026-07-01", "leafing", plan)
	record(t, f, v, stop(1, 2), stop(2, 3), Entry{Kind: KindCorrect, Stop: 1, Total: 9, Plants: 20}, Entry{Kind: KindNote, Note: "x"})
	var got []string
	for v.Last() > 0 {
		record(t, f, v, Entry{Kind: KindUndo, Takes: v.Last()})
		stops, err := v.Stops()
		if err != nil {
			t.Fatal(err)
		}
		s := ""
		for _, x := range stops {
			s += fmt.Sprint(x.Total, " ")
		}
		got = append(got, s)
	}
	if d := cmp.Diff([]string{"9 3 ", "2 3 ", "2 ", ""}, got); d != "" {
		t.Error(d)
	}
	if _, err := f.Append(v, Entry{Kind: KindUndo, Takes: 1}); err == nil {
		t.Error("an entry was taken back twice")
	}
	sound(t, f)
	// After a verdict: the wish to walk on is taken back too.
	w := NewVisit("South", "2026-07-01", "leafing", plan)
	record(t, f, w, stop(1, 20), stop(2, 20), Entry{Kind: KindMore, Note: "to be sure"})
	if !w.Overruled(2) {
		t.Fatal("not overruled")
	}
	record(t, f, w, Entry{Kind: KindUndo, Takes: w.Last()})
	if stops, err := w.Stops(); w.Overruled(2) || len(stops) != 2 || err != nil {
		t.Errorf("still overruled, or %d stops, %v", len(stops), err)
	}
	// An undo of the old kind is an answer like others.
	record(t, f, w, Entry{Kind: KindUndo, Stop: 2}, Entry{Kind: KindUndo, Takes: len(w.Entries) + 1})
	if stops, err := w.Stops(); len(stops) != 2 || stops[1].Total != 20 || err != nil {
		t.Errorf("%v, %v", stops, err)
	}
	sound(t, f)
}

func TestOddDates(t *testing.T) {
	f, plan := newFile(t)
	for field, date := range map[string]string{"A": "2027-11-20", "B": "2026-07-01", "C": "2026-05-03", "D": "2026-04-30"} {
		record(t, f, NewVisit(field, date, "leafing", plan), stop(1, 20), stop(2, 20)) // typed on 2026-07-01
	}
	// By hand: 60 days before July 1, 8 o'clock, lie between May 2 and May 3.
	if d := cmp.Diff([]string{"odd D 2026-04-30", "odd A 2027-11-20"}, dueText(t, f, "2026-07-02")); d != "" {
		t.Error(d)
	}
}

func TestExpect(t *testing.T) {
	f, plan := newFile(t)
	fields, err := ReadFields(strings.NewReader("\ufeffacres,Field\n12,North\n,\" South \"\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []int{2, 0} {
		if n, err := f.Expect(fields); n != want || err != nil {
			t.Errorf("%d new, %v, want %d", n, err, want)
		}
	}
	record(t, f, NewVisit("north", "2026-07-01", "leafing", plan), stop(1, 20), stop(2, 20))
	empty := NewVisit("South", "2026-07-01", "leafing", plan)
	record(t, f, empty, Entry{Kind: KindNote, Note: "too wet"})
	if d := cmp.Diff([]string{"South never visited"}, dueText(t, f, "2026-07-02")); d != "" {
		t.Error(d)
	}
	doc, err := f.Document(Filter{})
	if err != nil || cmp.Diff([]string{"North", "South"}, doc.Expected) != "" {
		t.Errorf("%v, %v", doc.Expected, err)
	}
	for text, want := range map[string]string{
		"":                      "the list is empty",
		"name\nNorth\n":         `no column "field"`,
		"field\nNorth\n\"\"\n":  "line 3, column 1: field: is empty",
		"field\nNo\x1brth\n":    "control character",
		"a,field\nonly\n":       "is empty",
		"field\n\"North\nSouth": "line",
	} {
		if _, err := ReadFields(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestNear(t *testing.T) {
	f, plan := newFile(t)
	for _, name := range []string{"Long Meadow", "Field 1", "Mill", "Øst", "South"} {
		record(t, f, NewVisit(name, "2026-07-01", "leafing", plan), stop(1, 0))
	}
	for name, want := range map[string]string{
		"Long Meadow": "", "LONG MEADOW": "", "Long-meadow": "Long Meadow", "Lnog Meadow": "Long Meadow", "Long Meadows": "Long Meadow",
		"Short Meadow": "", "Field 2": "", "Field 11": "", "Feilds 1": "", "North": "", "Mil": "", "Milk": "Mill", "øst": "Øst", "Ost": "", "East": "",
	} {
		near, err := f.Near(name)
		if err != nil {
			t.Fatal(err)
		}
		if name == "øst" { // the same to people, and to the file another name or the same
			continue
		}
		if got := strings.Join(near, ";"); got != want {
			t.Errorf("%q is near %q, want %q", name, got, want)
		}
	}
}

// Two walks that begin at once begin one visit.
func TestBegunMeanwhile(t *testing.T) {
	f, plan := newFile(t)
	a, b := NewVisit("North", "2026-07-01", "leafing", plan), NewVisit("north", "2026-07-01", "leafing", plan)
	record(t, f, a, stop(1, 1))
	if _, err := f.Append(b, stop(1, 2)); !errors.Is(err, ErrMoved) || b.ID != a.ID {
		t.Errorf("%v, %s, want %s", err, b.ID, a.ID)
	}
	c := NewVisit("North", "2026-07-01", "leafing", plan)
	c.Beside = true
	record(t, f, c, stop(1, 2))
	if n := len(all(t, f)); n != 2 {
		t.Errorf("%d visits", n)
	}
}

// A file of the first version is brought up to date with all that is in it.
func TestMigration(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.season")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	plan := testPlan(t)
	text, sum, err := plan.Compact()
	if err != nil {
		t.Fatal(err)
	}
	v := NewVisit("North", "2026-07-01", "leafing", sum)
	v.Entries = []Entry{stop(1, 9), {Kind: KindCorrect, Stop: 1, Total: 20, Plants: 20, At: typed}, stop(2, 20), {Kind: KindNote, Note: "rain", At: typed}}
	j, err := Judge(plan, v, plans.History{})
	if err != nil {
		t.Fatal(err)
	}
	told := j.Told
	exec := func(query string, args ...any) {
		t.Helper()
		if _, err := db.Exec(query, args...); err != nil {
			t.Fatal(err)
		}
	}
	exec(migrations[0])
	exec(fmt.Sprintf("PRAGMA user_version = 1; PRAGMA application_id = %d", applicationID))
	exec("INSERT INTO plan VALUES (?, ?)", sum, string(text))
	exec("INSERT INTO field (name) VALUES ('North')")
	exec("INSERT INTO visit VALUES (?, 1, ?, ?, ?, 'walk', 0, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 0, NULL)", v.ID, v.Date, v.Stage, v.Plan, v.Entries[0].At,
		told.Stops, told.Plants, told.Total, told.Units, told.Signs, told.Verdict, told.DecidedAt, told.SignMissing, told.Next, told.Rule)
	for i, e := range v.Entries {
		exec("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, NULL, ?, ?)", v.ID, i+1, e.Kind, e.Stop, e.Total, e.Plants, e.Note, e.At)
	}
	db.Close()
	f, err := Open(path, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sound(t, f)
	v.Told = told
	if d := cmp.Diff([]*Visit{v}, all(t, f)); d != "" {
		t.Error(d)
	}
	for _, change := range []string{"UPDATE entry SET total = 1", "DELETE FROM entry", "DELETE FROM visit"} {
		if _, err := f.db.Exec(change); err == nil {
			t.Errorf("%s was done", change)
		}
	}
	if done, err := f.Void(v, "x", typed, ""); !done || err != nil {
		t.Error(done, err)
	}
}

// A copy is read where the file cannot be opened in its place, with what stands in
// its journal only.
func TestCopyWhole(t *testing.T) {
	f, plan := newFile(t)
	record(t, f, NewVisit("North", "2026-07-01", "leafing", plan), stop(1, 1))
	to := filepath.Join(t.TempDir(), "copy")
	if err := copyWhole(f.path, to); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(to + "-wal"); err != nil || info.Size() == 0 {
		t.Fatalf("the journal was not copied: %v", err)
	}
	g, err := Open(to, false)
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	if d := cmp.Diff(all(t, f), all(t, g)); d != "" {
		t.Error(d)
	}
}

func TestScoutsAreRecorded(t *testing.T) {
	f, plan := newFile(t)
	v := NewVisit("North", "2026-07-01", "leafing", plan)
	a, b := stop(1, 1), stop(2, 1)
	a.Scout, b.Scout = "Ann", "Ben"
	record(t, f, v, a, b, Entry{Kind: KindNote, Note: "x", Scout: "Ann"})
	if got := all(t, f)[0].Told.Scout; got != "Ann, Ben" {
		t.Errorf("%q", got)
	}
	o, errs := f.AddCounts([]*Visit{CardVisit{ID: cardID, Plan: plan, Field: "South", Date: "2026-07-01", Stage: "leafing", Counts: []int{1}, Scout: "Cy"}.Visit("leafing", 20)}, typed)
	if errs != nil || o.Added != 1 || all(t, f)[1].Told.Scout != "Cy" {
		t.Errorf("%+v, %v", all(t, f), errs)
	}
	sound(t, f)
}
