// Package outfile writes the files that commands are asked for, and spares those
// that are somebody else's work.
//
// For most uses, call [Write] with the test of the kind of file that the command
// makes.
package outfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"unicode/utf16"
)

// A Refusal says why a file is not written. Nothing was changed.
type Refusal struct{ Message string }

func (e *Refusal) Error() string { return e.Message }

// largest bounds what is read of a file that stands in the way.
const largest = 64 << 20

// Write writes a file as a whole or not at all. Only a regular file is written,
// or one that does not exist yet. One that exists is overwritten where it is
// empty, holds the same, or mine says that it was made by the same command; what
// names that kind of file, such as "a card". A symbolic link stays one, to the
// file that is written; a file that exists keeps its mode.
func Write(file string, data []byte, mine func(old []byte) bool, what string) error {
	target, mode, err := check(file, data, mine, what)
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(target), "."+filepath.Base(target)+"-*")
	if err != nil {
		return err
	}
	_, err = tmp.Write(data)
	if err = errors.Join(err, tmp.Chmod(mode), tmp.Sync(), tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), target)
	}
	if err != nil {
		os.Remove(tmp.Name())
	}
	return err
}

// Check returns the refusal that Write would return, and does not write.
func Check(file string, data []byte, mine func(old []byte) bool, what string) error {
	_, _, err := check(file, data, mine, what)
	return err
}

func check(file string, data []byte, mine func(old []byte) bool, what string) (target string, mode fs.FileMode, err error) {
	const usual = 0o644
	info, err := os.Stat(file)
	if errors.Is(err, fs.ErrNotExist) {
		// A link to a file that is not there yet is followed by hand.
		for target = file; ; {
			to, err := os.Readlink(target)
			if err != nil {
				return target, usual, nil
			}
			if !filepath.IsAbs(to) {
				to = filepath.Join(filepath.Dir(target), to)
			}
			target = to
		}
	}
	if err != nil {
		return "", 0, err
	}
	if info.IsDir() {
		return "", 0, &Refusal{"is a directory; give the name of a file"}
	}
	if !info.Mode().IsRegular() {
		return "", 0, &Refusal{"is not a regular file; give the name of one, or of a file that does not exist"}
	}
	if target, err = filepath.EvalSymlinks(file); err != nil {
		return "", 0, err
	}
	if info.Size() > 0 {
		old, err := start(target)
		if err != nil {
			return "", 0, err
		}
		if !bytes.Equal(old, data) && (mine == nil || !mine(old)) {
			return "", 0, &Refusal{"the file exists and is not " + what + "; give another name"}
		}
	}
	return target, info.Mode().Perm(), nil
}

func start(file string) ([]byte, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, largest))
}

// program marks the pictures and documents that this program makes.
const program = "stopwise"

// MarkPNG returns a PNG picture with a text chunk that names the program, behind
// the header (PNG specification, third edition, 5.3 and 11.3.3).
func MarkPNG(picture []byte) []byte {
	const header = 8 + 4 + 4 + 13 + 4
	if len(picture) < header || !bytes.HasPrefix(picture, []byte("\x89PNG\r\n\x1a\n")) {
		return picture
	}
	chunk := []byte("tEXtSoftware\x00" + program)
	out := append([]byte(nil), picture[:header]...)
	out = binary.BigEndian.AppendUint32(out, uint32(len(chunk)-4))
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, picture[header:]...)
}

// MarkSVG returns an SVG with a comment that names the program, behind its first
// line.
func MarkSVG(picture []byte) []byte {
	head, rest, found := bytes.Cut(picture, []byte("\n"))
	if !found {
		return picture
	}
	return bytes.Join([][]byte{head, []byte("<!-- made with " + program + " -->"), rest}, []byte("\n"))
}

// IsPicture reports whether a file is a picture in SVG or PNG, or a document in
// PDF, that this program made.
func IsPicture(old []byte) bool {
	head := old[:min(len(old), 400)]
	switch {
	case bytes.HasPrefix(head, []byte("\x89PNG")):
		return bytes.Contains(head, []byte("tEXtSoftware\x00"+program))
	case bytes.HasPrefix(head, []byte("%PDF-")):
		var wide []byte // as the producer is written
		for _, u := range utf16.Encode([]rune(program)) {
			wide = binary.BigEndian.AppendUint16(wide, u)
		}
		return bytes.Contains(old, append([]byte("/Producer (\xfe\xff"), wide...))
	}
	return bytes.Contains(head, []byte("<!-- made with "+program+" -->"))
}

// IsPage reports whether a file is an HTML page that this program made.
func IsPage(old []byte) bool {
	return bytes.Contains(old[:min(len(old), 2000)], []byte(`<meta name="generator" content="`+program+`">`))
}
