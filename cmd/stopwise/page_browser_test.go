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
	p := browsertest.New(t)
	file := filepath.Join(t.TempDir(), "review.html")
	args := []string{"stopwise", "design", "../../testdata/marrow-vale/protocol.toml", "--page", file}
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
