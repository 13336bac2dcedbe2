package pilot

import (
	"fmt"
	"strings"
)

// An Error is one fault of a table.
type Error struct {
	Line    int    // from 1, the header's included
	Column  string // name of the column; empty where the whole row is meant
	Message string // what is wrong, and what is accepted
}

// Error returns the fault in one line.
func (e *Error) Error() string {
	if e.Column == "" {
		return fmt.Sprintf("line %d: %s", e.Line, e.Message)
	}
	return fmt.Sprintf("line %d, column %s: %s", e.Line, e.Column, e.Message)
}

// MaxErrors is how many faults of a table are kept. Ten thousand rows with the
// same fault need not be read, nor held in memory.
const MaxErrors = 20

// Errors are the faults of a table, in order of their lines.
type Errors struct {
	First []*Error // at most MaxErrors of them
	Total int      // how many there are
}

// Error returns the faults, one a line, and how many more there are.
func (e *Errors) Error() string {
	var b strings.Builder
	for i, one := range e.First {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(one.Error())
	}
	if more := e.Total - len(e.First); more > 0 {
		fmt.Fprintf(&b, "\nand %d more", more)
	}
	return b.String()
}

// Unwrap returns the faults kept.
func (e *Errors) Unwrap() []error {
	out := make([]error, len(e.First))
	for i, one := range e.First {
		out[i] = one
	}
	return out
}

func (e *Errors) add(line int, column, format string, args ...any) {
	e.Total++
	if len(e.First) < MaxErrors {
		e.First = append(e.First, &Error{line, column, fmt.Sprintf(format, args...)})
	}
}
