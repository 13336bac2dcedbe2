// Package planfile reads and seals the files of plans of every kind: what they are is
// written at their head, and a checksum shows whether they were changed.
package planfile

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"stopwise/plans/protocol"
)

// Checksum returns the SHA-256 of a value's compact JSON.
func Checksum(v any) (string, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return "", err
	}
	h := sha256.Sum256(b)
	return "sha256:" + hex.EncodeToString(h[:]), nil
}

// Decode reads a plan file of a kind, strictly.
func Decode(text []byte, kind string, version, newest int, into any) error {
	var head struct {
		Kind    string `json:"kind"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return jsonError(text, err)
	}
	switch {
	case head.Kind != kind:
		return &protocol.InputError{Message: fmt.Sprintf("not a plan file: kind is %q; accepted: %q, as design writes it", head.Kind, kind)}
	case head.Version < version:
		return &protocol.InputError{Message: fmt.Sprintf("plan file version %d, of an older program; this one reads version %d: make the plan again from its protocol", head.Version, version)}
	case head.Version > newest:
		return &protocol.InputError{Message: fmt.Sprintf("plan file version %d; this program reads versions up to %d: use a newer program", head.Version, newest)}
	}
	d := strict(text)
	if err := d.Decode(into); err != nil {
		return jsonError(text, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return &protocol.InputError{Message: "the plan file goes on after its end; make it again with design"}
	}
	return nil
}

func strict(text []byte) *json.Decoder {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	return d
}

// Strictly reads a part of a file that has a form of its own.
func Strictly(text []byte, into any) error { return strict(text).Decode(into) }

func jsonError(text []byte, err error) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return &protocol.InputError{Line: lineAt(text, syntax.Offset), Message: "the plan file is damaged (" + syntax.Error() + "); make it again with design"}
	case errors.As(err, &kind):
		what := cmp.Or(kind.Field, "the file")
		return &protocol.InputError{Line: lineAt(text, kind.Offset), Message: fmt.Sprintf("the plan file is damaged: %s cannot be of kind %s; make it again with design", what, kind.Value)}
	}
	return &protocol.InputError{Message: "the plan file is damaged (" + strings.TrimPrefix(err.Error(), "json: ") + "); make it again with design"}
}

func lineAt(text []byte, offset int64) int {
	return 1 + bytes.Count(text[:min(int(offset), len(text))], []byte("\n"))
}

// Kind returns what a text says of itself that it is, damaged or not; nothing where it
// says none.
func Kind(text []byte) string {
	var head struct {
		Kind string `json:"kind"`
	}
	if json.Unmarshal(text, &head) != nil {
		return ""
	}
	return head.Kind
}
