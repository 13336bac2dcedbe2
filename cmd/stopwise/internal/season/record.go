package season

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"stopwise/cmd/stopwise/internal/textsafe"
	"stopwise/plans"
)

// Remember keeps a plan in the file, by its content, and returns its checksum.
func (f *File) Remember(plan *plans.Plan) (string, error) {
	text, sum, err := plan.Compact()
	if err != nil {
		return "", err
	}
	f.plans[sum] = plan
	_, err = f.db.Exec("INSERT INTO plan (checksum, text) VALUES (?, ?) ON CONFLICT DO NOTHING", sum, string(text))
	return sum, explain(err)
}

// Plan returns the plan with a checksum, or nil where the file has none.
func (f *File) Plan(checksum string) (*plans.Plan, error) { return f.planIn(f.db, checksum) }

func (f *File) planIn(q querier, checksum string) (*plans.Plan, error) {
	if p := f.plans[checksum]; p != nil {
		return p, nil
	}
	var text string
	err := q.QueryRow("SELECT text FROM plan WHERE checksum = ?", checksum).Scan(&text)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil, nil
	case err != nil:
		return nil, explain(err)
	}
	p, err := plans.ReadPlan([]byte(text))
	if err != nil {
		return nil, fmt.Errorf("plan %s: %w", Short(checksum), err)
	}
	if sum, err := p.Checksum(); err != nil || sum != checksum {
		return nil, fmt.Errorf("plan %s: its content has the checksum %s", Short(checksum), Short(sum))
	}
	f.plans[checksum] = p
	return p, nil
}

// Short returns the first digits of a checksum or an id.
func Short(s string) string {
	s = strings.TrimPrefix(s, "sha256:")
	return s[:min(8, len(s))]
}

// querier is a database or a transaction.
type querier interface {
	Query(query string, args ...any) (*sql.Rows, error)
	QueryRow(query string, args ...any) *sql.Row
}

// Append records an entry of a visit. When it returns without an error, the entry
// and what follows from it are on the disk. It returns [ErrMoved] where another
// process has added to the visit meanwhile, or begun it: v then has the id of
// that visit; read it again with [File.Visit].
func (f *File) Append(v *Visit, e Entry) (*Judgement, error) {
	plan, err := f.Plan(v.Plan)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("season: plan %s is not in the file", Short(v.Plan))
	}
	next := *v
	if e.Kind == KindRename {
		e.Was, next.Field = v.Field, e.Name
	}
	if next.Field, err = textsafe.Name(next.Field); err != nil {
		return nil, fmt.Errorf("field: %w", err)
	}
	next.Entries = append(append([]Entry(nil), v.Entries...), e)
	var j *Judgement
	err = f.transact(func(tx *sql.Tx) error {
		if len(v.Entries) == 0 && !v.Beside {
			// Another walk may have begun this visit since it was looked for.
			begun, err := resume(tx, v.Field, v.Date, v.Stage, v.Plan)
			if err != nil {
				return err
			}
			if begun != nil {
				v.ID = begun.ID
				return ErrMoved
			}
		}
		var stored int
		if err := tx.QueryRow("SELECT count(*) FROM entry WHERE visit = ?", v.ID).Scan(&stored); err != nil {
			return err
		}
		if stored != len(v.Entries) {
			return ErrMoved
		}
		h, err := history(tx, v, plan)
		if err != nil {
			return err
		}
		if j, err = Judge(plan, &next, h); err != nil {
			return err
		}
		next.Told = j.Told
		return write(tx, &next, stored)
	})
	if err != nil {
		return nil, err
	}
	*v = next
	return j, nil
}

// Judge returns what the visit's plan says of it, with what was known of the
// field when the last entry was recorded, or is known now where there is none.
func (f *File) Judge(v *Visit) (*Judgement, error) {
	plan, err := f.Plan(v.Plan)
	if err != nil {
		return nil, err
	}
	if plan == nil {
		return nil, fmt.Errorf("plan %s is not in the file", Short(v.Plan))
	}
	h := plans.History{Found: v.Told.FoundBefore, Last: v.Told.Last, InStage: v.Told.InStage}
	if len(v.Entries) == 0 {
		if h, err = history(f.db, v, plan); err != nil {
			return nil, explain(err)
		}
	}
	return Judge(plan, v, h)
}

// history returns what earlier visits say of a field, as the plan of a visit sees it.
func history(q querier, v *Visit, plan *plans.Plan) (plans.History, error) {
	var h plans.History
	var found sql.NullBool
	var otherStage sql.NullString
	// Of a field in which the file has no find from before, somebody told of one where it
	// counted as found all the same.
	err := q.QueryRow(`SELECT max(total > 0 OR (found_before OR last NOT IN ('', 'none')) AND NOT EXISTS (
			SELECT 1 FROM visit e WHERE e.field = visit.field AND e.date <= visit.date AND e.id <> visit.id AND e.total > 0)), max(CASE WHEN stage <> ? THEN date END) FROM visit
		WHERE field = (SELECT id FROM field WHERE name = ?) AND date <= ? AND id <> ? AND stops > 0 AND NOT void`,
		v.Stage, v.Field, v.Date, v.ID).Scan(&found, &otherStage)
	if err != nil {
		return h, err
	}
	// A card's scout may know of a find that is not in the file.
	h.Found = found.Bool || v.Source == sourceCard && v.Told.FoundBefore
	// A visit that was begun with a table goes on with it.
	h.Last = v.Told.Last
	if h.Seen, err = lastSeen(q, v, plan); err != nil {
		return h, err
	}
	if otherStage.Valid {
		from, err := time.Parse(DateLayout, otherStage.String)
		if err != nil {
			return h, CheckDate(otherStage.String)
		}
		to, err := time.Parse(DateLayout, v.Date)
		if err != nil {
			return h, CheckDate(v.Date)
		}
		days := to.Sub(from).Hours() / 24
		h.InStage = &days
	}
	return h, nil
}

// lastSeen returns what the last visit of a field before v saw. Where the stops of the
// plan count something else than what was found, its stops are counted so too.
func lastSeen(q querier, v *Visit, plan *plans.Plan) (seen float64, err error) {
	s, err := plan.Stage(v.Stage)
	if err != nil {
		return 0, err
	}
	var id string
	err = q.QueryRow(`SELECT id, coalesce(total * 1.0 / units, 0) FROM visit
		WHERE field = (SELECT id FROM field WHERE name = ?) AND date <= ? AND id <> ? AND stops > 0 AND (units > 0 OR ?) AND NOT void
		ORDER BY date DESC, started DESC LIMIT 1`, v.Field, v.Date, v.ID, !s.Worth.Plain()).Scan(&id, &seen)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return 0, nil
	case err != nil || s.Worth.Plain():
		return seen, err
	}
	last, err := visit(q, id)
	if err != nil {
		return 0, err
	}
	stops, err := last.Stops()
	return s.Shown(Counts(stops)), err
}

// write stores a visit of which the first entries are stored already.
func write(tx *sql.Tx, v *Visit, stored int) error {
	if _, err := tx.Exec("INSERT INTO field (name) VALUES (?) ON CONFLICT DO NOTHING", v.Field); err != nil {
		return err
	}
	t := v.Told
	if _, err := tx.Exec(`INSERT INTO visit (id, field, date, stage, plan, source, changes, started,
			stops, plants, total, units, signs, verdict, decided_at, sign_missing, next_visit, next_rule, found_before, last, in_stage, void, scout, seal)
		VALUES (?, (SELECT id FROM field WHERE name = ?), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET field = excluded.field, changes = excluded.changes,
			stops = excluded.stops, plants = excluded.plants, total = excluded.total, units = excluded.units, signs = excluded.signs,
			verdict = excluded.verdict, decided_at = excluded.decided_at, sign_missing = excluded.sign_missing,
			next_visit = excluded.next_visit, next_rule = excluded.next_rule, found_before = excluded.found_before, last = excluded.last, in_stage = excluded.in_stage,
			void = excluded.void, scout = excluded.scout, seal = excluded.seal`,
		v.ID, v.Field, v.Date, v.Stage, v.Plan, v.Source, v.Changes, v.started(),
		t.Stops, t.Plants, t.Total, t.Units, t.Signs, t.Verdict, t.DecidedAt, t.SignMissing, t.Next, t.Rule, t.FoundBefore, t.Last, t.InStage,
		t.Void, t.Scout, v.seal()); err != nil {
		return err
	}
	for i, e := range v.Entries[stored:] {
		if _, err := tx.Exec("INSERT INTO entry (visit, number, kind, stop, total, plants, sign, note, at, takes, scout, was, name) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			v.ID, stored+i+1, e.Kind, e.Stop, e.Total, e.Plants, e.Sign, e.Note, e.At, e.Takes, e.Scout, e.Was, e.Name); err != nil {
			return err
		}
	}
	return nil
}
