package season

import (
	"fmt"
	"reflect"

	"stopwise/plans"
)

// A Verification is what [File.Verify] found.
type Verification struct {
	Visits  int
	Entries int
	Plans   int
	Faults  []string
}

// Verify checks that the database is whole, that every plan is as it was made,
// and that the verdict and the next visit of every visit follow from its plan
// and its entries.
func (f *File) Verify() (Verification, error) {
	var r Verification
	fault := func(format string, args ...any) { r.Faults = append(r.Faults, fmt.Sprintf(format, args...)) }
	for _, check := range []string{"PRAGMA integrity_check", "SELECT 'row of ' || \"table\" || ' without its ' || parent FROM pragma_foreign_key_check"} {
		rows, err := f.db.Query(check)
		if err != nil {
			return r, explain(err)
		}
		for rows.Next() {
			var text string
			if err := rows.Scan(&text); err != nil {
				rows.Close()
				return r, explain(err)
			}
			if text != "ok" {
				fault("database: %s", text)
			}
		}
		rows.Close()
		if err := rows.Err(); err != nil {
			return r, explain(err)
		}
	}
	texts, err := f.Plans()
	if err != nil {
		return r, err
	}
	r.Plans = len(texts)
	made := map[string]*plans.Plan{}
	for sum := range texts {
		p, err := f.Plan(sum)
		if err != nil {
			fault("%v", err)
			continue
		}
		made[sum] = p
	}
	vs, err := f.FullVisits(Filter{})
	if err != nil {
		return r, err
	}
	for _, v := range vs {
		r.Visits++
		r.Entries += len(v.Entries)
		if p := made[v.Plan]; p != nil {
			if err := v.verify(p); err != nil {
				fault("visit %s, field %s on %s: %v", Short(v.ID), v.Field, v.Date, err)
			}
		}
	}
	return r, nil
}

func (v *Visit) verify(p *plans.Plan) error {
	j, err := Judge(p, v, plans.History{Found: v.Told.FoundBefore, InStage: v.Told.InStage})
	if err != nil {
		return err
	}
	if reflect.DeepEqual(j.Told, v.Told) {
		return nil
	}
	return fmt.Errorf("recorded %s, but its plan and counts give %s", v.Told, j.Told)
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
