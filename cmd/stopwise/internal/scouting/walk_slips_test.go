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
