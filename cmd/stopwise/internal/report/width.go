package report

import (
	"io"

	"golang.org/x/term"
)

// Limits of the columns that a text is set in on a terminal: longer lines are hard
// to read, shorter ones hold no sentence.
const (
	mostColumns   = 100
	fewestColumns = 30
)

// widthOf returns the columns of the terminal that a text goes to, within limits,
// or [TextWidth] where it goes elsewhere.
func widthOf(w io.Writer) int {
	f, ok := w.(interface{ Fd() uintptr })
	if !ok {
		return TextWidth
	}
	columns, _, err := term.GetSize(int(f.Fd()))
	if err != nil || columns <= 0 { // no terminal, or one that does not say
		return TextWidth
	}
	return min(mostColumns, max(fewestColumns, columns))
}
