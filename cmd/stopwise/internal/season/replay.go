package season

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// A course is what the entries of a visit come to.
type course struct {
	stops  []Stop
	more   []int    // after how many stops the scout asked to walk on
	void   int      // number of the entry that made the visit void; 0 for none
	scouts []string // who gave answers, in order
	done   []action // what can still be taken back, the latest last
}

// An action is an entry of the scout's with what stood there before.
type action struct {
	entry int // its number, from 1
	kind  string
	stop  int
	was   Stop
}

// replay reads the entries one after the other. The error says which entry does
// not fit the ones before it.
func (v *Visit) replay() (*course, error) {
	c := &course{}
	for i, e := range v.Entries {
		if e.Scout != "" && !slices.Contains(c.scouts, e.Scout) {
			c.scouts = append(c.scouts, e.Scout)
		}
		if what := c.take(i+1, e); what != "" {
			return nil, fmt.Errorf("entry %d (%s of stop %d): %s", i+1, e.Kind, e.Stop, what)
		}
	}
	return c, nil
}

// take applies an entry, and says what is wrong with it.
func (c *course) take(number int, e Entry) string {
	s := Stop{e.Total, e.Plants, e.Sign}
	if (e.Kind == KindStop || e.Kind == KindCorrect) && (e.Total < 0 || e.Plants < 1) {
		return "a stop needs a count of 0 or more and plants of 1 or more"
	}
	a := action{entry: number, kind: e.Kind, stop: e.Stop}
	switch e.Kind {
	case KindStop:
		if e.Stop != len(c.stops)+1 {
			return fmt.Sprintf("the next stop is %d", len(c.stops)+1)
		}
		c.stops = append(c.stops, s)
	case KindCorrect:
		if e.Stop < 1 || e.Stop > len(c.stops) {
			return fmt.Sprintf("there are %d stops", len(c.stops))
		}
		a.was, c.stops[e.Stop-1] = c.stops[e.Stop-1], s
	case KindUndo:
		if e.Takes > 0 {
			return c.takeBack(e.Takes)
		}
		if e.Stop != len(c.stops) || e.Stop == 0 {
			return fmt.Sprintf("the last stop is %d", len(c.stops))
		}
		a.was, c.stops = c.stops[e.Stop-1], c.stops[:e.Stop-1]
	case KindMore:
		c.more = append(c.more, len(c.stops))
	case KindNote:
	case KindVoid:
		if c.void > 0 {
			return "the visit is void already"
		}
		c.void = number
		return ""
	case KindRename:
		return "" // where it belongs to is the visit's field
	default:
		return "unknown kind"
	}
	c.done = append(c.done, a)
	return ""
}

// takeBack undoes the entry with a number, which must be the latest that stands,
// or the one that made the visit void.
func (c *course) takeBack(number int) string {
	if c.void == number {
		c.void = 0
		return ""
	}
	n := len(c.done)
	if n == 0 || c.done[n-1].entry != number {
		return fmt.Sprintf("entry %d is not the last one that stands", number)
	}
	a := c.done[n-1]
	c.done = c.done[:n-1]
	switch a.kind {
	case KindStop:
		c.stops = c.stops[:len(c.stops)-1]
	case KindCorrect:
		c.stops[a.stop-1] = a.was
	case KindUndo:
		c.stops = append(c.stops, a.was)
	case KindMore:
		c.more = c.more[:len(c.more)-1]
	}
	return ""
}

// Stops returns the stops that the entries come to. The error says which entry
// does not fit the ones before it.
func (v *Visit) Stops() ([]Stop, error) {
	c, err := v.replay()
	if err != nil {
		return nil, err
	}
	return c.stops, nil
}

// Last returns the number of the latest entry of the scout's that stands, from 1,
// or 0: what [KindUndo] is to take back.
func (v *Visit) Last() int {
	c, err := v.replay()
	if err != nil || len(c.done) == 0 {
		return 0
	}
	return c.done[len(c.done)-1].entry
}

// Voided returns the number of the entry that made the visit void, from 1, or 0.
func (v *Visit) Voided() int {
	if c, err := v.replay(); err == nil {
		return c.void
	}
	return 0
}

// Overruled reports whether the scout asked to walk on after the verdict that
// came at a stop.
func (v *Visit) Overruled(decidedAt int) bool {
	c, err := v.replay()
	return err == nil && slices.ContainsFunc(c.more, func(stops int) bool { return stops >= decidedAt })
}

// began returns the name of the field under which a visit was begun.
func (v *Visit) began() string {
	for _, e := range v.Entries {
		if e.Kind == KindRename {
			return e.Was
		}
	}
	return v.Field
}

// started returns when the first entry was typed.
func (v *Visit) started() string {
	if len(v.Entries) == 0 {
		return ""
	}
	return v.Entries[0].At
}

// seal returns a digest of a visit with all its entries, so that a change of any
// of them shows, also of those from which no verdict follows. It does not keep
// out somebody who computes it again.
func (v *Visit) seal() string {
	// Upper and lower case of a field are the same.
	of := Visit{ID: v.ID, Field: strings.ToLower(v.Field), Date: v.Date, Stage: v.Stage, Plan: v.Plan, Source: v.Source, Changes: v.Changes, Entries: v.Entries}
	text, err := json.Marshal(of)
	if err != nil {
		panic(err) // strings and numbers only
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// sealAll seals the visits of a file of the first version.
func sealAll(tx *sql.Tx) error {
	vs, err := visits(tx, Filter{})
	if err != nil {
		return err
	}
	if err := addEntries(tx, vs); err != nil {
		return err
	}
	for _, v := range vs {
		if _, err := tx.Exec("UPDATE visit SET seal = ? WHERE id = ?", v.seal(), v.ID); err != nil {
			return err
		}
	}
	return nil
}
