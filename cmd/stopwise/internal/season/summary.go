package season

import (
	"cmp"
	"database/sql"
	"slices"
	"time"
)

// A Due is a field that is to be visited.
type Due struct {
	Field string
	Visit *Visit // the last one; nil where there was none
	Date  string // when it is to be visited; empty for a field that was never visited
	Days  int    // by which it is overdue; negative where the day is still to come
	// Unfinished is set where the last visit has no verdict: the field is due
	// since then.
	Unfinished bool
	// Decided is the last visit with a verdict, or nil. An unfinished one after it
	// does not take its verdict back.
	Decided *Visit
}

// A DueList says which fields are to be visited.
type DueList struct {
	Fields []Due // the longest overdue first, those never visited last
	// Odd are visits whose dates may be slips: after the day that is listed for,
	// or more than OldDays before they were typed.
	Odd []*Visit
}

// OldDays is how many days before it is typed a visit may have been.
const OldDays = 60

// A standing is what a field's visits come to.
type standing struct{ last, decided *Visit }

// standings returns the standing of every field with visits that count, up to a
// date, in order of their first visits.
func standings(vs []*Visit) (fields []string, of map[string]standing) {
	of = map[string]standing{}
	for _, v := range vs { // by date and time
		if !v.Counts() {
			continue
		}
		s, known := of[v.Field]
		if !known {
			fields = append(fields, v.Field)
		}
		s.last = v
		if !v.Unfinished() {
			s.decided = v
		}
		of[v.Field] = s
	}
	return fields, of
}

// Due returns the fields that are to be visited up to a number of days after a
// date. Visits after the date are not known on that day.
func (f *File) Due(date string, within int) (DueList, error) {
	var list DueList
	today, err := time.Parse(DateLayout, date)
	if err != nil {
		return list, CheckDate(date)
	}
	var vs []*Visit
	var want []string
	err = f.snapshot(func(q *sql.Tx) (err error) {
		if vs, err = visits(q, Filter{To: date, standing: true}); err != nil {
			return err
		}
		if list.Odd, err = odd(q, date); err != nil {
			return err
		}
		want, err = expected(q)
		return err
	})
	if err != nil {
		return list, err
	}
	fields, of := standings(vs)
	for _, field := range fields {
		s := of[field]
		d := Due{Field: field, Visit: s.last, Decided: s.decided, Date: s.last.Told.Next, Unfinished: s.last.Unfinished()}
		if d.Unfinished && d.Date == "" {
			d.Date = s.last.Date
		}
		if d.Date == "" {
			continue
		}
		day, err := time.Parse(DateLayout, d.Date)
		if err != nil {
			return list, CheckDate(d.Date)
		}
		d.Days = int(today.Sub(day).Hours() / 24)
		if d.Days >= -within {
			list.Fields = append(list.Fields, d)
		}
	}
	slices.SortStableFunc(list.Fields, func(a, b Due) int {
		return cmp.Or(cmp.Compare(b.Days, a.Days), cmp.Compare(a.Field, b.Field))
	})
	for _, field := range want {
		if _, visited := of[field]; !visited {
			list.Fields = append(list.Fields, Due{Field: field})
		}
	}
	return list, nil
}

func odd(q querier, date string) ([]*Visit, error) {
	ids, err := texts(q, `SELECT id FROM visit WHERE NOT void AND stops > 0
		AND (date > ? OR started <> '' AND julianday(date) < julianday(started) - ?) ORDER BY date, started, rowid`, date, OldDays)
	if err != nil {
		return nil, err
	}
	var vs []*Visit
	for _, id := range ids {
		found, err := visits(q, Filter{exact: id})
		if err != nil {
			return nil, err
		}
		vs = append(vs, found...)
	}
	return vs, nil
}

// Counts reports whether a visit says something of its field: it has a stop, and
// it is not void.
func (v *Visit) Counts() bool { return v.Told.Stops > 0 && !v.Told.Void }

// Unfinished reports whether a visit has no verdict yet.
func (v *Visit) Unfinished() bool { return v.Told.Verdict == "" || v.Told.Verdict == "continue" }

// A Tally sums visits up.
type Tally struct {
	Visits      int `json:"visits"`
	Fields      int `json:"fields"`
	Stops       int `json:"stops"`
	Plants      int `json:"plants"`
	Found       int `json:"visits_with_finds"` // visits that found the pest
	Act         int `json:"act"`
	SignMissing int `json:"leave_sign_missing"` // leave because the sign was missing; not among Leave
	Leave       int `json:"leave"`
	Unfinished  int `json:"unfinished"`
	// Infested of the plants on visits whose stage has a share infested; insects
	// of the leaves on the others.
	Infested, ShareUnits int `json:"-"`
	Insects, Leaves      int `json:"-"`
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
	Decided    *Visit // the last visit with a verdict, or nil
	// LastIsMean is set where the stage of Decided, or of Last where that is nil,
	// has a mean per leaf.
	LastIsMean bool
	Tally
}

// A Summary sums up a season.
type Summary struct {
	All    Tally
	Weeks  []Week
	Fields []FieldSummary
}

// Verdict returns the visit whose verdict stands for the field: the last with one,
// or the last.
func (x *FieldSummary) Verdict() *Visit {
	if x.Decided != nil {
		return x.Decided
	}
	return x.Last
}

// Summary sums up the visits that a filter picks and that count. isMean reports whether a plan's
// stage has a mean per leaf.
func (f *File) Summary(by Filter, isMean func(plan, stage string) (bool, error)) (Summary, error) {
	var s Summary
	vs, err := f.Visits(by)
	if err != nil {
		return s, err
	}
	weeks, fields, inWeek := map[string]int{}, map[string]int{}, map[[2]string]bool{}
	for _, v := range vs { // by date
		if !v.Counts() {
			continue
		}
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
		x.Last = v
		if !v.Unfinished() {
			x.Decided = v
		}
		if x.Verdict() == v {
			x.LastIsMean = mean
		}
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
	if told.Units == 0 {
		return // no level was seen
	}
	if mean {
		t.Insects += told.Total
		t.Leaves += told.Units
		return
	}
	t.Infested += told.Total
	t.ShareUnits += told.Units
}
