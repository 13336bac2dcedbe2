package outfile

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	mine := func(old []byte) bool { return bytes.HasPrefix(old, []byte("mine")) }
	at := func(name string) string { return filepath.Join(dir, name) }
	put := func(name, text string, mode os.FileMode) {
		t.Helper()
		if err := os.WriteFile(at(name), []byte(text), mode); err != nil {
			t.Fatal(err)
		}
	}
	put("own", "mine 1", 0o600)
	put("other", "yours", 0o644)
	put("same", "mine 2", 0o644)
	put("empty", "", 0o644)
	for link, to := range map[string]string{"link": "own", "dangling": "made", "device": "/dev/full"} {
		if err := os.Symlink(to, at(link)); err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mkfifo(at("pipe"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"own": "", "same": "", "empty": "", "new": "", "link": "", "dangling": "",
		"other": "exists and is not a thing", ".": "is a directory", "device": "is not a regular file", "pipe": "is not a regular file",
	} {
		err := Write(at(name), []byte("mine 2"), mine, "a thing")
		if want != "" {
			if _, refused := errors.AsType[*Refusal](err); !refused || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, want %q", name, err, want)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if got, err := os.ReadFile(at(name)); err != nil || string(got) != "mine 2" {
			t.Errorf("%s holds %q, %v", name, got, err)
		}
	}
	if got, _ := os.ReadFile(at("other")); string(got) != "yours" {
		t.Errorf("the other file holds %q", got)
	}
	for _, link := range []string{"link", "dangling"} {
		if info, err := os.Lstat(at(link)); err != nil || info.Mode()&os.ModeSymlink == 0 {
			t.Errorf("%s is no link any more, %v", link, err)
		}
	}
	if info, err := os.Stat(at("own")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if left, _ := filepath.Glob(at(".*-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if err := Write(at("nowhere/file"), nil, mine, "a thing"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%v", err)
	}
}

func TestMarks(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 3, 2))); err != nil {
		t.Fatal(err)
	}
	marked := MarkPNG(b.Bytes())
	if got, err := png.Decode(bytes.NewReader(marked)); err != nil || got.Bounds().Dx() != 3 { // checks the sum of the chunk, too
		t.Errorf("%v, %v", got, err)
	}
	if IsPicture(b.Bytes()) || !IsPicture(marked) {
		t.Error("the mark does not tell the pictures apart")
	}
	svg := []byte("<?xml version=\"1.0\"?>\n<svg/>")
	if IsPicture(svg) || !IsPicture(MarkSVG(svg)) || IsPicture([]byte("%PDF-1.7\n/Producer (other)")) || IsPicture(nil) {
		t.Error("the mark does not tell the pictures apart")
	}
}
