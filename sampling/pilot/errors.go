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
	More    int    // further rows with the same fault; the message tells
}

// Error returns the fault in one line.
func (e *Error) Error() string {
	if e.Column == "" {
		return fmt.Sprintf("line %d: %s", e.Line, e.Text())
	}
	return fmt.Sprintf("line %d, column %s: %s", e.Line, e.Column, e.Text())
}

// Text returns the message and in how many more rows it holds.
func (e *Error) Text() string {
	switch e.More {
	case 0:
		return e.Message
	case 1:
		return e.Message + " (and so in 1 more row)"
	}
	return fmt.Sprintf("%s (and so in %d more rows)", e.Message, e.More)
}

// MaxErrors is how many faults of a table are kept. Ten thousand rows with the
// same fault need not be read, nor held in memory.
const MaxErrors = 20

// Errors are the faults of a table, in order of the lines on which they come
// first. One cause that spoils many rows is one of them.
type Errors struct {
	First []*Error // at most MaxErrors of them
	Total int      // how many faulty cells and rows there are
	more  int      // faults that First neither holds nor counts
	by    map[string]*Error
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
	if e.more > 0 {
		fmt.Fprintf(&b, "\nand %d more", e.more)
	}
	return b.String()
}

// Others returns how many faults First neither holds nor counts.
func (e *Errors) Others() int { return e.more }

// Unwrap returns the faults kept.
func (e *Errors) Unwrap() []error {
	out := make([]error, len(e.First))
	for i, one := range e.First {
		out[i] = one
	}
	return out
}

// add notes a fault. Faults of one column with the same format have one cause.
func (e *Errors) add(line int, column, format string, args ...any) {
	e.Total++
	cause := column + "\x00" + format
	if one := e.by[cause]; one != nil {
		one.More++
		return
	}
	if len(e.First) == MaxErrors {
		e.more++
		return
	}
	one := &Error{Line: line, Column: column, Message: fmt.Sprintf(format, args...)}
	if e.by == nil {
		e.by = map[string]*Error{}
	}
	e.by[cause] = one
	e.First = append(e.First, one)
}
