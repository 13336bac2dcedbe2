package pilot

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode"

	utf16 "golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// NewCSV returns a reader of a table as spreadsheets write it: in UTF-8 or UTF-16,
// with a byte order mark or without, its columns parted by commas, semicolons,
// tabs or bars.
func NewCSV(in io.Reader) (*csv.Reader, error) {
	buf, err := utf8Text(in)
	if err != nil {
		return nil, err
	}
	r := csv.NewReader(buf)
	r.Comma = separatorOf(buf)
	r.FieldsPerRecord = -1
	return r, nil
}

// utf8Text returns a text as UTF-8 without a byte order mark: spreadsheets write
// UTF-16 too, and say so by its mark.
func utf8Text(in io.Reader) (*bufio.Reader, error) {
	buf := bufio.NewReaderSize(in, 1<<16)
	head, err := buf.Peek(3)
	if err != nil && err != io.EOF {
		return nil, err
	}
	switch {
	case bytes.Equal(head, []byte("\xef\xbb\xbf")):
		_, err := buf.Discard(3)
		return buf, err
	case bytes.HasPrefix(head, []byte("\xff\xfe")), bytes.HasPrefix(head, []byte("\xfe\xff")):
		wide := utf16.UTF16(utf16.LittleEndian, utf16.ExpectBOM)
		return bufio.NewReaderSize(transform.NewReader(buf, wide.NewDecoder()), 1<<16), nil
	}
	return buf, nil
}

// separatorOf returns what stands between the columns: the one of comma,
// semicolon, tab and bar that is most often in the first line with anything in
// it, outside of quotes.
func separatorOf(buf *bufio.Reader) rune {
	head, _ := buf.Peek(4096) // a shorter text is no error here
	line := ""
	for _, l := range strings.FieldsFunc(string(head), func(r rune) bool { return r == '\n' || r == '\r' }) {
		if strings.TrimSpace(l) != "" {
			line = l
			break
		}
	}
	best, most := ',', 0
	for _, sep := range []rune{',', ';', '\t', '|'} {
		n, quoted := 0, false
		for _, r := range line {
			if r == '"' {
				quoted = !quoted
			} else if r == sep && !quoted {
				n++
			}
		}
		if n > most {
			best, most = sep, n
		}
	}
	return best
}

// Date returns a date written as 2026-05-14 or as 14.5.2026 in the first of
// these forms.
func Date(s string) (string, bool) {
	for _, layout := range []string{time.DateOnly, "2.1.2006"} {
		if day, err := time.Parse(layout, s); err == nil {
			return day.Format(time.DateOnly), true
		}
	}
	return s, false
}

// pointed returns a number written with a decimal comma with a point.
func pointed(s string) string {
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		return strings.Replace(s, ",", ".", 1)
	}
	return s
}

// slips returns notes about stages that may be the same, mistyped: such a slip
// makes another visit of a field.
func slips(fields []Field) []string {
	type seen struct{ line, fields int }
	stages := map[string]*seen{}
	var order []string
	for _, f := range fields {
		s := stages[f.Stage]
		if s == nil {
			s = &seen{line: f.Stops[0].Line}
			stages[f.Stage] = s
			order = append(order, f.Stage)
		}
		s.fields++
	}
	var notes []string
	for i, a := range order {
		for _, b := range order[:i] {
			rare, usual := a, b
			if stages[a].fields > stages[b].fields {
				rare, usual = b, a
			}
			if nearStage(rare, usual) {
				notes = append(notes, "the stage "+quoted(rare)+" (first on line "+strconv.Itoa(stages[rare].line)+") is like "+quoted(usual)+
					": taken as another one, and its rows as other visits; if it is a slip, mend it in the table")
			}
		}
	}
	return notes
}

// nearStage reports whether two stages differ in nothing but case and signs, or in
// one letter more, less, other or swapped with its neighbour. Numbers make
// different stages.
func nearStage(a, b string) bool {
	letters := func(s string) []rune {
		var out []rune
		for _, r := range strings.ToLower(s) {
			if unicode.IsLetter(r) || unicode.IsDigit(r) {
				out = append(out, r)
			}
		}
		return out
	}
	x, y := letters(a), letters(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(x) < 3 || len(y)-len(x) > 1 {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	rest, other := string(x[i:]), string(y[i:])
	digits := func(s string) string {
		return strings.Map(func(r rune) rune {
			if unicode.IsDigit(r) {
				return r
			}
			return -1
		}, s)
	}
	switch {
	case rest == other:
		return true
	case digits(rest) != digits(other):
		return false
	case len(x) < len(y):
		return rest == string(y[i+1:])
	case string(x[i+1:]) == string(y[i+1:]):
		return true
	}
	return i+1 < len(x) && x[i] == y[i+1] && x[i+1] == y[i] && string(x[i+2:]) == string(y[i+2:])
}
