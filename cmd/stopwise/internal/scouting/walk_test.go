package scouting

import (
	"bytes"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func TestParseReply(t *testing.T) {
	yes, no := true, false
	for line, want := range map[string]reply{
		"":                    {},
		"  # a remark":        {},
		"3":                   {what: "stop", count: plans.Count{Total: 3}},
		" 2/18 ":              {what: "stop", count: plans.Count{Total: 2, Plants: 18}},
		"3 y":                 {what: "stop", count: plans.Count{Total: 3}, sign: &yes},
		"3/20 No":             {what: "stop", count: plans.Count{Total: 3, Plants: 20}, sign: &no},
		"Correct 4 2/18 yes":  {what: "correct", stop: 4, count: plans.Count{Total: 2, Plants: 18}, sign: &yes},
		"undo":                {what: "undo"},
		"note  rain  since 9": {what: "note", text: "rain since 9"},
		"more one more spot":  {what: "more", text: "one more spot"},
		"Q":                   {what: "quit"},
		"?":                   {what: "help"},
		"stops":               {what: "stops"},
	} {
		got, err := (&walk{In: say.English()}).parseReply(line)
		same := got.what == want.what && got.stop == want.stop && got.count == want.count && got.text == want.text
		if err != nil || !same || (got.sign == nil) != (want.sign == nil) || got.sign != nil && *got.sign != *want.sign {
			t.Errorf("%q: %+v, %v, want %+v", line, got, err, want)
		}
	}
	for line, want := range map[string]string{
		"a quarter":   "write a count such as 3 or 2/18, or help",
		"25%":         "write a count",
		"-1":          "write a count",
		"3,5":         "write a count",
		"3 maybe":     "yes or no for the sign",
		"3 yes no":    "yes or no for the sign",
		"correct":     "such as correct 2 5",
		"correct 2":   "such as correct 2 5",
		"correct x 5": `stop "x" is not a whole number from 1 to 1000`,
		"correct 2 x": "such as correct 2 5",
		"more":        "write a few words after more",
		"note ":       "write a few words after note",
		"undo 3":      "nothing goes after undo",
		"q now":       "nothing goes after q",
	} {
		if _, err := (&walk{In: say.English()}).parseReply(line); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", line, err, want)
		}
	}
}

func FuzzParseReply(f *testing.F) {
	f.Add("correct 2 5/20 yes")
	f.Add("more because")
	f.Fuzz(func(t *testing.T, line string) {
		r, err := (&walk{In: say.English()}).parseReply(line)
		if err == nil && (r.count.Total < 0 || r.count.Plants < 0 || r.stop < 0) {
			t.Fatalf("%q: %+v", line, r)
		}
	})
}

// typist stands for a scout at a terminal, who is asked again after a slip.
type typist struct {
	asked            bool // whether there is somebody to ask
	answers          []string
	prompts, refused []string
}

func (y *typist) Read(prompt string) (string, error) {
	y.prompts = append(y.prompts, prompt)
	if len(y.answers) == 0 {
		return "", io.EOF
	}
	a := y.answers[0]
	y.answers = y.answers[1:]
	return a, nil
}

func (y *typist) Wrong(message string) error {
	y.refused = append(y.refused, message)
	return nil
}

func (y *typist) Asks() bool { return y.asked }

func (y *typist) Say(e shell.Env, text string) error {
	_, err := io.WriteString(e.Out, text)
	return err
}

func session(t *testing.T, file string, y *typist) (*walk, string) {
	t.Helper()
	plan, err := plans.Design(t.Context(), plans.Protocol{
		Stages: plans.Everywhere(plans.Stage{Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.StopRules{Plants: 20, Minimum: 2, Maximum: 4}, Clumping: plans.Clumping{Rho: &plans.Range{}}}, []plans.Stage{{Name: "podding", Measure: plans.ShareInfested, Lower: .2, Threshold: .3, Upper: .5, NeedlessRisk: .1, MissedRisk: .1,
			Sign: &plans.Sign{Text: "bronzed tips", Stops: 1}}}...),
	}, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		t.Fatal(err)
	}
	f, err := season.Open(file, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	var out bytes.Buffer
	w := &walk{In: say.English(), e: shell.Env{Out: &out}, file: file, f: f, s: plan.Stages[0], format: "text", in: y}
	if err := w.begin(plan, "North", "2026-07-01", false); err != nil {
		t.Fatal(err)
	}
	if err := w.run(); err != nil {
		t.Fatal(err)
	}
	return w, out.String()
}

// A slip at the terminal records nothing, and the scout is asked again.
func TestWalkAsksAgain(t *testing.T) {
	y := &typist{answers: []string{"25", "many", "undo", "correct 1 3", "more x", "3", "perhaps", "yes", "help", "4", "q"}}
	w, out := session(t, filepath.Join(t.TempDir(), "s.season"), y)
	for i, want := range []string{
		"stop 1: 25 infested of 20 plants", `"many": write a count`, "there is no answer to take back",
		"stop 1 cannot be corrected: 0 stops are recorded", "there is no verdict yet", `"perhaps": write yes or no`,
		// q is no answer to yes or no; the input ends there.
		`"q": write yes or no`, "stop 2 was not recorded",
	} {
		if i >= len(y.refused) || !strings.Contains(y.refused[i], want) {
			t.Errorf("refused %q, want %q at %d", y.refused, want, i)
		}
	}
	if len(w.v.Entries) != 1 || w.v.Entries[0].Total != 3 || !*w.v.Entries[0].Sign {
		t.Errorf("%+v", w.v.Entries)
	}
	for _, want := range []string{"Recorded stop 1: 3 of 20 plants infested, sign seen.", "correct 2 5", "No verdict yet after 1 stop."} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if y.prompts[0] != "stop 1, infested of 20 plants> " || !strings.HasPrefix(y.prompts[6], "stop 1, seen: bronzed tips? yes or no") {
		t.Errorf("%q", y.prompts)
	}
}

// A stop after another walk's is recorded after it.
func TestWalkCatchesUp(t *testing.T) {
	file := filepath.Join(t.TempDir(), "s.season")
	first, _ := session(t, file, &typist{answers: []string{"7 no"}})
	session(t, file, &typist{answers: []string{"8 no"}}) // first does not know of this
	var out bytes.Buffer
	first.e.Out = &out
	y := &typist{answers: []string{"correct 1 6 no", "6 no"}}
	first.in = y
	if err := first.run(); err != nil {
		t.Fatal(err)
	}
	if len(y.refused) != 1 || !strings.Contains(y.refused[0], "another walk has added to this visit, now 2 stops") {
		t.Errorf("%q", y.refused)
	}
	stops, err := first.v.Stops()
	if err != nil || len(stops) != 3 || stops[0].Total != 7 || stops[1].Total != 8 || stops[2].Total != 6 {
		t.Errorf("%+v, %v", stops, err)
	}
	// Once the other walk has the verdict, the stop is not taken in silence.
	again, _ := session(t, file, &typist{})
	session(t, file, &typist{answers: []string{"20 no"}})
	again.e.Out = &out
	y = &typist{answers: []string{"1 no"}}
	again.in = y
	if err := again.run(); err != nil || len(y.refused) != 1 || !strings.Contains(y.refused[0], "all are walked") {
		t.Errorf("%q, %v", y.refused, err)
	}
}

// The plan's last stop ends the walk even where the scout wants more.
func TestWalkEnds(t *testing.T) {
	y := &typist{answers: []string{"0 no", "0 no", "9 no", "more to be sure", "1 no", "1 no", "1 no", "more and more"}}
	w, out := session(t, filepath.Join(t.TempDir(), "s.season"), y)
	if len(w.j.Stops) != 4 || len(y.refused) != 3 {
		t.Errorf("%d stops, refused %q", len(w.j.Stops), y.refused)
	}
	if !strings.Contains(out, "The protocol does not say when to come back") || !strings.Contains(out, "as decided at stop 2") {
		t.Error(out)
	}
}
