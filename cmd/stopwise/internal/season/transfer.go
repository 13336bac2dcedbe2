package season

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/google/uuid"

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
	Visits  []*Visit                   `json:"visits"`
}

// Document returns the visits that a filter picks, with their plans.
func (f *File) Document(by Filter) (Document, error) {
	d := Document{Kind: Kind, Version: Version, Plans: map[string]json.RawMessage{}, Visits: []*Visit{}}
	vs, err := f.FullVisits(by)
	if err != nil {
		return d, err
	}
	texts, err := f.Plans()
	if err != nil {
		return d, err
	}
	for _, v := range vs {
		d.Plans[v.Plan] = json.RawMessage(texts[v.Plan])
	}
	d.Visits = append(d.Visits, vs...)
	return d, nil
}

// ReadDocument reads a season from JSON. Every plan must be as it was made, and
// every verdict and next visit must follow from plan and entries.
func ReadDocument(text []byte) (Document, error) {
	var d Document
	var head struct {
		Kind    string `json:"kind"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return d, fmt.Errorf("not a season in JSON (%w)", err)
	}
	switch {
	case head.Kind != Kind:
		return d, fmt.Errorf("kind is %q; accepted: %q, as season export writes it", head.Kind, Kind)
	case head.Version > Version || head.Version < 1:
		return d, fmt.Errorf("version %d of a season; this program knows up to %d: use a newer stopwise", head.Version, Version)
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&d); err != nil {
		return d, errors.New(strings.TrimPrefix(err.Error(), "json: "))
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return d, errors.New("the text goes on after the season's end")
	}
	return d, d.check()
}

func (d *Document) check() error {
	var errs []error
	made := map[string]*plans.Plan{}
	for sum, text := range d.Plans {
		p, err := plans.ReadPlan(text)
		if err == nil {
			var own string
			if own, err = p.Checksum(); err == nil && own != sum {
				err = fmt.Errorf("its content has the checksum %s", Short(own))
			}
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("plan %s: %w", Short(sum), err))
			continue
		}
		made[sum] = p
	}
	for i, v := range d.Visits {
		if err := v.check(made); err != nil {
			errs = append(errs, fmt.Errorf("visit %d: %w", i+1, err))
		}
	}
	return errors.Join(errs...)
}

func (v *Visit) check(made map[string]*plans.Plan) error {
	if v == nil {
		return errors.New("is null")
	}
	v.Field = strings.TrimSpace(v.Field)
	p := made[v.Plan]
	switch _, err := uuid.Parse(v.ID); {
	case err != nil:
		return fmt.Errorf("id is %q; accepted: a UUID", v.ID)
	case v.Field == "":
		return errors.New("field is empty")
	case CheckDate(v.Date) != nil:
		return CheckDate(v.Date)
	case p == nil:
		return fmt.Errorf("its plan %s is not among the plans", Short(v.Plan))
	case v.Changes < 0:
		return fmt.Errorf("changes is %d; accepted: 0 or more", v.Changes)
	}
	return v.verify(p)
}

// Import reads a season in JSON into the file. Reading it twice adds nothing.
func (f *File) Import(d Document) (Outcome, error) {
	texts := map[string]string{}
	for sum, text := range d.Plans {
		var b bytes.Buffer
		if err := json.Compact(&b, text); err != nil {
			return Outcome{}, err
		}
		texts[sum] = b.String()
	}
	return f.add(texts, d.Visits)
}
