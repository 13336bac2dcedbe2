package season

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"stopwise/cmd/stopwise/internal/textsafe"
	"stopwise/plans"
	"stopwise/sampling/pilot"
)

// A Row is one stop in a table of visits.
type Row struct {
	Line  int
	Visit string // id; empty for visits that the table does not name
	Field string
	Date  string
	Stage string
	Plan  string // checksum; empty for the plan given beside the table
	Stop  int
	Count int // infested plants, or insects
	// Insects is set where the count stands in the column insects.
	Insects bool
	Plants  int // 0 for the planned number
	Sign    *bool
	Last    plans.Last // with which of several tables the visit was walked; empty where that is not said
}

// A CellError is a fault in a table.
type CellError struct {
	Line, Column int
	Message      string
}

func (e *CellError) Error() string {
	return fmt.Sprintf("line %d, column %d: %s", e.Line, e.Column, e.Message)
}

// Position returns the line and the column.
func (e *CellError) Position() (line, column int) { return e.Line, e.Column }

// Text returns the message without its place.
func (e *CellError) Text() string { return e.Message }

var neededColumns = []string{"field", "date", "stop"}

// ReadTable reads a table of stops: CSV with a header, columns by name in any
// order. It needs field, date, stop, and infested or insects; plants, stage,
// sign (yes or no), visit, plan and last may be there, and others are passed over. It
// reports all faults, as CellErrors.
func ReadTable(in io.Reader) ([]Row, error) {
	t := &tableReader{columns: map[string]int{}}
	width := 0
	err := readRows(in, "the table is empty; its first line names the columns", func(r *csv.Reader, head []string) error {
		t.csv, width = r, len(head)
		return t.header(head)
	}, func(_ *csv.Reader, record []string) { t.row(record, width) })
	if err != nil {
		return nil, errors.Join(append(t.errs, err)...)
	}
	return t.rows, errors.Join(t.errs...)
}

// readRows reads CSV whose first line names the columns: header is told of it, and
// row of every line after it. It ends where header finds a fault, and where the
// quoting is lost.
func readRows(in io.Reader, empty string, header func(*csv.Reader, []string) error, row func(*csv.Reader, []string)) error {
	r, err := pilot.NewCSV(in)
	if err != nil {
		return err
	}
	r.TrimLeadingSpace = true
	head, err := r.Read()
	switch {
	case errors.Is(err, io.EOF):
		return errors.New(empty)
	case err != nil:
		return csvError(err)
	}
	if err := header(r, head); err != nil {
		return err
	}
	for {
		record, err := r.Read()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return csvError(err)
		}
		row(r, record)
	}
}

func csvError(err error) error {
	if p, ok := errors.AsType[*csv.ParseError](err); ok {
		return &CellError{p.Line, p.Column, p.Err.Error()}
	}
	return err
}

type tableReader struct {
	csv     *csv.Reader
	columns map[string]int
	record  []string
	rows    []Row
	errs    []error
}

func (t *tableReader) header(head []string) error {
	var errs []error
	for i, name := range head {
		name = strings.ToLower(strings.TrimSpace(name))
		if _, twice := t.columns[name]; twice {
			_, column := t.csv.FieldPos(i)
			errs = append(errs, &CellError{1, column, fmt.Sprintf("column %q appears twice", name)})
		}
		t.columns[name] = i
	}
	for _, name := range neededColumns {
		if _, ok := t.columns[name]; !ok {
			errs = append(errs, &CellError{1, 1, fmt.Sprintf("no column %q; the columns are %s, parted by commas", name, strings.Join(head, " "))})
		}
	}
	_, infested := t.columns["infested"]
	_, insects := t.columns["insects"]
	if !infested && !insects {
		errs = append(errs, &CellError{1, 1, `no column "infested" or "insects"`})
	}
	return errors.Join(errs...)
}

func (t *tableReader) row(record []string, width int) {
	t.record = record
	line, _ := t.csv.FieldPos(0)
	if len(record) != width {
		t.errs = append(t.errs, &CellError{line, 1, fmt.Sprintf("%d cells; the header has %d", len(record), width)})
		return
	}
	before := len(t.errs)
	row := Row{
		Line: line, Visit: t.text("visit"), Field: t.text("field"), Date: t.text("date"), Stage: t.text("stage"), Plan: t.text("plan"),
		Stop: t.number("stop", 1, true), Plants: t.number("plants", 1, false), Sign: t.sign(),
	}
	name, err := textsafe.Name(row.Field)
	if row.Field = name; err != nil {
		t.wrong("field", err.Error())
	}
	row.Date, _ = pilot.Date(row.Date)
	if err := CheckDate(row.Date); err != nil {
		t.wrong("date", err.Error())
	}
	if row.Visit != "" {
		id, err := uuid.Parse(row.Visit)
		if err != nil {
			t.wrong("visit", fmt.Sprintf("%q is not an id; accepted: one that season export wrote, or nothing", row.Visit))
		}
		row.Visit = id.String()
	}
	if row.Last = plans.Last(strings.ToLower(t.text("last"))); !knownLast(row.Last) {
		t.wrong("last", fmt.Sprintf("%q; accepted: none, found, little, more or nothing", row.Last))
	}
	switch infested, insects := t.text("infested"), t.text("insects"); {
	case infested != "" && insects != "":
		t.wrong("insects", "infested and insects are both given; leave one empty")
	case insects != "":
		row.Insects = true
		row.Count = t.number("insects", 0, true)
	default:
		row.Count = t.number("infested", 0, true)
	}
	if len(t.errs) == before {
		t.rows = append(t.rows, row)
	}
}

func (t *tableReader) text(column string) string {
	if i, ok := t.columns[column]; ok {
		return strings.TrimSpace(t.record[i])
	}
	return ""
}

func (t *tableReader) number(column string, least int, needed bool) int {
	s := t.text(column)
	if s == "" && !needed {
		return 0
	}
	n, err := strconv.ParseUint(s, 10, 30)
	if err != nil || int(n) < least {
		t.wrong(column, fmt.Sprintf("%q is not a whole number of %d or more", s, least))
	}
	return int(n)
}

func (t *tableReader) sign() *bool {
	switch s := strings.ToLower(t.text("sign")); s {
	case "":
		return nil
	case "yes", "true", "1":
		yes := true
		return &yes
	case "no", "false", "0":
		no := false
		return &no
	default:
		t.wrong("sign", fmt.Sprintf("%q; accepted: yes, no or nothing", s))
		return nil
	}
}

// knownLast reports whether a word says what earlier visits found, or nothing.
func knownLast(last plans.Last) bool {
	return slices.Contains([]plans.Last{"", plans.LastNone, plans.LastFound, plans.LastLittle, plans.LastMore}, last)
}

func (t *tableReader) wrong(column, message string) {
	line, at := t.csv.FieldPos(0)
	if i, ok := t.columns[column]; ok {
		line, at = t.csv.FieldPos(i)
	}
	t.errs = append(t.errs, &CellError{line, at, column + ": " + message})
}

// tables is the name space of the ids of visits from tables without ids.
var tables = uuid.MustParse("0d6f6c1c-6a52-4d54-9b9f-0b0a52f0f2a7")

// VisitsOf gathers the rows of each visit: by its id, or else by field, date and
// stage. plan is the checksum for rows that name none; stage and plants return
// the full name of a stage, the planned plants at a stop and whether insects are
// counted there, for a plan.
func VisitsOf(rows []Row, plan string, stage func(plan, name string) (full string, plants int, insects bool, err error)) ([]*Visit, error) {
	var vs []*Visit
	var errs []error
	byKey := map[string]*Visit{}
	lines := map[*Visit]int{}
	told := map[string]bool{} // what is wrong with a plan or stage is said once, not for each row
	for _, r := range rows {
		fail := func(format string, args ...any) {
			errs = append(errs, &CellError{r.Line, 1, fmt.Sprintf(format, args...)})
		}
		if r.Plan == "" {
			r.Plan = plan
		}
		name, plants, insects, err := stage(r.Plan, r.Stage)
		if err == nil && insects != r.Insects {
			err = fmt.Errorf("stage %q counts %s; give the counts in that column", name, map[bool]string{true: "insects", false: "infested plants (infested)"}[insects])
		}
		if err != nil {
			if !told[err.Error()] {
				told[err.Error()] = true
				fail("%v", err)
			}
			continue
		}
		id := r.Visit
		if id == "" {
			key := strings.Join([]string{r.Plan, strings.ToLower(r.Field), r.Date, strings.ToLower(name)}, "\x00")
			id = uuid.NewSHA1(tables, []byte(key)).String()
		}
		v := byKey[id]
		if v == nil {
			v = &Visit{ID: id, Field: r.Field, Date: r.Date, Stage: name, Plan: r.Plan, Source: "import"}
			v.Told.Last = r.Last
			byKey[id], lines[v] = v, r.Line
			vs = append(vs, v)
		}
		if !strings.EqualFold(v.Field, r.Field) || v.Date != r.Date || v.Stage != name || v.Plan != r.Plan || v.Told.Last != r.Last {
			fail("visit %s has another field, date, stage, plan or last in line %d", Short(id), lines[v])
			continue
		}
		if r.Plants == 0 {
			r.Plants = plants
		}
		v.Entries = append(v.Entries, Entry{Kind: KindStop, Stop: r.Stop, Total: r.Count, Plants: r.Plants, Sign: r.Sign})
	}
	for _, v := range vs {
		slices.SortStableFunc(v.Entries, func(a, b Entry) int { return a.Stop - b.Stop })
		if _, err := v.Stops(); err != nil {
			errs = append(errs, &CellError{lines[v], 1, fmt.Sprintf("field %s on %s: %v", v.Field, v.Date, err)})
		}
	}
	return vs, errors.Join(errs...)
}
