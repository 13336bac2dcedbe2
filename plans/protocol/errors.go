package protocol

import "fmt"

// A FieldError says what is wrong with one value of a protocol, or of another
// request.
type FieldError struct {
	Path     string // for example "stop.plants" or "stage.0.upper"
	Stage    string // whose terms it is in; empty for none or an unnamed one
	Quantity string // in words; empty where it is no matter of one quantity
	Value    any    // as given; nil where it is missing
	Accepted string // in words; empty where the message says it
	Message  string // the whole of it, where it is not Quantity, Value and Accepted
}

func (e *FieldError) Error() string {
	if e.Message != "" {
		return e.Message
	}
	return fmt.Sprintf("%s is %v; accepted: %s", e.Quantity, e.Value, e.Accepted)
}

// An InputError is a fault in a text that was read, with its place.
type InputError struct {
	Line    int // from 1; 0 where the text as a whole is meant
	Column  int // from 1; 0 where the line is meant
	Message string
}

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
