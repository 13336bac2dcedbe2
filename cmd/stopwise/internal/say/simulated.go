package say

import (
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/validate"
)

func StopsOf(stops, plants int) string {
	return report.Count(stops, "stop", "stops") + " of " + report.Count(plants, "plant", "plants")
}

// ChanceText writes a chance, a simulated one with its standard error, unless all
// visits ended alike: then there is none.
func ChanceText(c validate.Chance) string {
	if math.IsNaN(c.Value) {
		return NotKnown
	}
	if c.SE() == 0 {
		return report.Percent(c.Value)
	}
	return report.Percent(c.Value) + " ± " + report.Percent(c.SE())
}

// StandingWord says how a risk stands against what is allowed: within it, beyond it,
// too close for the simulation to tell, or not known.
func StandingWord(s validate.Standing, within, beyond string) string {
	switch s {
	case validate.Within:
		return within
	case validate.Open:
		return "too close"
	case validate.Unknown:
		return NotKnown
	}
	return beyond
}
