package rule

import (
	"fmt"
	"math"
)

// NeverLeave and NeverAct mark a stop at which the total cannot bring the
// verdict, whatever it is.
const (
	NeverLeave = -1
	NeverAct   = math.MaxInt
)

// A Verdict is what a scout is told after a stop.
type Verdict int

// The verdicts.
const (
	Continue Verdict = iota // walk to another stop
	Leave                   // do not treat; come back
	Act                     // the threshold is taken as reached
)

// String returns "continue", "leave" or "act".
func (v Verdict) String() string { return [...]string{"continue", "leave", "act"}[v] }

// A Table is a plan's decision table: after stop j (from 1) leave when the
// running total is at most Leave[j-1], act when it is at least Act[j-1], else
// walk on. At the last stop Act = Leave + 1, so a verdict always comes.
type Table struct {
	Units int   // sample units examined at each stop, at least 1
	Leave []int // NeverLeave or the leave number, not decreasing
	Act   []int // NeverAct or the act number, not decreasing once it is a number
}

// Stops returns the number of stops of the table.
func (t Table) Stops() int { return len(t.Leave) }

// Verdict returns what the table says at a stop (from 1) for a running total.
func (t Table) Verdict(stop, total int) Verdict {
	return Read(total, t.Leave[stop-1], t.Act[stop-1])
}

// Read returns what a leave and an act number say of a running total.
func Read(total, leave, act int) Verdict {
	switch {
	case total <= leave:
		return Leave
	case total >= act:
		return Act
	}
	return Continue
}

// First returns the first stop at which a verdict can come.
func (t Table) First() int {
	for j := range t.Leave {
		if t.Leave[j] != NeverLeave || t.Act[j] != NeverAct {
			return j + 1
		}
	}
	return t.Stops()
}

// Check returns an error if the numbers do not form a decision table.
func (t Table) Check() error {
	n := t.Stops()
	switch {
	case n == 0:
		return fmt.Errorf("rule: a decision table needs at least one stop")
	case len(t.Act) != n:
		return fmt.Errorf("rule: %d leave numbers but %d act numbers", n, len(t.Act))
	case t.Units < 1:
		return fmt.Errorf("rule: %d units per stop, must be at least 1", t.Units)
	}
	for j := range n {
		a, r := t.Leave[j], t.Act[j]
		switch {
		case a < NeverLeave || r < 0:
			return fmt.Errorf("rule: stop %d: negative number", j+1)
		case a >= r:
			return fmt.Errorf("rule: stop %d: leave number %d is not below act number %d", j+1, a, r)
		case j > 0 && a < t.Leave[j-1]:
			return fmt.Errorf("rule: stop %d: leave number %d is below that of the stop before", j+1, a)
		case j > 0 && t.Act[j-1] != NeverAct && r < t.Act[j-1]:
			return fmt.Errorf("rule: stop %d: act number %d is below that of the stop before", j+1, r)
		case j > 0 && t.Act[j-1] != NeverAct && r == NeverAct:
			return fmt.Errorf("rule: stop %d: no act number though the stop before has one", j+1)
		}
	}
	if t.Act[n-1] != t.Leave[n-1]+1 {
		return fmt.Errorf("rule: last stop: act number must follow the leave number, so that a verdict comes")
	}
	return nil
}

// Equal reports whether two tables are the same.
func (t Table) Equal(u Table) bool {
	if t.Units != u.Units || t.Stops() != u.Stops() {
		return false
	}
	for j := range t.Leave {
		if t.Leave[j] != u.Leave[j] || t.Act[j] != u.Act[j] {
			return false
		}
	}
	return true
}

// Clone returns a copy of the table that can be changed.
func (t Table) Clone() Table {
	t.Leave = append([]int(nil), t.Leave...)
	t.Act = append([]int(nil), t.Act...)
	return t
}

// Trimmed returns the table without the stops that no walk reaches.
func (t Table) Trimmed() Table {
	for j := range t.Leave {
		if t.Act[j] == t.Leave[j]+1 {
			t.Leave, t.Act = t.Leave[:j+1], t.Act[:j+1]
			break
		}
	}
	return t
}

// Lengthened returns the table with stops added up to a number of stops, which no
// walk reaches.
func (t Table) Lengthened(stops int) Table {
	t = t.Clone()
	for j := t.Stops(); j < stops; j++ {
		t.Leave = append(t.Leave, t.Leave[j-1])
		t.Act = append(t.Act, t.Act[j-1])
	}
	return t
}
