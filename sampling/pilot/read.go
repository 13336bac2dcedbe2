package pilot

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Limits on what a cell may say. They are far above what can be seen on a
// plant: a larger number is a slip of the pen.
const (
	MaxPlants = 100_000   // plants at one stop
	MaxCount  = 1_000_000 // insects on one leaf
)

// maxRow is the largest length of a row in bytes. A quote that is opened and
// not closed would otherwise swallow the rest of the file.
const maxRow = 1 << 20

var errLongRow = errors.New("row too long")

// Read reads a table to its end. The error is an [*Errors] where the table is
// at fault, and else what the reader returned. Memory grows with the number of
// distinct stops, plants and leaves, by a few dozen bytes for each, and not
// with the text.
func Read(in io.Reader) (*Data, error) {
	bounded := &boundedReader{in: in}
	r, err := NewCSV(bounded)
	if err != nil {
		return nil, err
	}
	r.ReuseRecord = true
	b := &builder{}
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		bounded.since = 0
		if stop, err := b.fault(err); err != nil {
			return nil, err
		} else if stop {
			return nil, &b.errs
		}
		if err != nil {
			continue
		}
		line, _ := r.FieldPos(0)
		if !b.row(line, cells) {
			return nil, &b.errs
		}
	}
	return b.finish()
}

// A builder puts the rows together.
type builder struct {
	head    *header
	errs    Errors
	data    Data
	last    int // line of the latest row
	fields  map[fieldKey]int32
	stops   map[[2]int32]int32 // field and name: number of the stop
	byStop  []stopPlace
	counts  [][]int32          // of each stop, where a row is a leaf
	names   map[string]int32   // numbers for the names of stops, plants and leaves
	spelt   []string           // the names by number
	plants  map[[2]int32]int32 // stop and plant: number of the plant
	lines   []int32            // line of each plant's first row
	place   []int32            // its place among the plants of its stop
	leaves  map[[2]int32]int32 // plant and leaf: line
	current stopPlace          // that of the latest row
	key     fieldKey           // of its field
	filled  [2]firstLines      // date, stage
	passed  int                // rows that count insects in place of infested plants
}

type fieldKey struct{ name, date, stage, visit string }

// A stopPlace is a stop's number and where it stands; the first has the number 1.
type stopPlace struct{ number, field, at int32 }

func (b *builder) at(s stopPlace) *Stop { return &b.data.Fields[s.field].Stops[s.at] }

// firstLines are the first lines at which an optional cell was empty, and not.
type firstLines struct{ empty, full int }

// fault notes an error of the CSV reader. It reports whether reading ends, and
// returns errors that are not the table's.
func (b *builder) fault(err error) (stop bool, _ error) {
	if err == nil {
		return false, nil
	}
	if errors.Is(err, errLongRow) {
		b.errs.add(b.last+1, "", "the row does not end within %d bytes; is a quote opened and not closed?", maxRow)
		return true, nil
	}
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return true, err
	}
	b.last = p.Line
	const rule = "a cell with a quote or comma stands in quotes, and a quote in it is written twice"
	if p.Line == p.StartLine {
		b.errs.add(p.Line, "", "the quotes do not fit (byte %d of the line); %s", p.Column, rule)
	} else {
		b.errs.add(p.StartLine, "", "a quote is opened and not closed before line %d; %s", p.Line, rule)
	}
	return b.head == nil, nil
}

// row takes one row. It returns false if there is no use in reading on.
func (b *builder) row(line int, cells []string) bool {
	b.last = line
	blank := true
	for i, c := range cells {
		cells[i] = strings.TrimSpace(c)
		blank = blank && cells[i] == ""
	}
	if blank {
		return true // spreadsheets leave rows of commas at the end
	}
	if b.head == nil {
		h := newHeader(line, cells, &b.errs)
		b.begin(&h)
		return b.errs.Total == 0
	}
	b.data.Rows++
	if len(cells) != b.head.width {
		b.errs.add(line, "", "the row has %s, the header has %d; as many as in the header are accepted", cellCount(len(cells)), b.head.width)
		return true
	}
	if b.data.Layout == PerStop && b.cell(cells, "infested") == "" && b.cell(cells, "insects") != "" {
		b.data.Rows--
		b.passed++ // a stop of a stage with another measure
		return true
	}
	s, ok := b.stopOf(line, cells)
	if !ok {
		return true
	}
	switch b.data.Layout {
	case PerStop:
		b.stopRow(line, cells, s)
	case PerPlant:
		b.plantRow(line, cells, s)
	case PerLeaf:
		b.leafRow(line, cells, s)
	}
	return true
}

func (b *builder) begin(h *header) {
	b.head = h
	b.data.Layout, b.data.Ignored = h.layout, h.ignored
	b.fields = map[fieldKey]int32{}
	b.stops = map[[2]int32]int32{}
	b.names = map[string]int32{}
	b.plants = map[[2]int32]int32{}
	b.leaves = map[[2]int32]int32{}
}

func (b *builder) cell(cells []string, column string) string {
	if i, ok := b.head.at[column]; ok {
		return cells[i]
	}
	return ""
}

// stopOf returns the stop a row belongs to, or false if the row does not say.
func (b *builder) stopOf(line int, cells []string) (stopPlace, bool) {
	before := b.errs.Total
	key := fieldKey{b.name(line, cells, "field"), b.date(line, cells), b.cell(cells, "stage"), b.cell(cells, "visit")}
	name := b.name(line, cells, "stop")
	b.utf8(line, "stage", key.stage)
	b.utf8(line, "visit", key.visit)
	b.filled[0].note(line, key.date)
	b.filled[1].note(line, key.stage)
	x, y := b.placeOf(line, cells)
	if b.errs.Total > before {
		return stopPlace{}, false
	}
	if b.current.number == 0 || b.at(b.current).Name != name || b.key != key {
		b.current, b.key = b.lookUp(line, key, name), key
	}
	b.setPlace(line, b.at(b.current), x, y)
	return b.current, true
}

func (b *builder) lookUp(line int, key fieldKey, name string) stopPlace {
	field, ok := b.fields[key]
	if !ok {
		key = fieldKey{strings.Clone(key.name), strings.Clone(key.date), strings.Clone(key.stage), strings.Clone(key.visit)}
		field = int32(len(b.fields))
		b.fields[key] = field
		b.data.Fields = append(b.data.Fields, Field{Name: key.name, Date: key.date, Stage: key.stage})
	}
	n := b.number(name)
	if s, ok := b.stops[[2]int32{field, n}]; ok {
		return b.byStop[s-1]
	}
	f := &b.data.Fields[field]
	s := stopPlace{number: int32(len(b.byStop) + 1), field: field, at: int32(len(f.Stops))}
	f.Stops = append(f.Stops, Stop{Name: b.spelt[n], Line: line, X: math.NaN(), Y: math.NaN()})
	b.stops[[2]int32{field, n}] = s.number
	b.byStop = append(b.byStop, s)
	if b.data.Layout == PerLeaf {
		b.counts = append(b.counts, nil)
	}
	return s
}

func (b *builder) stopRow(line int, cells []string, place stopPlace) {
	s := b.at(place)
	if s.Line != line {
		b.errs.add(line, "stop", "stop %s of field %s was already given on line %d; one row a stop is accepted", quoted(s.Name), quoted(b.data.Fields[place.field].Name), s.Line)
		return
	}
	plants, ok := b.whole(line, cells, "plants", 1, MaxPlants)
	infested, ok2 := b.whole(line, cells, "infested", 0, MaxPlants)
	if !ok || !ok2 || !b.whollySeen(line, cells, infested) {
		return
	}
	if infested > plants {
		b.errs.add(line, "infested", "%d infested of %d plants; from 0 to the number of plants is accepted", infested, plants)
		return
	}
	s.Plants, s.Infested = plants, infested
}

func (b *builder) plantRow(line int, cells []string, place stopPlace) {
	s := b.at(place)
	plant := b.name(line, cells, "plant")
	infested, ok := b.whole(line, cells, "infested", 0, 1)
	if plant == "" || !ok {
		return
	}
	n, isNew := b.plantOf(line, plant, place)
	if !isNew {
		b.errs.add(line, "plant", "plant %s of stop %s, field %s, was already given on line %d; one row a plant is accepted",
			quoted(plant), quoted(s.Name), quoted(b.data.Fields[place.field].Name), b.lines[n])
		return
	}
	s.Plants++
	s.Infested += infested
}

func (b *builder) leafRow(line int, cells []string, place stopPlace) {
	s := b.at(place)
	plant, leaf := b.name(line, cells, "plant"), b.name(line, cells, "leaf")
	count, ok := b.whole(line, cells, "count", 0, MaxCount)
	if plant == "" || leaf == "" || !ok {
		return
	}
	n, isNew := b.plantOf(line, plant, place)
	key := [2]int32{n, b.number(leaf)}
	if first, ok := b.leaves[key]; ok {
		b.errs.add(line, "leaf", "leaf %s of plant %s, stop %s, field %s, was already given on line %d; one row a leaf is accepted",
			quoted(leaf), quoted(plant), quoted(s.Name), quoted(b.data.Fields[place.field].Name), first)
		return
	}
	b.leaves[key] = int32(line)
	if isNew {
		s.PlantCounts = append(s.PlantCounts, PlantCount{})
		s.Plants++
	}
	p := &s.PlantCounts[b.place[n]]
	p.Leaves++
	p.Insects += count
	p.Largest = max(p.Largest, count)
	b.counts[place.number-1] = append(b.counts[place.number-1], int32(count))
}

// plantOf returns the number of a plant, and whether it was not seen before.
func (b *builder) plantOf(line int, plant string, s stopPlace) (int32, bool) {
	key := [2]int32{s.number, b.number(plant)}
	if n, ok := b.plants[key]; ok {
		return n, false
	}
	n := int32(len(b.lines))
	b.plants[key] = n
	b.lines = append(b.lines, int32(line))
	b.place = append(b.place, int32(len(b.at(s).PlantCounts)))
	return n, true
}

func (f *firstLines) note(line int, cell string) {
	switch {
	case cell == "" && f.empty == 0:
		f.empty = line
	case cell != "" && f.full == 0:
		f.full = line
	}
}

// finish checks the whole and hands it over.
func (b *builder) finish() (*Data, error) {
	if b.head == nil && b.errs.Total == 0 {
		b.errs.add(1, "", "the file is empty; accepted is a first line with the columns %s, and rows below it", accepted)
	}
	if b.errs.Total == 0 && b.data.Rows == 0 && b.passed > 0 {
		b.errs.add(b.last, "infested", "every row counts insects at a stop; infested plants, or a row for each leaf, are accepted")
	}
	if b.errs.Total == 0 && b.data.Rows == 0 {
		b.errs.add(b.last, "", "there are no rows below the header")
	}
	for i, column := range []string{"date", "stage"} {
		// Half-filled columns would split a field in two without a word.
		if f := b.filled[i]; f.empty > 0 && f.full > 0 {
			b.errs.add(f.empty, column, "the cell is empty, but line %d has a %s; all rows or none is accepted", f.full, column)
		}
	}
	if b.errs.Total > 0 {
		return nil, &b.errs
	}
	if b.data.Layout == PerLeaf {
		b.data.Tally = 1
	}
	for i, counts := range b.counts {
		s := b.at(b.byStop[i])
		s.Counts = frequencies(counts)
		s.Infested = s.InfestedAt(b.data.Tally)
	}
	b.data.Notes = slips(b.data.Fields)
	if b.passed > 0 {
		b.data.Notes = append(b.data.Notes, fmt.Sprintf("rows that count insects at a stop, and no infested plants, were passed over: %d", b.passed))
	}
	return &b.data, nil
}

func frequencies(counts []int32) []Frequency {
	slices.Sort(counts)
	var out []Frequency
	for i, c := range counts {
		if i == 0 || c != counts[i-1] {
			out = append(out, Frequency{Count: int(c)})
		}
		out[len(out)-1].Leaves++
	}
	return out
}
