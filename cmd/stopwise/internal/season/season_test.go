package season

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"stopwise/plans"
)

// testPlan has the stages leafing (leave at 0 of 20, act from 10 of 20, at once) and
// podding, with a sign.
func testPlan(t testing.TB) *plans.Plan {
	t.Helper()
	p := plans.Protocol{
		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 2}, Stop: plans.StopRules{Plants: 20, Minimum: 2, Maximum: 10}, Clumping: plans.Clumping{Rho: &plans.Range{Low: .1, High: .1}}, ComingBack: &plans.DefaultComingBack}, []plans.Stage{
			{Name: "leafing", Measure: plans.ShareInfested, Lower: .1, Threshold: .2, Upper: .3, NeedlessRisk: .1, MissedRisk: .1, LastsDays: 8},
			{Name: "podding", Measure: plans.ShareInfested, Lower: .2, Threshold: .3, Upper: .4, NeedlessRisk: .1, MissedRisk: .1, Sign: &plans.Sign{Text: "bronzed tips", Stops: 2}},
		}...),
	}
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func newFile(t testing.TB) (f *File, plan string) {
	t.Helper()
	f, err := Open(filepath.Join(t.TempDir(), "s.season"), true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	sum, err := f.Remember(testPlan(t))
	if err != nil {
		t.Fatal(err)
	}
	return f, sum
}

func stop(n, total int) Entry {
	return Entry{Kind: KindStop, Stop: n, Total: total, Plants: 20, At: fmt.Sprintf("2026-07-01T08:%02d:00Z", n)}
}

func record(t testing.TB, f *File, v *Visit, entries ...Entry) *Judgement {
	t.Helper()
	var j *Judgement
	for _, e := range entries {
		var err error
		if j, err = f.Append(v, e); err != nil {
			t.Fatalf("%+v: %v", e, err)
		}
	}
	return j
}

// sound fails unless the file verifies.
func sound(t testing.TB, f *File) {
	t.Helper()
	if r, err := f.Verify(); err != nil || len(r.Faults) > 0 {
		t.Errorf("verify: %v %q", err, r.Faults)
	}
}

func all(t testing.TB, f *File) []*Visit {
	t.Helper()
	vs, err := f.FullVisits(Filter{})
	if err != nil {
		t.Fatal(err)
	}
	return vs
}

func TestRecord(t *testing.T) {
	f, plan := newFile(t)
	v := NewVisit("North", "2026-07-01", "leafing", plan)
	j := record(t, f, v, stop(1, 0), stop(2, 3),
		Entry{Kind: KindCorrect, Stop: 2, Total: 0, Plants: 18}, Entry{Kind: KindNote, Note: "rain"})
	if j.Told.Verdict != "leave" || j.Told.Plants != 38 || j.Told.Next == "" || j.Told.FoundBefore {
		t.Errorf("%+v", j.Told)
	}
	back, err := f.Visit(v.ID)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(v, back); d != "" {
		t.Errorf("as recorded and as read (-, +):\n%s", d)
	}
	if len(back.Entries) != 4 || back.Entries[1].Total != 3 {
		t.Errorf("the first answer of stop 2 is gone: %+v", back.Entries)
	}
	sound(t, f)
	again, err := f.Resume("NORTH", "2026-07-01", "leafing", plan)
	if err != nil || again == nil || again.ID != v.ID {
		t.Errorf("resume: %+v, %v", again, err)
	}
	if other, err := f.Resume("North", "2026-07-02", "leafing", plan); other != nil || err != nil {
		t.Errorf("another day: %+v, %v", other, err)
	}
}

// Entries that do not fit, or that the plan refuses, leave no trace.
func TestRecordRefuses(t *testing.T) {
	f, plan := newFile(t)
	v := NewVisit("North", "2026-07-01", "leafing", plan)
	record(t, f, v, stop(1, 2))
	for _, e := range []Entry{stop(1, 0), stop(3, 0), stop(2, 21), {Kind: KindUndo, Stop: 2}, {Kind: KindCorrect, Stop: 2, Plants: 20}, {Kind: "other"}, {Kind: KindStop, Stop: 2}} {
		if _, err := f.Append(v, e); err == nil {
			t.Errorf("%+v was recorded", e)
		}
	}
	if vs := all(t, f); len(vs) != 1 || len(vs[0].Entries) != 1 || len(v.Entries) != 1 {
		t.Errorf("%+v", vs)
	}
	if _, err := f.Append(NewVisit("", "2026-07-01", "leafing", plan), stop(1, 0)); err == nil {
		t.Error("a field without a name was recorded")
	}
	if _, err := f.Append(NewVisit("A", "2026-07-01", "ripening", plan), stop(1, 0)); err == nil {
		t.Error("a stage that the plan does not have was recorded")
	}
}

func TestMoved(t *testing.T) {
	f, plan := newFile(t)
	v := NewVisit("North", "2026-07-01", "leafing", plan)
	record(t, f, v, stop(1, 1))
	other, err := f.Visit(v.ID)
	if err != nil {
		t.Fatal(err)
	}
	record(t, f, other, stop(2, 2))
	if _, err := f.Append(v, stop(2, 3)); !errors.Is(err, ErrMoved) {
		t.Errorf("%v, want %v", err, ErrMoved)
	}
}

func TestEntriesAreKept(t *testing.T) {
	f, plan := newFile(t)
	record(t, f, NewVisit("North", "2026-07-01", "leafing", plan), stop(1, 1))
	for _, s := range []string{"UPDATE entry SET total = 2", "DELETE FROM entry", "DELETE FROM plan", "DELETE FROM visit"} {
		if _, err := f.db.Exec(s); err == nil {
			t.Errorf("%s was done", s)
		}
	}
	sound(t, f)
}

func TestSign(t *testing.T) {
	f, plan := newFile(t)
	yes, no := true, false
	v := NewVisit("North", "2026-07-01", "podding", plan)
	seen := func(n int, sign *bool) Entry { e := stop(n, 20); e.Sign = sign; return e }
	j := record(t, f, v, seen(1, &no), seen(2, &yes))
	if !j.Told.SignMissing || j.Told.Verdict != "leave" || j.Told.Signs != 1 || j.Told.Next != "2026-07-02" {
		t.Errorf("act by the count alone: %+v", j.Told)
	}
	j = record(t, f, v, Entry{Kind: KindMore, Note: "looking for it"}, seen(3, &yes))
	if !j.Told.SignMissing || j.Told.Signs != 1 || !v.Overruled(2) {
		t.Errorf("a sign after the verdict: %+v", j.Told)
	}
	j = record(t, f, v, Entry{Kind: KindCorrect, Stop: 1, Total: 20, Plants: 20, Sign: &yes})
	if j.Told.SignMissing || j.Told.Verdict != "act" || j.Told.Next != "" || j.Told.Signs != 2 {
		t.Errorf("with the sign: %+v", j.Told)
	}
	sound(t, f)
}

// The next visit follows from what was known before: a find on an earlier visit,
// and the last day in another stage.
func TestHistory(t *testing.T) {
	f, plan := newFile(t)
	zero := []Entry{stop(1, 0), stop(2, 0)}
	a := NewVisit("North", "2026-07-01", "leafing", plan)
	if j := record(t, f, a, zero...); j.Told.FoundBefore || j.Told.InStage != nil {
		t.Errorf("first visit: %+v", j.Told)
	}
	record(t, f, NewVisit("South", "2026-07-03", "leafing", plan), stop(1, 5))
	b := NewVisit("North", "2026-07-04", "podding", plan)
	if j := record(t, f, b, stop(1, 1)); j.Told.FoundBefore || *j.Told.InStage != 3 {
		t.Errorf("second visit: %+v", j.Told)
	}
	c := NewVisit("North", "2026-07-08", "podding", plan)
	if j := record(t, f, c, zero...); !j.Told.FoundBefore || *j.Told.InStage != 7 {
		t.Errorf("third visit: %+v", j.Told)
	}
	// What is added later for earlier days does not change what was told.
	record(t, f, NewVisit("North", "2026-06-20", "leafing", plan), stop(1, 9))
	sound(t, f)
}

func TestVerifyFindsChanges(t *testing.T) {
	for name, change := range map[string]string{
		"verdict":    "UPDATE visit SET verdict = 'act'",
		"next visit": "UPDATE visit SET next_visit = '2027-01-01'",
		"total":      "UPDATE visit SET total = total + 1",
		"plan rows":  `UPDATE plan SET text = replace(text, '"act":10', '"act":11')`,
		"entry":      "DROP TRIGGER entry_is_kept; UPDATE entry SET total = 9 WHERE number = 1",
		"lost entry": "DROP TRIGGER entry_is_not_deleted; DELETE FROM entry WHERE number = 3",
		"stage":      "UPDATE visit SET stage = 'podding'",
		"time":       "DROP TRIGGER entry_is_kept; UPDATE entry SET at = '2026-07-01T09:00:00Z' WHERE number = 1",
		"note":       "DROP TRIGGER entry_is_kept; UPDATE entry SET note = 'dry' WHERE kind = 'note'",
		"superseded": "DROP TRIGGER entry_is_kept; UPDATE entry SET total = 7 WHERE number = 2",
		"scout":      "DROP TRIGGER entry_is_kept; UPDATE entry SET scout = 'Ben' WHERE number = 1",
		"field":      "UPDATE field SET name = 'South'",
		"source":     "UPDATE visit SET source = 'card'",
	} {
		f, plan := newFile(t)
		record(t, f, NewVisit("North", "2026-07-01", "leafing", plan), stop(1, 0), stop(2, 5), Entry{Kind: KindCorrect, Stop: 2, Plants: 20}, Entry{Kind: KindNote, Note: "rain"})
		sound(t, f)
		f.plans = map[string]*plans.Plan{}
		if _, err := f.db.Exec(change); err != nil {
			t.Fatal(name, err)
		}
		if r, err := f.Verify(); err != nil || len(r.Faults) == 0 {
			t.Errorf("%s: %v, no fault found", name, err)
		}
	}
}

func TestNewerFileIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.season")
	f, err := Open(path, true)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.db.Exec(fmt.Sprintf("PRAGMA user_version = %d", len(migrations)+1)); err != nil {
		t.Fatal(err)
	}
	f.Close()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(path, true)
	if _, ok := errors.AsType[*FormatError](err); !ok || !strings.Contains(err.Error(), "use a newer stopwise") {
		t.Errorf("%v", err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the file was changed")
	}
}

// Files of other programs are refused and left as they are.
func TestForeignFiles(t *testing.T) {
	dir := t.TempDir()
	db, err := sql.Open("sqlite", filepath.Join(dir, "other.db"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE t (x)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	for name, text := range map[string]string{"text": "field,stop\n", "long": strings.Repeat("x", 5000), "short": "SQLite format 3\x00"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"other.db", "text", "long", "short", "."} {
		path := filepath.Join(dir, name)
		before, _ := os.ReadFile(path)
		if _, err := Open(path, true); err == nil {
			t.Errorf("%s was opened", name)
		} else if _, ok := errors.AsType[*FormatError](err); !ok {
			t.Errorf("%s: %v", name, err)
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", name)
		}
	}
	if _, err := Open(filepath.Join(dir, "none"), false); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "none")); err == nil {
		t.Error("a file was made without being asked for")
	}
	strange := filepath.Join(dir, "a b?c#d%41.season")
	f, err := Open(strange, true)
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	if _, err := os.Stat(strange); err != nil {
		t.Error(err)
	}
}

func TestMerge(t *testing.T) {
	a, plan := newFile(t)
	b, _ := newFile(t)
	shared := NewVisit("North", "2026-07-01", "leafing", plan)
	record(t, a, shared, stop(1, 2))
	merge := func(into, from *File, want Outcome) {
		t.Helper()
		if got, err := into.Merge(from); err != nil || got != want {
			t.Errorf("%+v, %v, want %+v", got, err, want)
		}
		sound(t, into)
	}
	merge(b, a, Outcome{Added: 1})
	merge(b, a, Outcome{Same: 1})
	record(t, a, shared, stop(2, 2))
	record(t, a, NewVisit("South", "2026-07-01", "leafing", plan), stop(1, 0))
	merge(b, a, Outcome{Added: 1, Extended: 1})
	merge(a, b, Outcome{Same: 2})
	// Gone on with in both files: both shapes are kept, once.
	inB, err := b.Visit(shared.ID)
	if err != nil {
		t.Fatal(err)
	}
	record(t, a, shared, stop(3, 1))
	record(t, b, inB, stop(3, 4), stop(4, 4))
	merge(b, a, Outcome{Same: 1, Forked: 1})
	merge(b, a, Outcome{Same: 2})
	var counts [][]int
	for _, v := range all(t, b) {
		stops, err := v.Stops()
		if err != nil {
			t.Fatal(err)
		}
		var c []int
		for _, s := range stops {
			c = append(c, s.Total)
		}
		counts = append(counts, c)
	}
	if len(counts) != 3 || !strings.Contains(fmt.Sprint(counts), "[2 2 1]") || !strings.Contains(fmt.Sprint(counts), "[2 2 4 4]") {
		t.Errorf("%v", counts)
	}
	// An older copy adds nothing to a newer one.
	c, _ := newFile(t)
	merge(c, b, Outcome{Added: 3})
}

// The whole season goes through JSON and back.
func TestDocument(t *testing.T) {
	a, plan := newFile(t)
	yes := true
	sign := stop(1, 3)
	sign.Sign = &yes
	record(t, a, NewVisit("North", "2026-07-01", "leafing", plan), stop(1, 2), Entry{Kind: KindUndo, Stop: 1}, Entry{Kind: KindNote, Note: "ä\"\n"}, stop(1, 0), stop(2, 0))
	record(t, a, NewVisit("North", "2026-07-05", "podding", plan), sign)
	doc, err := a.Document(Filter{})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.MarshalIndent(doc, "", "\t")
	if err != nil {
		t.Fatal(err)
	}
	b, err := Open(filepath.Join(t.TempDir(), "b"), true)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if o, err := b.Import(bytes.NewReader(text)); err != nil || o != (Outcome{Added: 2, Plans: 1}) {
		t.Errorf("%+v, %v", o, err)
	}
	if d := cmp.Diff(all(t, a), all(t, b)); d != "" {
		t.Error(d)
	}
	sound(t, b)
	for from, to := range map[string]string{
		`"infested": 2`:                 `"infested": 3`, // of an entry that was taken back: allowed, nothing follows from it
		`"verdict": "leave"`:            `"verdict": "act"`,
		`"next_visit": "2026-07-0`:      `"next_visit": "2026-08-0`,
		`"kind": "stopwise season"`:     `"kind": "other"`,
		`"version": 1,` + "\n\t\"plans": `"version": 2,` + "\n\t\"plans",
		`"field": "North"`:              `"field": " "`,
		`"date": "2026-07-01"`:          `"date": "1.7.2026"`,
		`"stop": 2`:                     `"stop": 3`,
		`"source": "walk"`:              `"sauce": "walk"`,
		`"missed_risk": 0.1`:            `"missed_risk": 0.2`,
	} {
		changed := strings.Replace(string(text), from, to, 1)
		if changed == string(text) {
			t.Errorf("%s is not in the text", from)
		}
		c, _ := newFile(t)
		if _, err := c.Import(strings.NewReader(changed)); (err == nil) != (to == `"infested": 3`) {
			t.Errorf("%s: %v", to, err)
		}
	}
}

func TestDue(t *testing.T) {
	f, plan := newFile(t)
	visit := func(field, date string, counts ...int) {
		v := NewVisit(field, date, "leafing", plan)
		for i, n := range counts {
			record(t, f, v, stop(i+1, n))
		}
	}
	visit("Left early", "2026-07-01", 0, 0) // no finds in 40 plants: growth brings it forward
	visit("Left late", "2026-07-10", 0, 0)
	visit("Acted", "2026-07-01", 20, 20)
	visit("Stopped", "2026-07-02", 3)
	visit("Twice", "2026-06-01", 0, 0)
	visit("Twice", "2026-07-10", 0, 0)
	next := map[string]string{}
	for _, v := range all(t, f) {
		next[v.Field+v.Date] = v.Told.Next
	}
	show := func(date string, within int) (s []string) {
		due, err := f.Due(date, within)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range due.Fields {
			s = append(s, fmt.Sprintf("%s %d %t", d.Field, d.Days, d.Unfinished))
		}
		return s
	}
	// By hand: two stops of 20 plants at rho .1 show nothing with a chance of 1 - .8
	// at a share of .0722795, and (logit .2 - logit .0722795)/.3 = 3.886 days, less 2
	// of lead: 1 day.
	if next["Left early2026-07-01"] != "2026-07-02" || next["Acted2026-07-01"] != "" {
		t.Errorf("%v", next)
	}
	// On the fifth, the later visit of Twice had not been.
	if d := cmp.Diff([]string{"Twice 33 false", "Left early 3 false", "Stopped 3 true"}, show("2026-07-05", 0)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"Left early 10 false", "Stopped 10 true", "Left late 1 false", "Twice 1 false"}, show("2026-07-12", 1)); d != "" {
		t.Error(d)
	}
	if got := show("2026-06-01", 0); got != nil {
		t.Errorf("before anything is due: %v", got)
	}
}

func TestSummary(t *testing.T) {
	f, plan := newFile(t)
	record(t, f, NewVisit("A", "2026-07-05", "leafing", plan), stop(1, 0), stop(2, 0)) // a Sunday
	record(t, f, NewVisit("A", "2026-07-06", "leafing", plan), stop(1, 20), stop(2, 20))
	record(t, f, NewVisit("B", "2026-07-12", "leafing", plan), stop(1, 3))
	s, err := f.Summary(Filter{}, func(string, string) (bool, error) { return false, nil })
	if err != nil {
		t.Fatal(err)
	}
	want := []Week{
		{"2026-06-29", Tally{Visits: 1, Fields: 1, Stops: 2, Plants: 40, Leave: 1, ShareUnits: 40}},
		{"2026-07-06", Tally{Visits: 2, Fields: 2, Stops: 3, Plants: 60, Found: 2, Act: 1, Unfinished: 1, Infested: 43, ShareUnits: 60}},
	}
	if d := cmp.Diff(want, s.Weeks); d != "" {
		t.Error(d)
	}
	if len(s.Fields) != 2 || s.Fields[0].FirstFound != "2026-07-06" || s.Fields[0].First != "2026-07-05" || s.All.Fields != 2 || s.All.Plants != 100 {
		t.Errorf("%+v", s)
	}
}

// Whatever is typed, the stops are what a plain reading of the entries gives, and
// the recorded visit verifies.
func TestRecordProperties(t *testing.T) {
	f, plan := newFile(t)
	rapid.Check(t, func(t *rapid.T) {
		v := NewVisit("F", "2026-07-01", "leafing", plan)
		v.Beside = true
		var want []int
		for range rapid.IntRange(1, 15).Draw(t, "entries") {
			n := rapid.IntRange(0, 20).Draw(t, "count")
			e := Entry{Kind: rapid.SampledFrom([]string{KindStop, KindCorrect, KindUndo, KindNote}).Draw(t, "kind"), Total: n, Plants: 20}
			switch {
			case e.Kind == KindNote:
				e.Total, e.Plants, e.Note = 0, 0, "x"
			case e.Kind == KindUndo && len(want) > 0:
				e.Stop, e.Total, e.Plants = len(want), 0, 0
				want = want[:len(want)-1]
			case e.Kind == KindCorrect && len(want) > 0:
				e.Stop = rapid.IntRange(1, len(want)).Draw(t, "stop")
				want[e.Stop-1] = n
			case e.Kind == KindStop && len(want) < 10:
				want = append(want, n)
				e.Stop = len(want)
			default:
				continue
			}
			if _, err := f.Append(v, e); err != nil {
				t.Fatal(err)
			}
		}
		if len(v.Entries) == 0 {
			return
		}
		back, err := f.Visit(v.ID)
		if err != nil {
			t.Fatal(err)
		}
		stops, err := back.Stops()
		if err != nil {
			t.Fatal(err)
		}
		got := []int{}
		for _, s := range stops {
			got = append(got, s.Total)
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Fatalf("%v, want %v", got, want)
		}
		if err := back.verify(f.plans[plan]); err != nil {
			t.Fatal(err)
		}
	})
}

// fill puts visits into a file as fast as it can.
func fill(t testing.TB, f *File, plan string, visits int) {
	t.Helper()
	var vs []*Visit
	for i := range visits {
		v := NewVisit(fmt.Sprintf("Field %03d", i%400), fmt.Sprintf("2026-%02d-%02d", 5+i/400/25, 1+i/400%25), "leafing", plan)
		for n := 1; n <= 4; n++ {
			v.Entries = append(v.Entries, stop(n, i%3))
		}
		vs = append(vs, v)
	}
	if _, errs := f.AddCounts(vs, "2026-07-01T08:00:00Z"); errs != nil {
		t.Fatal(errs[0])
	}
}

func BenchmarkDue10000(b *testing.B) {
	f, plan := newFile(b)
	fill(b, f, plan, 10000)
	for b.Loop() {
		if due, err := f.Due("2026-07-01", 0); err != nil || len(due.Fields) == 0 {
			b.Fatal(len(due.Fields), err)
		}
	}
}

func BenchmarkSummary10000(b *testing.B) {
	f, plan := newFile(b)
	fill(b, f, plan, 10000)
	for b.Loop() {
		s, err := f.Summary(Filter{}, func(string, string) (bool, error) { return false, nil })
		if err != nil || s.All.Visits != 10000 {
			b.Fatal(s.All, err)
		}
	}
}
