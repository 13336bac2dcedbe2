package report

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestProgressIsSilentWithoutTerminal(t *testing.T) {
	var b bytes.Buffer
	p := NewProgress(&b, "simulating", 10)
	p.Add(5)
	p.Done()
	if b.Len() != 0 {
		t.Errorf("wrote %q", b.String())
	}
	f, err := os.Create(filepath.Join(t.TempDir(), "log"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p = NewProgress(f, "simulating", 10)
	p.Add(10)
	p.Done()
	if info, err := f.Stat(); err != nil || info.Size() != 0 {
		t.Errorf("wrote %d bytes to a file (%v)", info.Size(), err)
	}
}

// A bar fills with the steps done and does not run over; one whose end is not known
// turns. The line is gone when the work is.
func TestProgressLine(t *testing.T) {
	for _, c := range []struct {
		total, done int64
		want        string
	}{
		{10, 0, "trying   0% [                              ] 0 of 10"},
		{10, 4, "trying  40% [============                  ] 4 of 10"},
		{10, 10, "trying 100% [==============================] 10 of 10"},
		{10, 12, "trying 100% [==============================] 10 of 10"},
		{1, 0, "trying /"},
		{-1, 5, "trying /"},
	} {
		p := &Progress{label: "trying", total: c.total}
		p.Add(c.done)
		if got := p.line(1); got != c.want {
			t.Errorf("%d of %d: %q, not %q", c.done, c.total, got, c.want)
		}
	}
	shown := make(shownLines, 100)
	p := &Progress{w: shown, label: "trying", total: 2}
	p.begin(time.Millisecond)
	p.Add(1)
	for line := range shown {
		if strings.Contains(line, "1 of 2") {
			break
		}
	}
	p.Done()
	p.Done()
	close(shown)
	last := ""
	for last = range shown {
	}
	if last != "\r\x1b[K" {
		t.Errorf("ends with %q", last)
	}
}

type shownLines chan string

func (s shownLines) Write(b []byte) (int, error) {
	s <- string(b)
	return len(b), nil
}
