package report

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/vbauerster/mpb/v8"
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

// A bar says how many steps are done, one whose end is not known turns, and neither
// waits for steps that are not reported.
func TestProgressShows(t *testing.T) {
	for total, want := range map[int64]string{10: "4 of 10", -1: "trying", 1: "trying"} {
		shown := make(shownLines, 1000)
		p := newProgress("trying", total, mpb.WithOutput(shown), mpb.WithAutoRefresh(), mpb.WithRefreshRate(time.Millisecond))
		if total > 1 {
			p.Add(4)
		}
		for line := range shown {
			if strings.Contains(line, want) {
				break
			}
		}
		p.Done()
		p.Done()
	}
}

type shownLines chan string

func (s shownLines) Write(b []byte) (int, error) {
	select {
	case s <- string(b):
	default: // nobody reads any more
	}
	return len(b), nil
}
