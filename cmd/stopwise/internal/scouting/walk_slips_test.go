package scouting

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// Undo at the terminal takes back the last answer, whatever it was.
func TestWalkUndoesAnything(t *testing.T) {
	y := &typist{answers: []string{"3 no", "4 no", "correct 1 9 no", "undo", "note wet", "undo", "undo", "q"}}
	w, out := session(t, filepath.Join(t.TempDir(), "s.season"), y)
	if stops := w.j.Stops; len(stops) != 1 || stops[0].Total != 3 || len(y.refused) > 0 {
		t.Errorf("%+v, refused %q", stops, y.refused)
	}
	for _, want := range []string{"the correction of stop 1 is taken back", "the note is taken back", "stop 2 is taken back"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

// A new name that is like a known one is asked about before anything is recorded.
func TestWalkAsksAboutNearNames(t *testing.T) {
	file := filepath.Join(t.TempDir(), "s.season")
	first, _ := session(t, file, &typist{answers: []string{"3 no"}}) // field North
	plan, err := first.f.Plan(first.v.Plan)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		field, answer, want string
	}{{"Nort h", "yes", "North"}, {"Nort-h", "no", "Nort-h"}} {
		y := &typist{asked: true, answers: []string{c.answer}}
		w := &walk{In: say.English(), e: shell.Env{Out: &bytes.Buffer{}}, file: file, f: first.f, s: first.s, format: "text", in: y}
		if err := w.begin(plan, c.field, "2026-07-01", false); err != nil {
			t.Fatal(err)
		}
		if w.v.Field != c.want || len(y.prompts) == 0 || !strings.Contains(y.prompts[0], "Did you mean North?") {
			t.Errorf("%s: field %s, asked %q", c.field, w.v.Field, y.prompts)
		}
		if c.answer == "yes" && w.v.ID != first.v.ID {
			t.Error("the visit of the right field is not gone on with")
		}
	}
}

func TestWalkWarnsOfDates(t *testing.T) {
	old := clock
	defer func() { clock = old }()
	clock = func() time.Time { return time.Date(2026, 7, 1, 23, 0, 0, 0, time.UTC) }
	for date, want := range map[string]string{"2026-07-01": "", "2026-07-02": "still to come", "2027-11-20": "still to come", "2026-05-02": "", "2026-05-01": "61 days ago"} {
		got := strings.Join((&walk{In: say.English(), v: &season.Visit{Date: date}}).dateSlip(), " ")
		if (want == "") != (got == "") || !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", date, got, want)
		}
	}
	if season.OldDays != 60 {
		t.Error("the days above are those of 60 days")
	}
}

const byLastText = `
[stop]
plants = 15
maximum_stops = 3
[clumping]
rho = 0.02
[coming_back]
days_until_found = 5
days_once_found = 3
[season]
weeks = 4
start = "2%"
growth = 0.15
needless = "60%"
late = "40%"
late_days = 3
tables = 3
[[stage]]
name = "leafing"
lower = "8%"
upper = "22%"
`

// Of a field that the season file does not know the scout is asked what earlier visits
// found, once: the next visit follows from the file.
func TestWalkAsksWhichTable(t *testing.T) {
	protocol, err := plans.ReadProtocol([]byte(byLastText))
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.Design(t.Context(), protocol, plans.DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "s.season")
	f, err := season.Open(file, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	walked := func(field, date string, y *typist) *walk {
		w := &walk{In: say.English(), e: shell.Env{Out: &bytes.Buffer{}}, file: file, f: f, s: plan.Stages[0], format: "text", in: y}
		if err := w.begin(plan, field, date, false); err != nil {
			t.Fatal(err)
		}
		if err := w.run(); err != nil {
			t.Fatal(err)
		}
		return w
	}
	for _, c := range []struct {
		field   string
		answers []string
		want    plans.Last
	}{{"North", []string{"perhaps", "2", "0"}, plans.LastLittle}, {"South", []string{"more", "0"}, plans.LastMore}, {"East", []string{"1", "0"}, plans.LastNone}} {
		y := &typist{asked: true, answers: c.answers}
		if w := walked(c.field, "2026-07-01", y); w.s.Last != c.want || w.v.Told.Last != c.want || !strings.Contains(y.prompts[0], "1: nothing found so far; 2: found before") {
			t.Errorf("%s: the table for %q, want %q, asked %q", c.field, w.s.Last, c.want, y.prompts)
		}
	}
	// East was visited, and nothing was ever found there: nobody is asked again.
	y := &typist{asked: true, answers: []string{"q"}}
	if w := walked("East", "2026-07-05", y); w.s.Last != plans.LastNone || len(y.prompts) != 1 {
		t.Errorf("East again: the table for %q, asked %q", w.s.Last, y.prompts)
	}
	// North had its pest before the file knew it.
	if w := walked("North", "2026-07-05", &typist{answers: []string{"q"}}); w.s.Last != plans.LastLittle {
		t.Errorf("North again: the table for %q", w.s.Last)
	}
}
