package season

import (
	"database/sql"
	"errors"
	"fmt"
	"reflect"
	"time"

	"stopwise/plans"
)

// A Verification is what [File.Verify] found.
type Verification struct {
	Visits  int
	Entries int
	Plans   int
	// Older counts visits whose next visit was found by the rule of older versions.
	Older  int
	Faults []string
}

// Verify checks that the database is whole, that every plan is as it was made,
// and that the verdict and the next visit of every visit follow from its plan
// and its entries.
//
// Every visit is sealed with a digest of all that was typed: notes, times and
// answers that were corrected later included.
func (f *File) Verify() (r Verification, err error) {
	err = f.snapshot(func(q *sql.Tx) error { return f.verify(q, &r) })
	return r, err
}

func (f *File) verify(q *sql.Tx, r *Verification) error {
	fault := func(format string, args ...any) { r.Faults = append(r.Faults, fmt.Sprintf(format, args...)) }
	for _, check := range []string{"SELECT integrity_check FROM pragma_integrity_check", "SELECT 'row of ' || \"table\" || ' without its ' || parent FROM pragma_foreign_key_check"} {
		said, err := pairs(q, "SELECT '', * FROM ("+check+")")
		if err != nil {
			return err
		}
		for _, text := range said {
			if text[1] != "ok" {
				fault("database: %s", text[1])
			}
		}
	}
	texts, err := planTexts(q)
	if err != nil {
		return err
	}
	r.Plans = len(texts)
	made := map[string]*plans.Plan{}
	for sum := range texts {
		p, err := f.planIn(q, sum)
		if err != nil {
			fault("%v", err)
			continue
		}
		made[sum] = p
	}
	vs, err := fullVisits(q, Filter{})
	if err != nil {
		return err
	}
	sealed, err := pairs(q, "SELECT id, seal FROM visit")
	if err != nil {
		return err
	}
	seals := map[string]string{}
	for _, s := range sealed {
		seals[s[0]] = s[1]
	}
	for _, v := range vs {
		r.Visits++
		r.Entries += len(v.Entries)
		p := made[v.Plan]
		if p == nil {
			continue // said above
		}
		err := v.verify(p)
		if errors.Is(err, errOlder) {
			r.Older++
			err = nil
		}
		if err != nil {
			fault("visit %s, field %s on %s: %v", Short(v.ID), v.Field, v.Date, err)
		} else if seals[v.ID] != v.seal() {
			fault("visit %s, field %s on %s: an answer, a note, a time or its field was changed after it was recorded", Short(v.ID), v.Field, v.Date)
		}
	}
	return nil
}

// pairs returns the rows of a query of two texts.
func pairs(q querier, query string) (out [][2]string, err error) {
	var p [2]string
	err = eachRow(q, query, nil, func() { out = append(out, p) }, &p[0], &p[1])
	return out, err
}

func (v *Visit) verify(p *plans.Plan) error {
	h := plans.History{Found: v.Told.FoundBefore, Last: v.Told.Last, InStage: v.Told.InStage}
	j, err := Judge(p, v, h)
	if err != nil {
		return err
	}
	if reflect.DeepEqual(j.Told, v.Told) {
		return nil
	}
	if reflect.DeepEqual(v.olderTold(j, h), v.Told) {
		return errOlder
	}
	return fmt.Errorf("recorded %s, but its plan and counts give %s", v.Told, j.Told)
}

// errOlder says that a visit follows from plan and entries, but by an older rule.
var errOlder = errors.New("answered by an older rule")

// olderTold returns what a visit came to by the older rule of coming back.
func (v *Visit) olderTold(j *Judgement, h plans.History) Told {
	t := j.Told
	day, err := time.Parse(DateLayout, v.Date)
	if err != nil || t.Next == "" {
		return t
	}
	r := j.Stage.RevisitByFixedStops(j.Answer, Counts(j.Stops), h)
	t.Next, t.Rule = day.AddDate(0, 0, r.Days).Format(DateLayout), string(r.Rule)
	return t
}

// String returns what was told in a few words.
func (t Told) String() string {
	s := fmt.Sprintf("%d of %d at %d stops: %q", t.Total, t.Plants, t.Stops, t.Verdict)
	if t.DecidedAt > 0 {
		s += fmt.Sprintf(" at stop %d", t.DecidedAt)
	}
	if t.SignMissing {
		s += ", the sign missing"
	}
	if t.Next != "" {
		s += ", next visit " + t.Next
	}
	return s
}
