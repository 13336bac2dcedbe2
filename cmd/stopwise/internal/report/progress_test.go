package report

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
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
