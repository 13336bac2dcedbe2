package protocol

// Last is what earlier visits found in a field, as far as that chooses its table and
// its next visit.
type Last string

// What earlier visits can have found. A plan tells LastNone from LastFound, or where it
// says what is more ([ComingBack.MoreFrom]) LastNone, LastLittle and LastMore.
const (
	LastNone   Last = "none"   // nothing was ever found
	LastFound  Last = "found"  // something was
	LastLittle Last = "little" // something was, and the last visit saw less than MoreFrom
	LastMore   Last = "more"   // the last visit saw MoreFrom or more
)

// onCut is by how much a share seen may lie below MoreFrom: its last digits.
const onCut = 1e-12

// Last returns what is known of a field of which found says that the pest was ever
// found, and seen what the last visit saw: a share, or a mean.
func (b ComingBack) Last(found bool, seen float64) Last {
	switch {
	case !found:
		return LastNone
	case b.MoreFrom == 0:
		return LastFound
	case seen >= b.MoreFrom-onCut:
		return LastMore
	}
	return LastLittle
}

// Interval returns the days to the next visit of a field of which that is known.
func (b ComingBack) Interval(last Last) float64 {
	switch last {
	case LastNone:
		return b.DaysUntilFound
	case LastMore:
		return b.DaysMoreFound
	}
	return b.DaysOnceFound
}
