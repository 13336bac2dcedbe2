package season

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
)

// An Outcome counts what became of visits that were read into a file.
type Outcome struct {
	Added    int `json:"added"`    // new visits
	Extended int `json:"extended"` // known visits that got more entries
	Same     int `json:"same"`     // visits that were there already, as they are or longer
	// Forked counts the visits that had gone on differently in both files: both
	// are kept, the other one under a new id.
	Forked int `json:"forked"`
	Plans  int `json:"plans"` // new plans
}

// Merge reads the visits of another season file into this one. Merging the same
// file twice adds nothing.
func (f *File) Merge(other *File) (Outcome, error) {
	var texts map[string]string
	var vs []*Visit
	var fields []string
	err := other.snapshot(func(q *sql.Tx) (err error) {
		if texts, err = planTexts(q); err != nil {
			return err
		}
		if fields, err = expected(q); err != nil {
			return err
		}
		vs, err = fullVisits(q, Filter{})
		return err
	})
	if err != nil {
		return Outcome{}, err
	}
	var o Outcome
	err = f.transact(func(tx *sql.Tx) error {
		if err := o.addPlans(tx, texts); err != nil {
			return err
		}
		for _, v := range vs {
			if err := o.addVisit(tx, v); err != nil {
				return err
			}
		}
		return expect(tx, fields)
	})
	if err != nil {
		return Outcome{}, err
	}
	return o, nil
}

func (o *Outcome) addPlans(tx *sql.Tx, texts map[string]string) error {
	for sum, text := range texts {
		r, err := tx.Exec("INSERT INTO plan (checksum, text) VALUES (?, ?) ON CONFLICT DO NOTHING", sum, text)
		if err != nil {
			return err
		}
		n, err := r.RowsAffected()
		if err != nil {
			return err
		}
		o.Plans += int(n)
	}
	return nil
}

// forks is the name space of the ids of forked visits.
var forks = uuid.MustParse("6d1a2f4e-0d5c-4c1b-9b3f-5a70c1c6f8e2")

func (o *Outcome) addVisit(tx *sql.Tx, v *Visit) error {
	old, err := visit(tx, v.ID)
	if err != nil {
		return err
	}
	switch {
	case old == nil:
		o.Added++
		return write(tx, v, 0)
	case sameWalk(old, v) && beginsWith(old.Entries, v.Entries):
		o.Same++
		return nil
	case sameWalk(old, v) && beginsWith(v.Entries, old.Entries):
		o.Extended++
		return write(tx, v, len(old.Entries))
	}
	// The id follows from the content, so that the next merge finds it.
	text, err := json.Marshal(v)
	if err != nil {
		return err
	}
	fork := *v
	fork.ID = uuid.NewSHA1(forks, text).String()
	if old, err = visit(tx, fork.ID); err != nil {
		return err
	}
	if old != nil {
		o.Same++
		return nil
	}
	o.Forked++
	return write(tx, &fork, 0)
}

func sameWalk(a, b *Visit) bool {
	return strings.EqualFold(a.began(), b.began()) && a.Date == b.Date && a.Stage == b.Stage && a.Plan == b.Plan
}

// beginsWith reports whether long begins with all of short.
func beginsWith(long, short []Entry) bool {
	return len(long) >= len(short) && slices.EqualFunc(long[:len(short)], short, sameEntry)
}

func sameEntry(a, b Entry) bool {
	signs := (a.Sign == nil) == (b.Sign == nil) && (a.Sign == nil || *a.Sign == *b.Sign)
	a.Sign, b.Sign = nil, nil
	return signs && a == b
}

// A Conflict says that a visit that was read does not agree with the one in the
// file.
type Conflict struct{ Message string }

func (e *Conflict) Error() string { return e.Message }

// AddCounts reads visits that hold what stands at their stops and perhaps a note, as
// field cards and tables do, into the file, all or none. A visit that is there
// already gets the stops that are new, and corrections where a card has gone on
// changing; at is the time to note with them. It returns Conflicts where the
// stops differ and the file's are not known to be older.
func (f *File) AddCounts(vs []*Visit, at string) (Outcome, []error) {
	for _, v := range vs { // outside the transaction: the file has one connection
		if _, err := f.Plan(v.Plan); err != nil {
			return Outcome{}, []error{err}
		}
	}
	var o Outcome
	var errs []error
	err := f.transact(func(tx *sql.Tx) error {
		for _, v := range vs {
			if err := f.addCounts(tx, v, at, &o); err != nil {
				errs = append(errs, fmt.Errorf("field %s on %s: %w", v.Field, v.Date, explain(err)))
			}
		}
		return errors.Join(errs...) // nothing is written where there is one
	})
	switch {
	case len(errs) > 0:
		return Outcome{}, errs
	case err != nil:
		return Outcome{}, []error{err}
	}
	return o, nil
}

func (f *File) addCounts(tx *sql.Tx, v *Visit, at string, o *Outcome) error {
	plan := f.plans[v.Plan]
	if plan == nil {
		return &Conflict{fmt.Sprintf("its plan %s is not in the season file; give it with --plan", Short(v.Plan))}
	}
	want, err := v.Stops()
	if err != nil {
		return err
	}
	old, err := visit(tx, v.ID)
	if err != nil {
		return err
	}
	next := *v
	next.Entries = nil
	var known []Stop
	notes := newNotes(old, v, at)
	if old != nil {
		if !sameWalk(old, v) {
			return &Conflict{fmt.Sprintf("visit %s stands in the file as one of field %s on %s", Short(v.ID), old.Field, old.Date)}
		}
		if known, err = old.Stops(); err != nil {
			return err
		}
		older := v.Changes < old.Changes || v.Changes == old.Changes && startsWith(known, want)
		switch {
		case older || slices.EqualFunc(known, want, sameStop) && len(notes) == 0:
			o.Same++
			return nil
		case v.Changes <= old.Changes && !startsWith(want, known):
			return &Conflict{"the stops differ from those in the season file, which were kept"}
		}
		changes := v.Changes
		next = *old
		next.Changes = changes
		next.Told.FoundBefore = old.Told.FoundBefore || v.Told.FoundBefore
		if v.Told.Last != "" {
			next.Told.Last = v.Told.Last
		}
	}
	next.Entries = append(append(next.Entries, toward(known, want, at, scoutOf(v))...), notes...)
	h, err := history(tx, &next, plan)
	if err != nil {
		return err
	}
	j, err := Judge(plan, &next, h)
	if err != nil {
		return err
	}
	next.Told = j.Told
	if old == nil {
		o.Added++
		return write(tx, &next, 0)
	}
	o.Extended++
	return write(tx, &next, len(old.Entries))
}

// newNotes returns the notes of a visit that the file does not have.
func newNotes(old, v *Visit, at string) (notes []Entry) {
	for _, e := range v.Entries {
		known := old != nil && slices.ContainsFunc(old.Entries, func(o Entry) bool { return o.Kind == KindNote && o.Note == e.Note })
		if e.Kind == KindNote && !known {
			notes = append(notes, Entry{Kind: KindNote, Note: e.Note, At: at, Scout: e.Scout})
		}
	}
	return notes
}

// toward returns the entries that turn the stops known into those wanted.
func toward(known, want []Stop, at, scout string) (entries []Entry) {
	for n := len(known); n > len(want); n-- {
		entries = append(entries, Entry{Kind: KindUndo, Stop: n, At: at, Scout: scout})
	}
	for i, s := range want {
		kind := KindStop
		if i < len(known) {
			if sameStop(known[i], s) {
				continue
			}
			kind = KindCorrect
		}
		entries = append(entries, Entry{Kind: kind, Stop: i + 1, Total: s.Total, Plants: s.Plants, Sign: s.Sign, At: at, Scout: scout})
	}
	return entries
}

func scoutOf(v *Visit) string {
	if len(v.Entries) == 0 {
		return ""
	}
	return v.Entries[0].Scout
}

func startsWith(long, short []Stop) bool {
	return len(long) >= len(short) && slices.EqualFunc(long[:len(short)], short, sameStop)
}

func sameStop(a, b Stop) bool {
	return a.Total == b.Total && a.Plants == b.Plants && (a.Sign == nil) == (b.Sign == nil) && (a.Sign == nil || *a.Sign == *b.Sign)
}
