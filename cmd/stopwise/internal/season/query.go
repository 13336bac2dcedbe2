package season

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// A Filter picks visits; its zero value picks all.
type Filter struct {
	ID       string // or the beginning of one
	Field    string // upper and lower case are the same
	Stage    string
	From, To string // dates, both included

	exact    string // the whole id
	standing bool   // only visits that are not void
}

// Visits returns the visits that a filter picks, without their entries, by date,
// field and time.
func (f *File) Visits(by Filter) ([]*Visit, error) {
	vs, err := visits(f.db, by)
	return vs, explain(err)
}

// FullVisits returns the visits that a filter picks, with their entries.
func (f *File) FullVisits(by Filter) (vs []*Visit, err error) {
	return read(f, func(q *sql.Tx) ([]*Visit, error) { return fullVisits(q, by) })
}

func fullVisits(q querier, by Filter) ([]*Visit, error) {
	vs, err := visits(q, by)
	if err != nil {
		return nil, err
	}
	return vs, addEntries(q, vs)
}

// Visit returns the visit with an id, with its entries, or nil.
func (f *File) Visit(id string) (v *Visit, err error) {
	return read(f, func(q *sql.Tx) (*Visit, error) { return visit(q, id) })
}

func visit(q querier, id string) (*Visit, error) {
	vs, err := visits(q, Filter{exact: id})
	if err != nil || len(vs) == 0 {
		return nil, err
	}
	return vs[0], addEntries(q, vs)
}

func visits(q querier, by Filter) (vs []*Visit, err error) {
	var where []string
	var args []any
	add := func(condition string, arg string) {
		if arg != "" {
			where, args = append(where, condition), append(args, arg)
		}
	}
	add(fmt.Sprintf("substr(v.id, 1, %d) = ?", len(by.ID)), by.ID)
	add("v.id = ?", by.exact)
	add("f.name = ?", by.Field)
	add("v.stage = ? COLLATE NOCASE", by.Stage)
	add("v.date >= ?", by.From)
	add("v.date <= ?", by.To)
	if by.standing {
		where = append(where, "NOT v.void")
	}
	query := `SELECT v.id, f.name, v.date, v.stage, v.plan, v.source, v.changes, v.stops, v.plants, v.total, v.units, v.signs,
		v.verdict, v.decided_at, v.sign_missing, v.next_visit, v.next_rule, v.found_before, v.last, v.in_stage, v.void, v.scout
		FROM visit v JOIN field f ON f.id = v.field`
	if len(where) > 0 {
		query += " WHERE " + strings.Join(where, " AND ")
	}
	var v Visit
	t := &v.Told
	err = eachRow(q, query+" ORDER BY v.date, f.name, v.started, v.rowid", args, func() { one := v; vs = append(vs, &one) },
		&v.ID, &v.Field, &v.Date, &v.Stage, &v.Plan, &v.Source, &v.Changes, &t.Stops, &t.Plants, &t.Total, &t.Units, &t.Signs,
		&t.Verdict, &t.DecidedAt, &t.SignMissing, &t.Next, &t.Rule, &t.FoundBefore, &t.Last, &t.InStage, &t.Void, &t.Scout)
	return vs, err
}

const entryColumns = "SELECT visit, kind, stop, total, plants, sign, note, at, takes, scout, was, name FROM entry"

func addEntries(q querier, vs []*Visit) error {
	if len(vs) == 0 {
		return nil
	}
	byID := make(map[string]*Visit, len(vs))
	for _, v := range vs {
		byID[v.ID] = v
	}
	query, args := entryColumns+" ORDER BY visit, number", []any(nil)
	if len(vs) == 1 {
		query, args = entryColumns+" WHERE visit = ? ORDER BY number", []any{vs[0].ID}
	}
	var id string
	var e Entry
	return eachRow(q, query, args, func() {
		if v := byID[id]; v != nil {
			v.Entries = append(v.Entries, e)
		}
	}, &id, &e.Kind, &e.Stop, &e.Total, &e.Plants, &e.Sign, &e.Note, &e.At, &e.Takes, &e.Scout, &e.Was, &e.Name)
}

// eachRow reads the rows of a query into the same places, and calls take after each.
func eachRow(q querier, query string, args []any, take func(), to ...any) error {
	rows, err := q.Query(query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		take()
	}
	return rows.Err()
}

// Resume returns the latest visit of a field on a date, at a stage and with a
// plan, with its entries, or nil where there is none that counts.
func (f *File) Resume(field, date, stage, plan string) (v *Visit, err error) {
	return read(f, func(q *sql.Tx) (*Visit, error) { return resume(q, field, date, stage, plan) })
}

func resume(q querier, field, date, stage, plan string) (*Visit, error) {
	vs, err := visits(q, Filter{Field: field, Stage: stage, From: date, To: date, standing: true})
	if err != nil {
		return nil, err
	}
	for i := len(vs) - 1; i >= 0; i-- {
		if vs[i].Plan == plan {
			return vs[i], addEntries(q, vs[i:i+1])
		}
	}
	return nil, nil
}

// Plans returns the plan files that are kept, on one line each, by checksum.
func (f *File) Plans() (map[string]string, error) {
	texts, err := planTexts(f.db)
	return texts, explain(err)
}

func planTexts(q querier) (map[string]string, error) {
	texts := map[string]string{}
	var sum, text string
	err := eachRow(q, "SELECT checksum, text FROM plan", nil, func() { texts[sum] = text }, &sum, &text)
	return texts, err
}

// OnlyPlan returns the checksum of the only plan in the file; it is empty where
// there is none, or several.
func (f *File) OnlyPlan() (string, error) {
	var sum string
	err := f.db.QueryRow("SELECT coalesce(max(checksum), '') FROM plan HAVING count(*) = 1").Scan(&sum)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return sum, explain(err)
}
