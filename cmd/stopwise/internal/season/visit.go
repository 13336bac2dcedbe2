package season

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"stopwise/plans"
)

// The kinds of entries.
const (
	KindStop    = "stop"    // a stop was walked
	KindCorrect = "correct" // an earlier stop is to be read otherwise
	KindUndo    = "undo"    // the last stop is taken back, or the entry that it names
	KindNote    = "note"    // a remark
	KindMore    = "more"    // the scout walks on after a verdict, with the reason
	KindVoid    = "void"    // the visit counts for nothing, with the reason
	KindRename  = "rename"  // the visit was of another field, with the reason
)

// An Entry is one answer of a scout. Entries are never changed.
type Entry struct {
	Kind   string `json:"kind"`
	Stop   int    `json:"stop,omitempty"`     // from 1; for stop, correct and undo
	Total  int    `json:"infested,omitempty"` // infested plants, or insects
	Plants int    `json:"plants,omitempty"`   // plants examined
	Sign   *bool  `json:"sign,omitempty"`     // whether the stage's sign was seen; nil where it was not asked
	Note   string `json:"note,omitempty"`
	At     string `json:"at,omitempty"`    // when it was typed, RFC 3339
	Takes  int    `json:"takes,omitempty"` // of an undo: the number of the entry that it takes back, from 1; 0 for the last stop
	Scout  string `json:"scout,omitempty"` // who gave the answer
	Was    string `json:"was,omitempty"`   // of a rename: the field's name before
	Name   string `json:"name,omitempty"`  // and after
}

// A Stop is what was seen at one stop, corrections included.
type Stop struct {
	Total  int
	Plants int
	Sign   *bool
}

// A Visit is one walk of one field.
type Visit struct {
	ID     string `json:"id"`
	Field  string `json:"field"`
	Date   string `json:"date"` // of the visit, 2026-07-31
	Stage  string `json:"stage"`
	Plan   string `json:"plan"`             // checksum of the plan
	Source string `json:"source,omitempty"` // walk, card or import
	// Changes counts the answers that a field card had been given when the visit
	// was last read from it; 0 for others.
	Changes int     `json:"changes,omitempty"`
	Entries []Entry `json:"entries"`
	Told    Told    `json:"told"`
	// Beside is set for a visit that is begun although there may be one of the
	// same field, day, stage and plan.
	Beside bool `json:"-"`
}

// Told is what a visit came to, and what the scout was told.
type Told struct {
	Stops     int    `json:"stops"`
	Plants    int    `json:"plants"`
	Total     int    `json:"infested"`
	Units     int    `json:"sample_units"` // what Total is a share of, or a mean over; 0 where looking ended at a cap: no share was seen
	Signs     int    `json:"sign_stops"`   // stops up to the verdict at which the sign was seen
	Verdict   string `json:"verdict"`      // act, leave, continue; empty without stops
	DecidedAt int    `json:"decided_at_stop,omitempty"`
	// SignMissing is set where the count reached the act number, and the sign was
	// not seen at enough stops: the verdict is leave.
	SignMissing bool   `json:"sign_missing,omitempty"`
	Next        string `json:"next_visit,omitempty"` // date; empty where there is none
	Rule        string `json:"next_visit_rule,omitempty"`
	// What was known of the field before: the next visit follows from it.
	FoundBefore bool `json:"found_before"`
	// Last says with which table the visit was walked, where the plan has several by
	// what earlier visits found; empty where it has one.
	Last    plans.Last `json:"last,omitempty"`
	InStage *float64   `json:"in_stage_days,omitempty"`
	Void    bool       `json:"void,omitempty"`  // the visit counts for nothing
	Scout   string     `json:"scout,omitempty"` // who gave the answers, parted by commas
}

// DateLayout is the layout of dates.
const DateLayout = "2006-01-02"

// CheckDate returns an error unless a date is written as 2026-07-31.
func CheckDate(date string) error {
	if _, err := time.Parse(DateLayout, date); err != nil {
		return fmt.Errorf("%q is not a date; write it as 2026-07-31", date)
	}
	return nil
}

// NewVisit returns a visit with a new id, without entries.
func NewVisit(field, date, stage, plan string) *Visit {
	return &Visit{ID: uuid.NewString(), Field: field, Date: date, Stage: stage, Plan: plan, Source: "walk"}
}

// Counts returns the stops in the shape that plans take.
func Counts(stops []Stop) []plans.Count {
	counts := make([]plans.Count, len(stops))
	for i, s := range stops {
		counts[i] = plans.Count{Total: s.Total, Plants: s.Plants, Sign: s.Sign != nil && *s.Sign}
	}
	return counts
}

// A Judgement is what a plan says of a visit.
type Judgement struct {
	Stage   *plans.StagePlan
	Stops   []Stop
	Answer  plans.Answer // empty without stops
	Revisit *plans.Revisit
	Told    Told
}

// Judge returns what a plan says of a visit with the given history. It depends on
// nothing else, so that every verdict can be reproduced.
func Judge(plan *plans.Plan, v *Visit, h plans.History) (*Judgement, error) {
	s, err := plan.Stage(v.Stage)
	if err != nil {
		return nil, err
	}
	c, err := v.replay()
	if err != nil {
		return nil, err
	}
	stops := c.stops
	s = s.Of(h)
	j := &Judgement{Stage: s, Stops: stops, Told: Told{
		Stops: len(stops), FoundBefore: h.Found, Last: s.Last, InStage: h.InStage, Void: c.void > 0, Scout: strings.Join(c.scouts, ", "),
	}}
	if len(stops) == 0 {
		return j, nil
	}
	if j.Answer, err = s.Check(Counts(stops)); err != nil {
		return nil, err
	}
	t, a := &j.Told, j.Answer
	t.Plants, t.Total = a.Plants, a.Total
	if a.Ended == 0 {
		t.Units = s.Units(a.Plants)
	}
	t.Verdict, t.DecidedAt = a.Verdict.String(), a.DecidedAt
	t.Signs, t.SignMissing = a.Signs, a.SignMissing
	if a.Verdict == plans.Act || a.Verdict == plans.Continue && len(stops) < s.Table.Stops() {
		return j, nil
	}
	if j.Revisit = s.RevisitAfter(a, h); j.Revisit == nil {
		return j, nil
	}
	day, err := time.Parse(DateLayout, v.Date)
	if err != nil {
		return nil, CheckDate(v.Date)
	}
	if t.Void {
		return j, nil // nobody is to come back because of it
	}
	t.Next, t.Rule = day.AddDate(0, 0, j.Revisit.Days).Format(DateLayout), string(j.Revisit.Rule)
	return j, nil
}

// ErrMoved says that another program has added to the visit meanwhile. Nothing
// was recorded.
var ErrMoved = errors.New("another walk has added to this visit")
