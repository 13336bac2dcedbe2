package pilot

import (
	"fmt"
	"sort"

	"stopwise/sampling"
)

// Layout says what one row of the table was.
type Layout int

// The layouts of a table.
const (
	PerStop  Layout = iota // one row a stop: field,stop,plants,infested
	PerPlant               // one row a plant: field,stop,plant,infested
	PerLeaf                // one row a leaf: field,stop,plant,leaf,count
)

// String returns "one row a stop" and the like.
func (l Layout) String() string {
	return [...]string{"one row a stop", "one row a plant", "one row a leaf"}[l]
}

// Data is what was seen in a set of fields.
type Data struct {
	Layout  Layout
	Ignored []string // columns that were not used, as written in the header
	Rows    int      // rows below the header
	Notes   []string // what may be a slip and was taken as it stands
	Fields  []Field  // in order of their first row

	// Tally is the number of insects from which a plant counts as infested
	// when one of its leaves carries as many. It is 1 for a table with one row
	// a leaf, see [Data.AtTally], and 0 for the other layouts, which say
	// themselves which plants are infested.
	Tally int
}

// Field is one field at one visit: rows with the same field but another date,
// stage or visit are another Field, since the share infested has changed.
type Field struct {
	Name  string
	Date  string // YYYY-MM-DD, or empty
	Stage string // growth stage, or empty
	Stops []Stop // in order of their first row
}

// Stop is one place in a field where plants were examined.
type Stop struct {
	Name     string
	Line     int     // line of its first row in the table
	Plants   int     // plants examined, at least 1
	Infested int     // plants infested, 0 <= Infested <= Plants
	X, Y     float64 // place in metres, or NaN where not given

	// PlantCounts and Counts are given for one row a leaf only.
	PlantCounts []PlantCount // one entry a plant, in order of their first row
	Counts      []Frequency  // all leaves of the stop, by ascending count
}

// PlantCount sums up the insects on the leaves of one plant.
type PlantCount struct {
	Leaves  int // leaves examined, at least 1
	Insects int // insects on all of them
	Largest int // insects on the leaf that carries most
}

// Frequency says how many leaves carried a count.
type Frequency struct {
	Count  int // insects on a leaf
	Leaves int // leaves that carried so many
}

// Label returns the name of the field, with date and stage where given.
func (f Field) Label() string {
	switch {
	case f.Date != "" && f.Stage != "":
		return fmt.Sprintf("%s (%s, %s)", f.Name, f.Date, f.Stage)
	case f.Date != "" || f.Stage != "":
		return fmt.Sprintf("%s (%s%s)", f.Name, f.Date, f.Stage)
	}
	return f.Name
}

// Plants returns the number of plants examined in the field.
func (f Field) Plants() int {
	n := 0
	for _, s := range f.Stops {
		n += s.Plants
	}
	return n
}

// Infested returns the number of infested plants seen in the field.
func (f Field) Infested() int {
	n := 0
	for _, s := range f.Stops {
		n += s.Infested
	}
	return n
}

// Share returns the share of the plants seen in the field that were infested.
func (f Field) Share() float64 { return float64(f.Infested()) / float64(f.Plants()) }

// Counts returns how many leaves of the field carried each count, by ascending
// count. It is empty unless the table had one row a leaf.
func (f Field) Counts() []Frequency {
	leaves := map[int]int{}
	for _, s := range f.Stops {
		for _, c := range s.Counts {
			leaves[c.Count] += c.Leaves
		}
	}
	out := make([]Frequency, 0, len(leaves))
	for c, n := range leaves {
		out = append(out, Frequency{c, n})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Count < out[j].Count })
	return out
}

// InfestedAt returns the number of plants of the stop with at least tally
// insects on one leaf. It needs PlantCounts.
func (s Stop) InfestedAt(tally int) int {
	n := 0
	for _, p := range s.PlantCounts {
		if p.Largest >= tally {
			n++
		}
	}
	return n
}

// AtTally returns the data with a plant counted as infested when one of its
// leaves carries at least tally insects. It is an error if tally is below 1 or
// the table did not have one row a leaf. The receiver is left as it is.
func (d *Data) AtTally(tally int) (*Data, error) {
	if d.Layout != PerLeaf {
		return nil, sampling.Refusef("a tally number needs counts (one row a leaf), the data have %s", d.Layout)
	}
	if tally < 1 {
		return nil, sampling.Refusef("tally number %d, must be at least 1", tally)
	}
	out := *d
	out.Tally = tally
	out.Fields = make([]Field, len(d.Fields))
	for i, f := range d.Fields {
		stops := make([]Stop, len(f.Stops))
		for j, s := range f.Stops {
			s.Infested = s.InfestedAt(tally)
			stops[j] = s
		}
		f.Stops = stops
		out.Fields[i] = f
	}
	return &out, nil
}
