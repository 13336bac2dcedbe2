package season

import (
	"bytes"
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/google/uuid"

	"stopwise/cmd/stopwise/internal/textsafe"
	"stopwise/plans"
)

// The kind and the version of a season in JSON.
const (
	Kind    = "stopwise season"
	Version = 1
)

// A Document is a whole season as JSON: every plan, every visit, every entry.
type Document struct {
	Kind    string                     `json:"kind"`
	Version int                        `json:"version"`
	Plans   map[string]json.RawMessage `json:"plans"` // plan files by checksum
	// Expected are fields that are to be visited, visited or not.
	Expected []string `json:"expected,omitempty"`
	Visits   []*Visit `json:"visits"`
}

// Document returns the visits that a filter picks, with their plans.
func (f *File) Document(by Filter) (Document, error) {
	d := Document{Kind: Kind, Version: Version, Plans: map[string]json.RawMessage{}, Visits: []*Visit{}}
	err := f.snapshot(func(q *sql.Tx) error {
		vs, err := fullVisits(q, by)
		if err != nil {
			return err
		}
		texts, err := planTexts(q)
		if err != nil {
			return err
		}
		for _, v := range vs {
			d.Plans[v.Plan] = json.RawMessage(texts[v.Plan])
		}
		d.Visits = append(d.Visits, vs...)
		if by == (Filter{}) {
			d.Expected, err = expected(q)
		}
		return err
	})
	return d, err
}

// Import reads a season in JSON into the file, all or nothing, one visit after the
// other: the text may be far larger than the memory. Every plan must be as it was
// made, and every verdict and next visit must follow from plan and entries.
// Reading it twice adds nothing.
func (f *File) Import(in io.Reader) (Outcome, error) {
	var o Outcome
	err := f.transact(func(tx *sql.Tx) error {
		return readDocument(in, documentTaker{
			plans:    func(texts map[string]string) error { return o.addPlans(tx, texts) },
			visit:    func(v *Visit) error { return o.addVisit(tx, v) },
			expected: func(fields []string) error { return expect(tx, fields) },
		})
	})
	if err != nil {
		return Outcome{}, err
	}
	return o, nil
}

// A documentTaker takes the parts of a season in JSON as they come.
type documentTaker struct {
	plans    func(texts map[string]string) error // on one line each, by checksum
	visit    func(*Visit) error
	expected func(fields []string) error
}

type documentReader struct {
	d       *json.Decoder
	to      documentTaker
	kind    string
	version int
	made    map[string]*plans.Plan
	errs    []error
}

// mostFaults is how many faulty visits are told.
const mostFaults = 20

func readDocument(in io.Reader, to documentTaker) error {
	r := &documentReader{d: json.NewDecoder(in), to: to}
	r.d.DisallowUnknownFields()
	if t, err := r.d.Token(); err != nil || t != json.Delim('{') {
		return fmt.Errorf("not a season in JSON (%w)", cmp.Or(err, errors.New("it begins with no object")))
	}
	seen := map[any]bool{}
	for r.d.More() {
		key, err := r.d.Token()
		if err != nil {
			return r.broken(err)
		}
		if seen[key] {
			return fmt.Errorf("the key %q stands there twice", key)
		}
		seen[key] = true
		if err := r.part(key); err != nil {
			return err
		}
	}
	if _, err := r.d.Token(); err != nil {
		return r.broken(err)
	}
	if _, err := r.d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("the text goes on after the season's end")
	}
	if err := r.head(); err != nil {
		return err
	}
	return errors.Join(r.errs...)
}

func (r *documentReader) broken(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errors.New("the text ends in the middle of the season")
	}
	return errors.New(strings.TrimPrefix(err.Error(), "json: "))
}

// head checks what the text says that it is.
func (r *documentReader) head() error {
	switch {
	case r.kind != Kind:
		return fmt.Errorf("kind is %q; accepted: %q, as season export writes it", r.kind, Kind)
	case r.version > Version || r.version < 1:
		return fmt.Errorf("version %d of a season; this program knows up to %d: use a newer stopwise", r.version, Version)
	}
	return nil
}

func (r *documentReader) part(key any) error {
	read := func(to any) error {
		if err := r.d.Decode(to); err != nil {
			return r.broken(err)
		}
		return nil
	}
	switch key {
	case "kind":
		return read(&r.kind)
	case "version":
		return read(&r.version)
	case "plans":
		texts := map[string]json.RawMessage{}
		if err := read(&texts); err != nil {
			return err
		}
		return r.plans(texts)
	case "expected":
		var fields []string
		if err := read(&fields); err != nil {
			return err
		}
		for i, name := range fields {
			var err error
			if fields[i], err = textsafe.Name(name); err != nil {
				return fmt.Errorf("expected: field %w", err)
			}
		}
		return r.to.expected(fields)
	case "visits":
		return r.visits()
	}
	if err := r.head(); err != nil {
		return err
	}
	return fmt.Errorf("unknown key %q", key)
}

func (r *documentReader) plans(texts map[string]json.RawMessage) error {
	r.made = map[string]*plans.Plan{}
	compact := map[string]string{}
	for sum, text := range texts {
		p, err := plans.ReadPlan(text)
		if err == nil {
			var own string
			if own, err = p.Checksum(); err == nil && own != sum {
				err = fmt.Errorf("its content has the checksum %s", Short(own))
			}
		}
		if err != nil {
			r.errs = append(r.errs, fmt.Errorf("plan %s: %w", Short(sum), err))
			continue
		}
		r.made[sum] = p
		var b bytes.Buffer
		if err := json.Compact(&b, text); err != nil {
			return err
		}
		compact[sum] = b.String()
	}
	return r.to.plans(compact)
}

func (r *documentReader) visits() error {
	if err := r.head(); err != nil {
		return err
	}
	if r.made == nil {
		return errors.New("the visits stand before the plans; season export writes the plans first")
	}
	if t, err := r.d.Token(); err != nil || t != json.Delim('[') {
		return errors.New("visits is no list")
	}
	for n := 1; r.d.More(); n++ {
		var v *Visit
		if err := r.d.Decode(&v); err != nil {
			return fmt.Errorf("visit %d: %w", n, r.broken(err))
		}
		if err := v.check(r.made); err != nil {
			if len(r.errs) < mostFaults {
				r.errs = append(r.errs, fmt.Errorf("visit %d: %w", n, err))
			}
			continue
		}
		if len(r.errs) > 0 {
			continue // nothing will be kept
		}
		if err := r.to.visit(v); err != nil {
			return err
		}
	}
	_, err := r.d.Token()
	if err != nil {
		return r.broken(err)
	}
	return nil
}

func (v *Visit) check(made map[string]*plans.Plan) error {
	if v == nil {
		return errors.New("is null")
	}
	name, err := textsafe.Name(v.Field)
	if err != nil {
		return fmt.Errorf("field %w", err)
	}
	v.Field = name
	p := made[v.Plan]
	switch _, err := uuid.Parse(v.ID); {
	case err != nil:
		return fmt.Errorf("id is %q; accepted: a UUID", v.ID)
	case CheckDate(v.Date) != nil:
		return CheckDate(v.Date)
	case p == nil:
		return fmt.Errorf("its plan %s is not among the plans", Short(v.Plan))
	case v.Changes < 0:
		return fmt.Errorf("changes is %d; accepted: 0 or more", v.Changes)
	}
	return v.verify(p)
}
