package plans

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"stopwise/plans/protocol"
	"stopwise/sampling/pilot"
)

// tableColumns are the columns of a decision table in CSV; those of the second list
// may be left out. plants, as the command table writes it, is compared with what
// the stage examines.
var tableColumns, tableOptional = []string{"stop", "leave", "act"}, []string{"stage", "plants"}

// largestNumber bounds the numbers of a table: far above any count of a visit.
const largestNumber = 1_000_000_000

// ReadTables reads the decision tables of stages from CSV text with a header: the
// columns stop, leave and act (empty: never), and stage where there are several.
// The rows of a stage go without a gap to its last stop, at which act is leave + 1
// so that a verdict comes; stops before the first row bring none. Tables are
// returned in the order of the stages. All faults are reported at once, as
// InputErrors joined and in the order of their lines.
func ReadTables(text []byte, stages []Stage) ([]Table, error) {
	r := &tableReader{stages: stages, rows: make([][]tableRow, len(stages))}
	r.read(text)
	tables := make([]Table, len(stages))
	for i := range stages {
		if !r.unreadable {
			tables[i] = r.table(i)
		}
	}
	slices.SortStableFunc(r.errs, func(a, b *InputError) int { return cmp.Compare(a.Line, b.Line) })
	var errs []error
	for _, e := range r.errs {
		errs = append(errs, e)
	}
	return tables, errors.Join(errs...)
}

type tableReader struct {
	stages     []Stage
	rows       [][]tableRow // by stage
	errs       []*InputError
	unreadable bool // what is missing is not missing: the rows could not be read
}

type tableRow struct {
	line, stop, leave, act int
	broken                 bool // a fault of its numbers was told
}

func (r *tableReader) fail(line int, format string, args ...any) {
	r.errs = append(r.errs, &InputError{Line: line, Message: fmt.Sprintf(format, args...)})
}

// unknown is fail for a name that is none of those known.
func (r *tableReader) unknown(line int, name string, known []string, format string, args ...any) {
	r.errs = append(r.errs, &InputError{Line: line, Message: fmt.Sprintf(format, args...), Name: name, Known: known})
}

func (r *tableReader) give(line int, format string, args ...any) {
	r.unreadable = true
	r.fail(line, format, args...)
}

func (r *tableReader) read(text []byte) {
	in, err := pilot.NewCSV(bytes.NewReader(text))
	if err != nil {
		r.give(1, "%v", err)
		return
	}
	head, err := in.Read()
	if errors.Is(err, io.EOF) {
		r.give(1, "no rows; accepted is a first line with the columns stop,leave,act, and below it a line for each stop")
		return
	}
	at := map[string]int{}
	if err == nil && !r.header(head, at) {
		return
	}
	for err == nil {
		var cells []string
		if cells, err = in.Read(); err == nil {
			line, _ := in.FieldPos(0)
			if len(cells) != len(head) {
				r.give(line, "%d cells; the first line has %d", len(cells), len(head))
				return
			}
			r.row(line, func(name string) (string, bool) {
				i, ok := at[name]
				if !ok {
					return "", false
				}
				return strings.TrimSpace(cells[i]), true
			})
		}
	}
	var fault *csv.ParseError
	if errors.As(err, &fault) {
		r.give(fault.Line, "%v; write plain numbers with commas between them", fault.Err)
	}
}

func (r *tableReader) header(head []string, at map[string]int) bool {
	for i, name := range head {
		name = strings.ToLower(strings.TrimSpace(name))
		if _, twice := at[name]; twice {
			r.give(1, "the column %s stands there twice; once is accepted", name)
		}
		if !slices.Contains(tableColumns, name) && !slices.Contains(tableOptional, name) {
			r.unreadable = true
			r.unknown(1, name, slices.Concat(tableColumns, tableOptional), "unknown column %q; accepted: %s, and %s where wanted", name, strings.Join(tableColumns, ", "), strings.Join(tableOptional, " and "))
		}
		at[name] = i
	}
	for _, name := range tableColumns {
		if _, ok := at[name]; !ok {
			r.give(1, "no column %s; accepted is a first line with the columns stop,leave,act", name)
		}
	}
	return !r.unreadable
}

func (r *tableReader) row(line int, cell func(name string) (string, bool)) {
	stage := r.stageOf(line, cell)
	whole := func(name string, low, high, none int) (int, bool) {
		text, there := cell(name)
		if !there || text == "" && name != "stop" {
			return none, true
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < low || n > high {
			accepted := fmt.Sprintf("a whole number from %d to %d", low, high)
			if name != "stop" {
				accepted += ", or nothing for never"
			}
			r.fail(line, "column %s: %q; accepted: %s", name, text, accepted)
			return none, false
		}
		return n, true
	}
	stop, ok1 := whole("stop", 1, protocol.MaxStops, 0)
	leave, ok2 := whole("leave", 0, largestNumber, NeverLeave)
	act, ok3 := whole("act", 0, largestNumber, NeverAct)
	plants, ok4 := whole("plants", 1, largestNumber, 0)
	if stage < 0 || !ok1 {
		r.unreadable = true
		return
	}
	s := r.stages[stage]
	if want := stop * s.Stop.Plants; plants > 0 && plants != want {
		r.fail(line, "column plants: %d by stop %d, but with %d at each stop they are %d", plants, stop, s.Stop.Plants, want)
		ok4 = false
	}
	r.rows[stage] = append(r.rows[stage], tableRow{line, stop, leave, act, !(ok2 && ok3 && ok4)})
}

// stageOf returns the index of a row's stage, -1 for none.
func (r *tableReader) stageOf(line int, cell func(string) (string, bool)) int {
	name, named := cell("stage")
	var known []string
	for i, s := range r.stages {
		if named && strings.EqualFold(s.Name, name) || !named && len(r.stages) == 1 {
			return i
		}
		known = append(known, s.Name)
	}
	list := strings.Join(known, ", ")
	switch {
	case !named:
		if !r.unreadable {
			r.give(1, "no column stage, and there are several: %s", list)
		}
	case list == "":
		r.fail(line, "column stage: %q, but there is one unnamed stage; leave it empty", name)
	default:
		r.unknown(line, name, known, "column stage: no stage %q; accepted: %s", name, list)
	}
	return -1
}

// table puts the rows of a stage together.
func (r *tableReader) table(stage int) Table {
	s, rows := r.stages[stage], r.rows[stage]
	of := ""
	if s.Name != "" {
		of = " of stage " + s.Name
	}
	t := Table{Units: s.Units(s.Stop.Plants)}
	if len(rows) == 0 {
		r.fail(0, "no rows%s; accepted is a line for each stop", of)
		return t
	}
	slices.SortStableFunc(rows, func(a, b tableRow) int { return cmp.Compare(a.stop, b.stop) })
	for range rows[0].stop - 1 {
		t.Leave, t.Act = append(t.Leave, NeverLeave), append(t.Act, NeverAct)
	}
	sound := true
	fault := func(line int, format string, args ...any) {
		r.fail(line, "%s", fmt.Sprintf(format, args...)+of)
		sound = false
	}
	for i, x := range rows {
		before := tableRow{stop: rows[0].stop - 1, leave: NeverLeave, act: NeverAct}
		if i > 0 {
			before = rows[i-1]
		}
		last := i == len(rows)-1
		seen := x.stop * t.Units
		switch {
		case x.broken || before.broken:
			sound = false
		case x.stop == before.stop:
			fault(x.line, "stop %d stands there twice", x.stop)
		case x.stop > before.stop+1:
			fault(x.line, "stop %d is missing before stop %d", before.stop+1, x.stop)
		case s.Measure.Bounded() && x.leave > seen:
			fault(x.line, "leave number %d at stop %d is more than the %d plants seen by then", x.leave, x.stop, seen)
		case x.leave >= x.act:
			fault(x.line, "leave number %d is not below act number %d at stop %d", x.leave, x.act, x.stop)
		case x.leave < before.leave:
			fault(x.line, "leave number %s at stop %d is below the %d of stop %d; numbers never fall", written(x.leave), x.stop, before.leave, before.stop)
		case x.act == NeverAct && before.act != NeverAct:
			fault(x.line, "act number never at stop %d, though stop %d has %d", x.stop, before.stop, before.act)
		case before.act != NeverAct && x.act < before.act:
			fault(x.line, "act number %d at stop %d is below the %d of stop %d; numbers never fall", x.act, x.stop, before.act, before.stop)
		case last && x.act != x.leave+1:
			fault(x.line, "stop %d is the last, so that a verdict must come: act has to be leave + 1; it has leave %s and act %s", x.stop, written(x.leave), written(x.act))
		}
		t.Leave, t.Act = append(t.Leave, x.leave), append(t.Act, x.act)
	}
	if sound && t.Check() != nil {
		r.fail(rows[0].line, "the numbers%s form no decision table", of)
	}
	return t
}

func written(n int) string {
	if n == NeverLeave || n == NeverAct {
		return "never"
	}
	return strconv.Itoa(n)
}
