package season

import (
	"fmt"
	"strings"
	"time"

	"stopwise/plans"
)

// A Record is a visit that counts, as one learns from it: what is in it, and how
// it hangs together with the others of its field.
type Record struct {
	*Visit
	Plan  *plans.StagePlan // the plan's stage
	Stops []Stop           // corrections applied
	// FieldNumber and Course number the field, and its visits between two treatments:
	// after the verdict act another course begins.
	FieldNumber, Course int
	Day                 float64 // days from the first visit of all
}

// Records are what a season has to learn from.
type Records struct {
	Visits []Record // by date
	Void   int      // visits left out because they are void
	Empty  int      // visits left out because they have no stop
	Fields int
}

// Records returns the visits that a filter picks and that count, by date.
func (f *File) Records(by Filter) (Records, error) {
	var out Records
	vs, err := f.FullVisits(by)
	if err != nil {
		return out, err
	}
	var first time.Time
	fields, courses, treated := map[string]int{}, map[string]int{}, map[string]int{}
	for _, v := range vs {
		switch {
		case v.Told.Void:
			out.Void++
			continue
		case v.Told.Stops == 0:
			out.Empty++
			continue
		}
		r := Record{Visit: v}
		if r.Stops, err = v.Stops(); err != nil {
			return out, err
		}
		p, err := f.Plan(v.Plan)
		if err != nil {
			return out, err
		}
		if p == nil {
			return out, fmt.Errorf("plan %s is not in the file", Short(v.Plan))
		}
		if r.Plan, err = p.Stage(v.Stage); err != nil {
			return out, err
		}
		day, err := time.Parse(DateLayout, v.Date)
		if err != nil {
			return out, CheckDate(v.Date)
		}
		if first.IsZero() {
			first = day
		}
		r.Day = day.Sub(first).Hours() / 24
		field := strings.ToLower(v.Field)
		r.FieldNumber = numbered(fields, field)
		r.Course = numbered(courses, fmt.Sprint(field, "\x00", treated[field]))
		if v.Told.Verdict == plans.Act.String() {
			treated[field]++
		}
		out.Visits = append(out.Visits, r)
	}
	out.Fields = len(fields)
	return out, nil
}

func numbered(seen map[string]int, key string) int {
	n, known := seen[key]
	if !known {
		n = len(seen)
		seen[key] = n
	}
	return n
}

// FollowDays is within how many days a later visit is taken to speak about a
// verdict: a week, common practice, no source.
const FollowDays = 7

// Followed says what became of the verdicts to leave a field.
type Followed struct {
	Leaves int // verdicts to leave
	Again  int // of them, seen again with a verdict within FollowDays
	Acted  int // of these, with the verdict act
	Cases  []FollowedCase
}

// A FollowedCase is a field that was left, and within FollowDays was to be
// treated.
type FollowedCase struct{ Left, Acted *Visit }

// Followed returns what became of the verdicts to leave; a verdict on the same day
// says nothing of it.
func (r Records) Followed() Followed {
	var out Followed
	for i, v := range r.Visits {
		if v.Told.Verdict != plans.Leave.String() {
			continue
		}
		out.Leaves++
		again := false
		var acted *Visit
		for _, later := range r.Visits[i+1:] {
			days := later.Day - v.Day
			if days > FollowDays {
				break
			}
			if later.FieldNumber != v.FieldNumber || days < 1 || later.Unfinished() {
				continue
			}
			again = true
			if later.Told.Verdict == plans.Act.String() {
				acted = later.Visit
				break
			}
		}
		if again {
			out.Again++
		}
		if acted != nil {
			out.Acted++
			out.Cases = append(out.Cases, FollowedCase{v.Visit, acted})
		}
	}
	return out
}
