package protocol

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"stopwise/sampling"
)

// A Sign is a further sight that must be met before a field is treated.
type Sign struct {
	Text  string `json:"text"`
	Stops int    `json:"stops"` // stops at which it must be seen
	// Absent turns the sign round: a field is treated only where the sight was not
	// met at so many stops.
	Absent bool `json:"absent,omitempty"`
	// Chance is the chance of the sign at a stop of a field at the upper bound, and
	// ChanceLower that in a field at the lower bound; 0 = not known.
	Chance      float64 `json:"chance,omitempty"`
	ChanceLower float64 `json:"chance_lower,omitempty"`
}

// Met reports whether a sign that was seen at so many stops allows a treatment.
func (g Sign) Met(stops int) bool { return (stops >= g.Stops) != g.Absent }

// MetIn returns the chance that a sign with a given chance at a stop allows a
// treatment after a number of stops.
func (g Sign) MetIn(stops int, chance float64) float64 { return g.MetAfter(0, stops, chance) }

// MetAfter returns the chance that the sign, seen at seen stops so far, allows a
// treatment after a number of further stops. It is NaN where chance is.
func (g Sign) MetAfter(seen, further int, chance float64) float64 {
	if missing := g.Stops - seen; missing > 0 {
		if math.IsNaN(chance) {
			return chance
		}
		more := sampling.Binomial{Plants: further, P: chance}
		if !g.Absent {
			return more.Tails(missing)[missing]
		}
		return floats.Sum(more.Probs(missing - 1))
	}
	if g.Absent {
		return 0
	}
	return 1
}

// SignChance returns the chance to see the stage's sign at a stop of a field at a
// level: beyond the bounds that at the bound, between them on the straight line
// from one to the other, an assumption. It is NaN where it is not known.
func (t Terms) SignChance(level float64) float64 {
	known := func(chance float64) float64 {
		if chance == 0 {
			return math.NaN()
		}
		return chance
	}
	low, high := known(t.Sign.ChanceLower), known(t.Sign.Chance)
	switch {
	case level <= t.Lower:
		return low
	case level >= t.Upper:
		return high
	}
	return low + (high-low)*(level-t.Lower)/(t.Upper-t.Lower)
}

// SignMet returns, by stop, the chance that the stage's sign allows a treatment of
// a field at a level: nil without a sign, NaN where its chance is not known.
func (t Terms) SignMet(level float64) func(stop int) float64 {
	sign := t.Sign // not t, which a function would carry to the heap
	if sign == nil {
		return nil
	}
	chance := t.SignChance(level)
	return func(stop int) float64 { return sign.MetIn(stop, chance) }
}

// NeedlessKnown and MissedKnown report whether the chance of the sign at the
// bound is known, or there is no sign: else the chance to act there is known to be
// at most that of the count, and the chance to leave not at all.
func (t Terms) NeedlessKnown() bool { return t.Sign == nil || t.Sign.ChanceLower > 0 }

// SignKnown reports whether there is a sign whose chances at both bounds are known, so
// that they are at every level, see [Terms.SignChance].
func (t Terms) SignKnown() bool { return t.Sign != nil && t.NeedlessKnown() && t.MissedKnown() }

// MissedKnown is described at [Terms.NeedlessKnown].
func (t Terms) MissedKnown() bool { return t.Sign == nil || t.Sign.Chance > 0 }
