package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/shell"
)

// TestShortAnswers holds the length of what is printed without --detail, and that
// --detail lacks nothing of it.
func TestShortAnswers(t *testing.T) {
	vale, err := filepath.Abs("../../testdata/marrow-vale")
	if err != nil {
		t.Fatal(err)
	}
	t.Parallel()
	dir := t.TempDir()
	plan, season := filepath.Join(dir, "plan.json"), filepath.Join(dir, "season.toml")
	if err := os.WriteFile(season, []byte(strings.Replace(byLastText, "tables = 3", "tables = 1", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	file := func(name string) string { return filepath.Join(vale, name) }
	for _, c := range []struct {
		call string
		most int // lines
	}{
		{"design " + file("protocol.toml") + " --stage leafing --out " + plan, 45},
		{"design " + season, 45},
		{"fit " + file("pilot.csv"), 30},
		{"fit " + file("pilot-leaves.csv"), 30},
		{"validate " + plan, 40},
		{"validate " + plan + " --simulate space --visits 1000", 40},
		{"validate " + plan + " --visits 1000 --data " + file("fields.csv") + " --fitted-on " + file("pilot.csv"), 40},
	} {
		if strings.Contains(c.call, "--simulate space") && !*full {
			continue // lays out routes in six patterns, twice
		}
		short, long := printed(t, c.call), printed(t, c.call+" --detail")
		if n := strings.Count(short, "\n"); n > c.most {
			t.Errorf("%s: %d lines, more than %d", c.call, n, c.most)
		}
		if strings.Count(long, "\n") <= strings.Count(short, "\n") {
			t.Errorf("%s: --detail is no longer", c.call)
		}
		within := flatText(long)
		for _, s := range sentences(short) {
			if !strings.Contains(within, s) && !onlyShort.MatchString(s) {
				t.Errorf("%s: --detail does not hold %q", c.call, s)
			}
		}
	}
}

// onlyShort is what a short answer says of itself, or in fewer words than --detail.
var onlyShort = regexp.MustCompile(`^-*detail shows|--detail|^Decision table of|^No verdict before|^Taken for granted|growth stage +treated|^Worst exact risks|^at \d|: \d+\.\d% \(|^pest +|does the promise hold\?|^(hot-spots|edge|gradient|uniform|strip|arrivals) +`)

func printed(t *testing.T, call string) string {
	t.Helper()
	var out, errOut bytes.Buffer
	if status := run(append([]string{"stopwise"}, strings.Fields(call)...), strings.NewReader(""), &out, &errOut); status != shell.StatusDone {
		t.Fatalf("%s: status %d: %s", call, status, errOut.String())
	}
	return out.String()
}

func flatText(s string) string { return strings.Join(strings.Fields(s), " ") }

// sentences parts a text at its paragraphs and at the ends of sentences, and tables at
// their lines.
func sentences(text string) []string {
	var out []string
	for _, block := range strings.Split(text, "\n\n") {
		parts := strings.SplitAfter(flatText(block), ". ")
		if strings.Contains(block, "───") {
			parts = strings.Split(block, "\n")
		}
		for _, p := range parts {
			if p = strings.Trim(flatText(p), "─=- "); p != "" {
				out = append(out, p)
			}
		}
	}
	return out
}
