package say

import "stopwise/plans"

// A Came is what a recorded visit came to.
type Came struct {
	Verdict                       string // as it is kept: that of [plans.Verdict], empty without stops
	Void, SignMissing, Unfinished bool
}

// String returns it in a word or two, for a table.
func (c Came) String() string {
	switch {
	case c.Void:
		return "void"
	case c.SignMissing:
		return plans.Leave.String() + ", sign missing"
	case c.Unfinished:
		return "unfinished"
	case c.Verdict == plans.Act.String():
		return "ACT"
	}
	return c.Verdict
}

// StandsFrom says that an earlier visit's verdict stands, since the last visit has
// none.
func StandsFrom(verdict, date string) string {
	return verdict + " of " + date + "; the last visit is unfinished"
}
