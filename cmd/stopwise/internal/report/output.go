package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/textsafe"
)

// Formats are the formats that Write knows, the usual one first.
var Formats = []string{"text", "csv", "json", "markdown"}

// Output is one result in the shapes that the formats need. A nil part means
// that the formats made from it cannot hold the result.
type Output struct {
	Doc     *Document // text and markdown
	Records *Records  // csv
	JSON    any       // json: a struct with snake_case keys that embeds an Envelope
}

// An Envelope is the start of every JSON document that the program prints.
// Version rises when a key changes its meaning or goes.
type Envelope struct {
	Kind    string `json:"kind" csv:"-"`
	Version int    `json:"version" csv:"-"`
}

// A FormatError says that a format cannot hold an output. It is the fault of
// whoever asked for the format.
type FormatError struct {
	Format string
	Use    []string // the formats that can
}

func (e *FormatError) Error() string {
	use := strings.Join(e.Use, ", ")
	if n := len(e.Use); n > 1 {
		use = strings.Join(e.Use[:n-1], ", ") + " or " + e.Use[n-1]
	}
	return fmt.Sprintf("%s cannot hold this output; use %s", e.Format, use)
}

// Write writes o in a format. Nothing is written when there is an error before
// the writing itself.
func Write(w io.Writer, format string, o Output) error { return (&Progress{}).Write(w, format, o) }

// Write is as the function of that name; the bar stands until all is ready to be written.
func (p *Progress) Write(w io.Writer, format string, o Output) error {
	data, err := o.encode(format, widthOf(w))
	p.Done()
	if err != nil {
		return err
	}
	_, err = w.Write(data)
	return err
}

func (o Output) encode(format string, width int) ([]byte, error) {
	usable := o.formats()
	if !slices.Contains(usable, format) {
		return nil, &FormatError{format, usable}
	}
	switch format {
	case "csv":
		return o.Records.encode()
	case "json":
		b, err := encodeJSON(o.JSON)
		return textsafe.JSON(b), err
	case "markdown":
		s, err := o.Doc.Markdown()
		return []byte(textsafe.Text(s)), err
	default:
		s, err := o.Doc.Text(width)
		return []byte(textsafe.Text(s)), err
	}
}

func (o Output) formats() []string {
	has := map[string]bool{"text": o.Doc != nil, "markdown": o.Doc != nil, "csv": o.Records != nil, "json": o.JSON != nil}
	return slices.DeleteFunc([]string{"text", "markdown", "csv", "json"}, func(f string) bool { return !has[f] })
}

// encodeJSON refuses NaN and infinities, which JSON cannot hold: "never" and
// "not known" are null.
func encodeJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		if u, ok := errors.AsType[*json.UnsupportedValueError](err); ok {
			return nil, fmt.Errorf("report: json cannot hold the value %s", u.Str)
		}
		return nil, fmt.Errorf("report: %w", err)
	}
	var head Envelope
	if err := json.Unmarshal(b.Bytes(), &head); err != nil || head.Kind == "" || head.Version < 1 {
		return nil, fmt.Errorf("report: the json of a %T has no kind and version", v)
	}
	return b.Bytes(), nil
}

// Records are the rows of a CSV file.
type Records struct {
	// Guarded marks texts that a spreadsheet would run as formulas; without it
	// every cell holds exactly what it says.
	Guarded bool

	keys  []string
	rows  [][]any
	fault error
}

func (r *Records) encode() ([]byte, error) {
	if r.fault != nil {
		return nil, r.fault
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(r.keys) // a bytes.Buffer takes everything
	for i, row := range r.rows {
		cells := make([]string, len(row))
		for j, v := range row {
			var err error
			if cells[j], err = cell(v); err != nil {
				return nil, fmt.Errorf("report: csv row %d, %s: %w", i+1, r.keys[j], err)
			}
			if r.Guarded {
				cells[j] = textsafe.Cell(cells[j])
			}
		}
		_ = w.Write(cells)
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// cell writes a string, bool, whole number or float64, or a pointer to one, as a cell.
// Numbers are written with all their digits; nil is an empty cell.
func cell(v any) (string, error) {
	x := reflect.ValueOf(v)
	if x.Kind() == reflect.Pointer {
		x = x.Elem()
	}
	switch x.Kind() {
	case reflect.Invalid:
		return "", nil
	case reflect.String:
		return x.String(), nil
	case reflect.Bool:
		return strconv.FormatBool(x.Bool()), nil
	case reflect.Int, reflect.Int64:
		return strconv.FormatInt(x.Int(), 10), nil
	case reflect.Float64:
		if math.IsNaN(x.Float()) || math.IsInf(x.Float(), 0) {
			return "", fmt.Errorf("csv cannot hold the value %v", x)
		}
		return strconv.FormatFloat(x.Float(), 'g', -1, 64), nil
	}
	return "", fmt.Errorf("csv cannot hold a %T", v)
}
