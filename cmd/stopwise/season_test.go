package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func runIn(t *testing.T, in string, args ...string) (status int, out, errOut string) {
	t.Helper()
	var o, e bytes.Buffer
	status = run(append([]string{"stopwise"}, args...), strings.NewReader(in), &o, &e)
	return status, o.String(), e.String()
}

// The lines of a field card become visits, and what they came to is listed.
func TestImportCards(t *testing.T) {
	dir := t.TempDir()
	planFile, file := longPlan(t, dir, 3), filepath.Join(dir, "s.season")
	text, err := os.ReadFile(planFile)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	sum, err := plan.Checksum()
	if err != nil {
		t.Fatal(err)
	}
	line, err := season.CardVisit{
		ID: "0b5d6a3e-94c7-4d0a-9a57-0f6b8f6d3c11", Plan: sum, Field: "North", Date: "2026-07-01", Stage: "Leafing",
		Counts: []int{5, 5, 4}, Plants: []int{5, 5, 4}, Changes: 3, Note: "from the card",
	}.Line()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1 new visit. 1 line without a visit passed over.", "0 new visits, 1 already there."} {
		status, out, errOut := runIn(t, "Hello\n"+line+"\n", "season", "import", file, "-", "--plan", planFile)
		if status != 0 || !strings.Contains(out, want) {
			t.Errorf("%d %q %q, want %q", status, out, errOut, want)
		}
	}
	status, out, errOut := runIn(t, "", "season", "list", file, "--format", "json")
	var list struct {
		Kind   string
		Visits []struct {
			Field, Stage, Verdict, Source string
			Plants, Infested              int
		}
	}
	if err := json.Unmarshal([]byte(out), &list); err != nil || status != 0 {
		t.Fatal(status, errOut, err)
	}
	if v := list.Visits[0]; len(list.Visits) != 1 || v.Stage != "leafing" || v.Verdict != "act" || v.Source != "card" || v.Plants != 14 || v.Infested != 14 {
		t.Errorf("%+v", list)
	}
	if _, out, _ = runIn(t, "", "season", "show", file); !strings.Contains(out, "- note: from the card") || !strings.Contains(out, "Cautions: ") {
		t.Error(out)
	}
	if status, _, errOut = runIn(t, "", "season", "verify", file); status != 0 {
		t.Error(errOut)
	}
}

// Verify has exit status 1 where the file was changed behind its back.
func TestVerifyFails(t *testing.T) {
	dir := t.TempDir()
	planFile, file := longPlan(t, dir, 3), filepath.Join(dir, "s.season")
	if status, _, errOut := runIn(t, "5\n5\n5\n", "walk", planFile, "--season", file, "--field", "North", "--date", "2026-07-01"); status != 0 {
		t.Fatal(errOut)
	}
	// The day of the visit stands in the file as text.
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	changed := bytes.Replace(raw, []byte("2026-07-01leafing"), []byte("2026-07-02leafing"), 1)
	if bytes.Equal(raw, changed) {
		t.Fatal("the visit is not in the file where it was looked for")
	}
	if err := os.WriteFile(file, changed, 0o644); err != nil {
		t.Fatal(err)
	}
	status, out, errOut := runIn(t, "", "season", "verify", file)
	if status != shell.StatusFailed || !strings.Contains(out, "Faults:") || !strings.HasSuffix(errOut, "found\n") {
		t.Errorf("%d %q %q", status, out, errOut)
	}
}

func TestSeasonFileBeforeTheCommand(t *testing.T) {
	app := shell.NewApp(commands, shell.Env{})
	for args, want := range map[string]string{
		"season s.season due --date 2026-07-01": "season due --date 2026-07-01 -- s.season",
		"season due s.season --date 2026-07-01": "season due --date 2026-07-01 -- s.season",
		"season list list":                      "season list -- list",
	} {
		got := shell.Permute(app, append([]string{"stopwise"}, strings.Fields(args)...))
		if s := strings.Join(got[1:], " "); s != want {
			t.Errorf("%s: %s, want %s", args, s, want)
		}
	}
}
