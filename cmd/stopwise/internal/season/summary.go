package season

import (
	"cmp"
	"slices"
	"time"
)

// A Due is a field that is to be visited.
type Due struct {
	Visit *Visit // the last one
	Date  string // when it is to be visited
	Days  int    // by which it is overdue; negative where the day is still to come
	// Unfinished is set where the last visit has no verdict: the field is due
	// since then.
	Unfinished bool
}

// Due returns the fields that are to be visited up to a number of days after a
// date, the longest overdue first.
func (f *File) Due(date string, within int) ([]Due, error) {
	today, err := time.Parse(DateLayout, date)
	if err != nil {
		return nil, CheckDate(date)
	}
	last, err := f.Latest(date)
	if err != nil {
		return nil, err
	}
	var due []Due
	for _, v := range last {
		d := Due{Visit: v, Date: v.Told.Next, Unfinished: v.Unfinished()}
		if d.Unfinished && d.Date == "" {
			d.Date = v.Date
		}
		if d.Date == "" {
			continue
		}
		day, err := time.Parse(DateLayout, d.Date)
		if err != nil {
			return nil, CheckDate(d.Date)
		}
		d.Days = int(today.Sub(day).Hours() / 24)
		if d.Days >= -within {
			due = append(due, d)
		}
	}
	slices.SortStableFunc(due, func(a, b Due) int {
		return cmp.Or(cmp.Compare(b.Days, a.Days), cmp.Compare(a.Visit.Field, b.Visit.Field))
	})
	return due, nil
}

// Unfinished reports whether a visit has no verdict yet.
func (v *Visit) Unfinished() bool { return v.Told.Verdict == "" || v.Told.Verdict == "continue" }

// A Tally sums visits up.
type Tally struct {
	Visits      int
	Fields      int
	Stops       int
	Plants      int
	Found       int // visits that found the pest
	Act         int
	Leave       int
	Unfinished  int
	SignMissing int // leave because the sign was missing; not among Leave
	// Infested of the plants on visits whose stage has a share infested; insects
	// of the leaves on the others.
	Infested, ShareUnits int
	Insects, Leaves      int
}

// A Week sums up the visits of a week.
type Week struct {
	Monday string // its first day
	Tally
}

// A FieldSummary sums up the visits of a field.
type FieldSummary struct {
	Field      string
	First      string // date of the first visit
	FirstFound string // date on which the pest was first found; empty if never
	Last       *Visit
	LastIsMean bool // the last visit's stage has a mean per leaf
	Tally
}

// A Summary sums up a season.
type Summary struct {
	All    Tally
	Weeks  []Week
	Fields []FieldSummary
}

// Summary sums up the visits that a filter picks. isMean reports whether a plan's
// stage has a mean per leaf.
func (f *File) Summary(by Filter, isMean func(plan, stage string) (bool, error)) (Summary, error) {
	var s Summary
	vs, err := f.Visits(by)
	if err != nil {
		return s, err
	}
	weeks, fields, inWeek := map[string]int{}, map[string]int{}, map[[2]string]bool{}
	for _, v := range vs { // by date
		mean, err := isMean(v.Plan, v.Stage)
		if err != nil {
			return s, err
		}
		day, err := time.Parse(DateLayout, v.Date)
		if err != nil {
			return s, CheckDate(v.Date)
		}
		monday := day.AddDate(0, 0, -(int(day.Weekday())+6)%7).Format(DateLayout)
		if _, known := weeks[monday]; !known {
			weeks[monday] = len(s.Weeks)
			s.Weeks = append(s.Weeks, Week{Monday: monday})
		}
		if _, known := fields[v.Field]; !known {
			fields[v.Field] = len(s.Fields)
			s.Fields = append(s.Fields, FieldSummary{Field: v.Field, First: v.Date})
		}
		w, x := &s.Weeks[weeks[monday]], &s.Fields[fields[v.Field]]
		if key := [2]string{monday, v.Field}; !inWeek[key] {
			inWeek[key] = true
			w.Fields++
		}
		for _, t := range []*Tally{&s.All, &w.Tally, &x.Tally} {
			t.add(v, mean)
		}
		if v.Told.Total > 0 && x.FirstFound == "" {
			x.FirstFound = v.Date
		}
		x.Last, x.LastIsMean = v, mean
	}
	s.All.Fields = len(s.Fields)
	slices.SortFunc(s.Fields, func(a, b FieldSummary) int { return cmp.Compare(a.Field, b.Field) })
	return s, nil
}

func (t *Tally) add(v *Visit, mean bool) {
	told := v.Told
	t.Visits++
	t.Stops += told.Stops
	t.Plants += told.Plants
	if told.Total > 0 {
		t.Found++
	}
	switch {
	case v.Unfinished():
		t.Unfinished++
	case told.SignMissing:
		t.SignMissing++
	case told.Verdict == "act":
		t.Act++
	default:
		t.Leave++
	}
	if mean {
		t.Insects += told.Total
		t.Leaves += told.Units
		return
	}
	t.Infested += told.Total
	t.ShareUnits += told.Units
}
