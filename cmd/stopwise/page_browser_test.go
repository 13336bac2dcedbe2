package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"stopwise/cmd/stopwise/internal/browsertest"
)

// The review page in a real browser: readable by everybody, asking for nothing
// beyond itself, and printable.
func TestReviewPageInBrowser(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	file := filepath.Join(t.TempDir(), "review.html")
	args := []string{"stopwise", "design", "../../testdata/marrow-vale/protocol.toml", "--method", "lines", "--page", file}
	var out, errOut bytes.Buffer
	if status := run(args, strings.NewReader(""), &out, &errOut); status != 0 {
		t.Fatalf("status %d: %s", status, errOut.String())
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p.Open(text)
	if got := p.Text("h1"); !strings.Contains(got, "Marrow Vale") {
		t.Errorf("heading %q", got)
	}
	if n := browsertest.Eval[int](p, `document.querySelectorAll("table").length`); n < 9 {
		t.Errorf("%d tables", n)
	}
	for _, fault := range p.Accessibility() {
		t.Error(fault)
	}
	for _, address := range p.Requests() {
		if !strings.HasPrefix(address, "file://") && !strings.HasPrefix(address, "data:") {
			t.Errorf("the page asks for %s", address)
		}
	}
	p.Picture("review")
	if sheets := p.Print("review", chromedp.PaperA4); sheets < 2 || sheets > 12 {
		t.Errorf("prints on %d sheets", sheets)
	}
}

// The file of evidence prints on two sheets a stage at most, with all that stands
// behind the plan.
func TestEvidenceInBrowser(t *testing.T) {
	t.Parallel()
	p := browsertest.New(t)
	const vale = "../../testdata/marrow-vale/"
	dir := t.TempDir()
	file, plan, recorded := filepath.Join(dir, "evidence.html"), filepath.Join(dir, "plan.json"), filepath.Join(dir, "made.season")
	for _, args := range [][]string{
		{"design", vale + "protocol.toml", "--method", "lines", "--out", plan},
		{"season", "import", recorded, vale + "visits.csv", "--plan", plan},
		{"design", vale + "protocol.toml", "--method", "lines", "--page", file, "--made-by", "A. Grower", "--pilot", vale + "pilot.csv", "--data", vale + "fields.csv", "--season", recorded},
	} {
		var out, errOut bytes.Buffer
		if status := run(append([]string{"stopwise"}, args...), strings.NewReader(""), &out, &errOut); status != 0 {
			t.Fatalf("%s: status %d: %s", args[0], status, errOut.String())
		}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p.Open(text)
	for _, fault := range p.Accessibility() {
		t.Error(fault)
	}
	const stages = 3
	sheets := p.Print("evidence", chromedp.PaperA4)
	t.Logf("%d sheets", sheets)
	if sheets > 2*stages {
		t.Errorf("prints on %d sheets, more than two for each of %d stages", sheets, stages)
	}
}
