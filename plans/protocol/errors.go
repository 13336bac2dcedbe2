package protocol

import (
	"fmt"

	"stopwise/sampling"
)

// A FieldError says what is wrong with one value of a protocol, or of another
// request.
type FieldError = sampling.ValueError

// An InputError is a fault in a text that was read, with its place.
type InputError struct {
	Line    int // from 1; 0 where the text as a whole is meant
	Column  int // from 1; 0 where the line is meant
	Message string
	Name    string   // what stands there, where it should be one of a few names; else empty
	Known   []string // those names
}

// Unknown returns the name that stands there and those that are known, for a program
// that asks which one was meant; no names where it is no matter of a name.
func (e *InputError) Unknown() (name string, known []string) { return e.Name, e.Known }

func (e *InputError) Error() string {
	if e.Line == 0 {
		return e.Message
	}
	return fmt.Sprintf("line %d: %s", e.Line, e.Message)
}

// Position returns the line and the column, 0 where there is none.
func (e *InputError) Position() (line, column int) { return e.Line, e.Column }

// Text returns the message without its place.
func (e *InputError) Text() string { return e.Message }
