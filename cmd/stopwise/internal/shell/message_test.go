package shell

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/sampling"
)

func TestStatus(t *testing.T) {
	bad := InputError("a.csv", errors.New("empty"))
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, 0},
		{errors.New("anything"), 1},
		{Failure("no plan"), 1},
		{Failure("no plan: %w", bad), 1},
		{UsageError("bad"), 2},
		{bad, 2},
		{fmt.Errorf("stage leafing: %w", bad), 2},
		{errors.Join(Failure("no plan"), bad), 2},
		{errors.Join(errors.New("a"), errors.New("b")), 1},
		{fmt.Errorf("a: %w", errors.New("b")), 1},
		{&report.FormatError{Format: "csv"}, 2},
		{InputError("a.csv", nil), 0},
	} {
		if got := statusOf(c.err); got != c.want {
			t.Errorf("status of %v is %d, want %d", c.err, got, c.want)
		}
	}
}

func TestInputError(t *testing.T) {
	inner := &placed{3, 2, "bad count"}
	for _, c := range []struct {
		file string
		err  error
		want string
	}{
		{"a.csv", errors.New("empty"), "a.csv: empty"},
		{"-", errors.New("empty"), "standard input: empty"},
		{"a.csv", inner, "a.csv:3:2: bad count"},
		{"a.csv", &placed{3, 0, "bad count"}, "a.csv:3: bad count"},
		{"a.csv", &placed{0, 4, "bad count"}, "a.csv: bad count"},
		{"a.csv", InputError("a.csv", inner), "a.csv:3:2: bad count"},
		{"b", errors.Join(inner, errors.Join(inner, errors.New("x"))), "b:3:2: bad count\nb:3:2: bad count\nb: x"},
		{"b", fmt.Errorf("%w and %w", errors.New("x"), errors.New("y")), "b: x and y"},
		{"c", fmt.Errorf("plans: %w", &fs.PathError{Op: "open", Path: "c", Err: os.ErrPermission}), "c: permission denied"},
	} {
		err := InputError(c.file, c.err)
		if err.Error() != c.want {
			t.Errorf("%q, want %q", err, c.want)
		}
		if !errors.Is(err, leaves(c.err)[0]) {
			t.Errorf("%v does not lead to its cause", err)
		}
	}
}

// A name that is much like a known one brings the question whether that was meant,
// however the error is wrapped; another one does not.
func TestMeant(t *testing.T) {
	known := []string{"leafing", "budding", "pod fill"}
	stages := map[string]string{
		"leafin": "leafing", "Budding ": "budding", "bdding": "budding", "leaf": "leafing", "podfill": "pod fill",
		"ripening": "", "le": "", "": "", "feeding": "", strings.Repeat("leafing", 1000): "",
	}
	for name, want := range stages {
		err := sampling.RefuseName(name, known, "no stage %q", name)
		for _, wrapped := range []error{err, UsageError("--stage: %w", err), InputError("a.csv", err), Failure("a: %w", err)} {
			var b bytes.Buffer
			printError(&b, wrapped)
			if asks := strings.HasSuffix(b.String(), fmt.Sprintf("; did you mean %q?\n", want)); asks != (want != "") {
				t.Errorf("%q, of which %q is like: %s", name, want, b.String())
			}
		}
	}
	// Of two that are as near by letters, the one that begins alike.
	if got := Closest("tabel", []string{"label", "table"}); got != "table" {
		t.Errorf("tabel is taken for %q", got)
	}
	for _, err := range []error{errors.New("anything"), sampling.Refusef("anything"), sampling.RefuseShare("share", 2, "below 1")} {
		if s := meant(err); s != "" {
			t.Errorf("%v: %q", err, s)
		}
	}
}

// A message is one line without control characters, whatever is in it.
func TestMessagesArePrintable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := string(rapid.SliceOf(rapid.Byte()).Draw(t, "text"))
		var b bytes.Buffer
		printMessage(&b, s)
		got := b.String()
		if !strings.HasPrefix(got, "stopwise: ") || strings.Count(got, "\n") != 1 {
			t.Fatalf("%q", got)
		}
		if i := strings.IndexFunc(strings.TrimSuffix(got, "\n"), unicode.IsControl); i >= 0 {
			t.Fatalf("%q holds a control character", got)
		}
	})
	for in, want := range map[string]string{
		"plain ≥ text": "plain ≥ text", "a\nb": "a; b", "\x1b[31mred": `\x1b[31mred`, "a\tb": `a\tb`, "bad \xff": `bad \xff`,
	} {
		if got := Printable(in); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

type placed struct {
	line, column int
	text         string
}

func (p *placed) Error() string { return fmt.Sprintf("line %d: %s", p.line, p.text) }

func (p *placed) Position() (int, int) { return p.line, p.column }

func (p *placed) Text() string { return p.text }
