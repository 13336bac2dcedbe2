package say

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
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

// Setting says of a row of validate what world it is: "rho 0.2".
func Setting(r validate.Row) string {
	n := make(map[string]float64, len(r.Numbers))
	for _, x := range r.Numbers {
		n[x.Name] = x.Value
	}
	first := r.Numbers[0]
	name := strings.ReplaceAll(strings.TrimSuffix(first.Name, "_low"), "_", " ")
	switch r.World {
	case validate.Mixture:
		return fmt.Sprintf("%s anywhere in %v", name, plans.Range{Low: first.Value, High: r.Numbers[1].Value})
	case validate.Misreading:
		text := report.Share(n["overlooked"]) + " overlooked"
		if alarm, told := n["false_alarm"]; told {
			text += ", " + report.Share(alarm) + " false alarms"
		}
		return text
	case validate.ShortStops:
		return "from " + report.Share(n["least"]) + " up"
	}
	return name + " " + report.Constant(first.Value)
}

// Required writes a requirement as it is typed: "needless<=10%".
func Required(q validate.Requirement) string {
	limit := report.Plain(q.Limit)
	if q.Quantity == validate.NeedlessRisk || q.Quantity == validate.MissedRisk {
		limit = report.Share(q.Limit)
	}
	return string(q.Quantity) + "<=" + limit
}
