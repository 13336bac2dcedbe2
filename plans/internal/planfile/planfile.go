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
	"math"
	"slices"
	"strings"

	"stopwise/plans/protocol"
)

// Seal returns a file as indented JSON with its checksum in place, at sum: the SHA-256 of
// its own compact JSON without one.
func Seal(file any, sum *string) ([]byte, error) {
	var err error
	if *sum, err = checksum(file, sum); err != nil {
		return nil, err
	}
	b, err := json.MarshalIndent(file, "", "  ")
	return append(b, '\n'), err
}

// whole reports whether a file that was read from compact text has the checksum that it
// states, at sum. One that only orders its keys otherwise is not changed.
func whole(compact []byte, file any, sum *string) bool {
	if untouched(compact, *sum) {
		return true
	}
	is, err := checksum(file, sum)
	return err == nil && is == *sum
}

func checksum(file any, sum *string) (string, error) {
	stated := *sum
	*sum = ""
	b, err := json.Marshal(file)
	*sum = stated
	return checksumOf(b), err
}

func checksumOf(compact []byte) string {
	h := sha256.Sum256(compact)
	return "sha256:" + hex.EncodeToString(h[:])
}

// untouched reports whether a file is to the letter, spaces apart, what its checksum
// was made of. That is less work than to write the plan again.
func untouched(compact []byte, sum string) bool {
	body, sealed := bytes.CutSuffix(compact, fmt.Appendf(nil, `,"checksum":%q}`, sum))
	return sealed && checksumOf(append(slices.Clip(body), '}')) == sum
}

// Read reads a plan file of a kind, strictly, and reports whether it has the checksum
// that it then states, at sum.
func Read(text []byte, kind string, version, newest int, into any, sum *string) (untouched bool, err error) {
	head, err := headOf(text)
	if err != nil {
		return false, jsonError(text, err)
	}
	switch {
	case head.Kind != kind:
		return false, &protocol.InputError{Message: fmt.Sprintf("not a plan file: kind is %q; accepted: %q, as design writes it", head.Kind, kind)}
	case head.Version < version:
		return false, &protocol.InputError{Message: fmt.Sprintf("plan file version %d, of an older program; this one reads version %d: make the plan again from its protocol", head.Version, version)}
	case head.Version > newest:
		return false, &protocol.InputError{Message: fmt.Sprintf("plan file version %d; this program reads versions up to %d: use a newer program", head.Version, newest)}
	}
	// Half of a file is spaces, which are taken out once.
	var compact bytes.Buffer
	if json.Compact(&compact, text) != nil || Strictly(compact.Bytes(), into) != nil {
		// Told by its line.
		return false, jsonError(text, cmp.Or(Strictly(text, into), json.Unmarshal(text, new(any))))
	}
	return whole(compact.Bytes(), into, sum), nil
}

// Strictly reads a file, or a part that has a form of its own.
func Strictly(text []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	return d.Decode(into)
}

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
	head, err := headOf(text)
	if err != nil {
		return ""
	}
	return head.Kind
}

// A head is what a plan file says of itself.
type head struct {
	Kind    string `json:"kind"`
	Version int    `json:"version"`
}

// headOf returns the head of a plan file. It stands first in a file that design
// wrote, so that the rest need not be read for it.
func headOf(text []byte) (h head, err error) {
	var first [5]json.Token
	d := json.NewDecoder(bytes.NewReader(text))
	for i := range first {
		if first[i], err = d.Token(); err != nil {
			break
		}
	}
	kind, isText := first[2].(string)
	version, isNumber := first[4].(float64)
	if first[1] == "kind" && isText && first[3] == "version" && isNumber && version == math.Trunc(version) {
		return head{kind, int(version)}, nil
	}
	return h, json.Unmarshal(text, &h)
}
