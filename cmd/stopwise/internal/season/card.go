package season

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/google/uuid"

	"stopwise/cmd/stopwise/internal/textsafe"
	"stopwise/plans"
)

// CardMark stands before each visit in the text of a field card.
const CardMark = "stopwise-visit "

// A CardVisit is a visit as a field card hands it over, on one line of text:
//
//	stopwise-visit {"v":1,"id":"…","plan":"sha256:…","field":"North","date":"2026-07-31","stage":"leafing","counts":[3,5,2],"plants":[20,20,18],"signs":[0,0,1],"changes":4}
//
// The line may stand in any text, a message for example: lines without the mark
// are passed over, and so is what stands before the mark in its line.
type CardVisit struct {
	V       int    `json:"v"`                // version of the format: 1
	ID      string `json:"id"`               // a random UUID, the same whenever this visit is handed over
	Plan    string `json:"plan"`             // checksum of the plan, as its file states it
	Field   string `json:"field"`            // name of the field
	Date    string `json:"date"`             // of the visit, 2026-07-31
	Stage   string `json:"stage"`            // growth stage; empty for the only one of a plan
	Counts  []int  `json:"counts"`           // infested plants, or insects, of each stop in order
	Plants  []int  `json:"plants,omitempty"` // plants examined at each stop; left out where all had the planned number
	Signs   []int  `json:"signs,omitempty"`  // 1 where the stage's sign was seen, else 0; left out where the stage has none
	Changes int    `json:"changes"`          // answers given on the card so far, corrections included: it never falls
	Found   bool   `json:"found,omitempty"`  // the scout knew that the pest was found in the field before
	// Last says with which table the visit was walked, where the plan has several by what
	// earlier visits found: none, found, little or more.
	Last  plans.Last `json:"last,omitempty"`
	Note  string     `json:"note,omitempty"`  // a remark of the scout
	Scout string     `json:"scout,omitempty"` // who scouted
}

// CardVersion is the version of the format.
const CardVersion = 1

// Line returns the visit as a line of text, without its end.
func (c CardVisit) Line() (string, error) {
	if c.V == 0 {
		c.V = CardVersion
	}
	b, err := json.Marshal(c)
	return CardMark + string(b), err
}

// maxCardLine bounds a line: a visit of a thousand stops takes some 10 kB.
const maxCardLine = 1 << 20

// ReadCards reads the visits in a text, and reports all lines that hold one with
// a fault, as [plans.InputError]s. passed is the number of other lines that are not empty.
func ReadCards(in io.Reader) (visits []CardVisit, passed int, err error) {
	scanner := bufio.NewScanner(in)
	scanner.Buffer(nil, maxCardLine)
	var errs []error
	for line := 1; scanner.Scan(); line++ {
		text := strings.TrimSpace(strings.TrimPrefix(scanner.Text(), "\ufeff"))
		_, rest, found := strings.Cut(text, strings.TrimSpace(CardMark))
		if !found {
			if text != "" {
				passed++
			}
			continue
		}
		c, err := readCard([]byte(rest))
		if err != nil {
			errs = append(errs, &plans.InputError{Line: line, Message: err.Error()})
			continue
		}
		visits = append(visits, c)
	}
	if err := scanner.Err(); errors.Is(err, bufio.ErrTooLong) {
		errs = append(errs, fmt.Errorf("a line is longer than %d bytes", maxCardLine))
	} else if err != nil {
		errs = append(errs, err)
	}
	return visits, passed, errors.Join(errs...)
}

func readCard(text []byte) (CardVisit, error) {
	var c CardVisit
	var head struct {
		V int `json:"v"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return c, fmt.Errorf("the visit is damaged (%v); copy the whole line again", err)
	}
	if head.V != CardVersion {
		return c, fmt.Errorf("the visit has format version %d; accepted: %d", head.V, CardVersion)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&c); err != nil {
		return c, fmt.Errorf("the visit is damaged (%s)", strings.TrimPrefix(err.Error(), "json: "))
	}
	return c, c.check()
}

func (c *CardVisit) check() error {
	var wrong error
	if c.Field, wrong = textsafe.Name(c.Field); wrong != nil {
		return fmt.Errorf("field %w", wrong)
	}
	if c.Scout != "" {
		if c.Scout, wrong = textsafe.Name(c.Scout); wrong != nil {
			return fmt.Errorf("scout %w", wrong)
		}
	}
	id, err := uuid.Parse(c.ID)
	switch {
	case err != nil:
		return fmt.Errorf("id is %q; accepted: a UUID", c.ID)
	case CheckDate(c.Date) != nil:
		return fmt.Errorf("date: %w", CheckDate(c.Date))
	case !knownLast(c.Last):
		return fmt.Errorf("last is %q; accepted: none, found, little or more", c.Last)
	case len(c.Counts) == 0:
		return errors.New("counts is empty; accepted: one number for each stop")
	case c.Plants != nil && len(c.Plants) != len(c.Counts):
		return fmt.Errorf("plants has %d numbers, and counts %d", len(c.Plants), len(c.Counts))
	case c.Signs != nil && len(c.Signs) != len(c.Counts):
		return fmt.Errorf("signs has %d numbers, and counts %d", len(c.Signs), len(c.Counts))
	}
	c.ID = id.String() // in one way of writing
	for i, n := range c.Counts {
		switch {
		case n < 0 || n > maxCount:
			return fmt.Errorf("stop %d: count %d; accepted: 0 or more", i+1, n)
		case c.Plants != nil && (c.Plants[i] < 1 || c.Plants[i] > maxCount):
			return fmt.Errorf("stop %d: %d plants; accepted: 1 or more", i+1, c.Plants[i])
		case c.Signs != nil && c.Signs[i] != 0 && c.Signs[i] != 1:
			return fmt.Errorf("stop %d: sign %d; accepted: 0 or 1", i+1, c.Signs[i])
		}
	}
	if c.Changes == 0 {
		c.Changes = len(c.Counts)
	}
	if c.Changes < len(c.Counts) {
		return fmt.Errorf("changes is %d, and there are %d counts; accepted: as many answers as were given", c.Changes, len(c.Counts))
	}
	return nil
}

// maxCount bounds counts and plants; plans have bounds of their own.
const maxCount = 1 << 30

const sourceCard = "card"

// Visit returns the visit for the season file. plants is the planned number at a
// stop.
func (c CardVisit) Visit(stage string, plants int) *Visit {
	v := &Visit{ID: c.ID, Field: c.Field, Date: c.Date, Stage: stage, Plan: c.Plan, Source: sourceCard, Changes: c.Changes}
	v.Told.FoundBefore, v.Told.Last = c.Found, c.Last
	for i, n := range c.Counts {
		e := Entry{Kind: KindStop, Stop: i + 1, Total: n, Plants: plants, Scout: c.Scout}
		if c.Plants != nil {
			e.Plants = c.Plants[i]
		}
		if c.Signs != nil {
			seen := c.Signs[i] == 1
			e.Sign = &seen
		}
		v.Entries = append(v.Entries, e)
	}
	if note := strings.TrimSpace(c.Note); note != "" {
		v.Entries = append(v.Entries, Entry{Kind: KindNote, Note: note, Scout: c.Scout})
	}
	return v
}
