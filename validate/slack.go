package validate

import (
	"math"

	"stopwise/plans"
)

// A Slack says how much of what a promise takes for granted may be otherwise, each
// alone, before it breaks: a number, and the last value found at which both risks
// are kept over the plan's own clumping. Values further on may keep them again.
type Slack struct {
	Name string // "overlooked", "false_alarm", "rho", "k" or "count_rho", as in Row.Numbers
	Home float64
	Last float64
}

// Slacks returns how little slack a plan has. It is nil where the promise is not
// known to hold as it is. A law by which k follows the level has no one number to
// be changed.
func Slacks(s *plans.StagePlan) []Slack {
	if !s.Keeps() {
		return nil
	}
	var all []Slack
	add := func(name string, home, to float64, risks func(x float64) (needless, missed float64)) {
		last, whole, ok := HoldsTo(home, to, func(x float64) bool {
			if x == home {
				return true // that is the plan itself
			}
			n, m := risks(x)
			return n <= s.NeedlessRisk+plans.Slack && m <= s.MissedRisk+plans.Slack
		})
		if ok && !whole {
			all = append(all, Slack{name, home, last})
		}
	}
	add("overlooked", 0, mostMisread, func(x float64) (float64, float64) { return Slip{Overlooked: x}.family(s).risks(s) })
	if s.Measure == plans.ShareInfested {
		add("false_alarm", 0, mostMisread, func(x float64) (float64, float64) { return Slip{FalseAlarm: x}.family(s).risks(s) })
	}
	d, home := ownDegree(s), homeRange(s)
	clumped := func(x float64) (float64, float64) { return d.family(s, x).risks(s) }
	if s.Measure == plans.ShareInfested {
		add(d.name, home.High, topRho, clumped)
		return all
	}
	law := s.Law()
	if !law.FollowsLevel() {
		add(d.name, home.Low, home.Low/20, clumped)
	}
	// For independent leaves the plan itself says at which correlation it breaks.
	if !s.Independent() {
		if kept, breaks := s.CountRhoSlack(); !math.IsInf(breaks, 1) {
			all = append(all, Slack{countRho, law.CountRho.High, kept})
		}
	}
	return all
}
