package season

import (
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	"github.com/xrash/smetrics"

	"stopwise/cmd/stopwise/internal/textsafe"
)

// Expect notes fields that are to be visited this season: they are due though
// they were never visited. It returns how many were not expected before.
func (f *File) Expect(fields []string) (added int, err error) {
	err = f.transact(func(tx *sql.Tx) error {
		before, err := expected(tx)
		if err != nil {
			return err
		}
		if err := expect(tx, fields); err != nil {
			return err
		}
		after, err := expected(tx)
		added = len(after) - len(before)
		return err
	})
	return added, err
}

func expect(tx *sql.Tx, fields []string) error {
	for _, name := range fields {
		if _, err := tx.Exec("INSERT INTO field (name) VALUES (?) ON CONFLICT DO NOTHING", name); err != nil {
			return err
		}
		if _, err := tx.Exec("INSERT INTO expected (field) SELECT id FROM field WHERE name = ? ON CONFLICT DO NOTHING", name); err != nil {
			return err
		}
	}
	return nil
}

func expected(q querier) ([]string, error) {
	return texts(q, "SELECT f.name FROM expected e JOIN field f ON f.id = e.field ORDER BY f.name")
}

func texts(q querier, query string, args ...any) (out []string, err error) {
	var s string
	err = eachRow(q, query, args, func() { out = append(out, s) }, &s)
	return out, err
}

// ReadFields reads a list of fields: CSV with a header that has a column field;
// other columns are passed over. It reports all faults, as CellErrors.
func ReadFields(in io.Reader) ([]string, error) {
	at := -1
	var fields []string
	var errs []error
	err := readRows(in, "the list is empty; its first line names the columns, one of them field", func(r *csv.Reader, head []string) error {
		at = slices.IndexFunc(head, func(s string) bool { return strings.EqualFold(strings.TrimSpace(s), "field") })
		if at < 0 {
			return &CellError{1, 1, fmt.Sprintf(`no column "field"; the columns are %s`, strings.Join(head, " "))}
		}
		return nil
	}, func(r *csv.Reader, record []string) {
		cell, column := "", 1
		line, _ := r.FieldPos(0)
		if at < len(record) {
			cell = record[at]
			_, column = r.FieldPos(at)
		}
		name, err := textsafe.Name(cell)
		if err != nil {
			errs = append(errs, &CellError{line, column, "field: " + err.Error()})
			return
		}
		fields = append(fields, name)
	})
	if err != nil {
		return nil, errors.Join(append(errs, err)...)
	}
	return fields, errors.Join(errs...)
}

// Near returns the names of fields in the file that a new name may be a slip of:
// those that differ in no more than signs, or in up to two letters of six and
// more. Numbers in names are never taken for slips. It returns nothing for a name
// that the file has.
func (f *File) Near(name string) ([]string, error) {
	names, err := texts(f.db, "SELECT name FROM field ORDER BY name")
	if err != nil {
		return nil, explain(err)
	}
	var near []string
	for _, n := range names {
		if strings.EqualFold(n, name) {
			return nil, nil
		}
		if alike(n, name) {
			near = append(near, n)
		}
	}
	return near, nil
}

func alike(a, b string) bool {
	only := func(s string, keep func(rune) bool) string {
		return strings.Map(func(r rune) rune {
			if keep(r) {
				return unicode.ToLower(r)
			}
			return -1
		}, s)
	}
	if only(a, unicode.IsDigit) != only(b, unicode.IsDigit) {
		return false
	}
	a, b = only(a, unicode.IsLetter), only(b, unicode.IsLetter)
	most := 0
	if n := min(len(a), len(b)); n >= 6 {
		most = 2
	} else if n >= 4 {
		most = 1
	}
	return a != "" && (a == b || most > 0 && max(len(a), len(b)) <= 400 && smetrics.WagnerFischer(a, b, 1, 1, 1) <= most)
}

// Void makes a visit count for nothing: it stays in the file with all its
// answers, and nobody is to come back because of it. A visit that is void already
// is left as it is, and reported as false.
func (f *File) Void(v *Visit, reason, at, scout string) (bool, error) {
	if v.Told.Void {
		return false, nil
	}
	_, err := f.Append(v, Entry{Kind: KindVoid, Note: reason, At: at, Scout: scout})
	return err == nil, err
}

// Unvoid makes a void visit count again.
func (f *File) Unvoid(v *Visit, reason, at, scout string) (bool, error) {
	n := v.Voided()
	if n == 0 {
		return false, nil
	}
	_, err := f.Append(v, Entry{Kind: KindUndo, Takes: n, Note: reason, At: at, Scout: scout})
	return err == nil, err
}

// Rename says that visits were of another field; their answers stay. Where all
// visits of a field that is expected are renamed, the other one is expected in its
// place.
func (f *File) Rename(vs []*Visit, name, reason, at, scout string) error {
	for _, v := range vs {
		was := v.Field
		if _, err := f.Append(v, Entry{Kind: KindRename, Name: name, Note: reason, At: at, Scout: scout}); err != nil {
			return err
		}
		err := f.transact(func(tx *sql.Tx) error {
			r, err := tx.Exec(`DELETE FROM expected WHERE field = (SELECT id FROM field WHERE name = ?)
				AND NOT EXISTS (SELECT 1 FROM visit WHERE visit.field = expected.field)`, was)
			if err != nil {
				return err
			}
			if n, err := r.RowsAffected(); err != nil || n == 0 {
				return err
			}
			return expect(tx, []string{name})
		})
		if err != nil {
			return err
		}
	}
	return nil
}
