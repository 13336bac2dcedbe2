package plans

import (
	"cmp"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Known is what is known of a field after a visit.
type Known = rule.Known

// knownConfidence is the confidence of an answer's interval.
const knownConfidence = 0.95

// Sure returns the confidence of the one-sided upper limit from which the pest is
// taken to grow: the protocol's, or the usual one.
func (s *StagePlan) Sure() float64 {
	if s.ComingBack == nil {
		return DefaultComingBack.Confidence
	}
	return cmp.Or(s.ComingBack.Confidence, DefaultComingBack.Confidence) // 0 in older plans
}

// Visit returns a walk by the plan whose first stops have the given plants, and
// what it can tell of a field that is as clumped as the plan takes fields to be
// at most: [rule.Visit.Known] and [rule.Visit.Misses] tell it.
func (s *StagePlan) Visit(plants ...int) rule.Visit {
	units := make([]int, len(plants))
	for i, m := range plants {
		units[i] = s.Units(m)
	}
	return rule.Visit{
		Steps: s.Worth.Path(s.Table, units), High: s.Measure.Top(), Far: rule.FarBeyond * s.Upper,
		Family: func(level float64) sampling.Population { return s.Worth.Of(s.Clumped(level).Population()) },
		Order:  s.Worth.Order(),
	}
}

// Known returns what is known of the field after an answer's visit: the one place
// from which estimates, limits and the next visit come. A walk that may stop early
// stops where it saw much or little, so that the share or mean seen leans away
// from the threshold; here estimate and limits come from the exact chances of all
// ends that the walk could have had. Stops after the verdict do not count, as they
// do not for the verdict.
//
// In fields as clumped as the clumped end of the plan's range, the limit of
// confidence sure is below the level in at most 1 - sure of all visits, and the
// interval misses it in at most 1 - confidence; in less clumped ones they missed
// less often wherever it was tried. Both are said of all visits, whatever their
// verdict: of those that end with leave alone, a larger part may miss.
//
// Insects far beyond the numbers of the plan are not followed exactly: the
// estimate is then the mean seen, and there is no upper limit (+Inf).
func (s *StagePlan) Known(a Answer, confidence, sure float64) (Known, error) {
	return s.Visit(a.ToldPlants...).Told(len(a.ToldPlants), a.ToldTotal, confidence, sure)
}

// ReturnLimits returns the upper limit of the level, of the confidence of
// [StagePlan.Sure], after the ends of a walk with the planned plants: after every
// end with leave, and, except where insects are added up, also after every total at
// which a walk can be given up. Totals that bring the same next visits are taken together: of each run
// at a stop the largest total stands, whose limit is the highest. It is empty
// where the protocol does not say when to come back.
func (s *StagePlan) ReturnLimits() ([]rule.Limit, error) {
	if s.ComingBack == nil {
		return nil, nil
	}
	v := s.Visit()
	var limits []rule.Limit
	var err error
	at := func(stop, total int) rule.Limit {
		limit, e := v.Limit(stop, total, s.Sure())
		if e != nil && err == nil {
			err = e
		}
		return rule.Limit{Stop: stop, Total: total, Verdict: s.Table.Verdict(stop, total), Upper: limit}
	}
	var split func(low, high rule.Limit)
	split = func(low, high rule.Limit) {
		switch {
		case s.sameReturn(low.Upper, high.Upper):
			limits = append(limits, high)
		case high.Total == low.Total+1:
			limits = append(limits, low, high)
		default:
			middle := at(low.Stop, (low.Total+high.Total)/2)
			if s.sameReturn(low.Upper, middle.Upper) {
				limits = append(limits, middle)
			} else {
				split(low, middle)
			}
			split(at(low.Stop, middle.Total+1), high)
		}
	}
	base := 0 // the smallest total with which a walk comes to a stop
	for j, leave := range s.Table.Leave {
		runs := [][2]int{{base, leave}}
		if s.mostAt(s.Table.Units) != NeverAct {
			runs = append(runs, [2]int{max(base, leave+1), min(s.Table.Act[j]-1, (j+1)*s.mostAt(s.Table.Units))})
		}
		for _, r := range runs {
			if r[0] <= r[1] {
				split(at(j+1, r[0]), at(j+1, r[1]))
			}
		}
		base = max(base, leave+1)
	}
	return limits, err
}

// sameReturn reports whether two upper limits bring the same next visit.
func (s *StagePlan) sameReturn(a, b float64) bool {
	for _, last := range []Last{LastNone, LastFound} {
		x, y := s.revisit(a, last, nil), s.revisit(b, last, nil)
		if x.Days != y.Days || x.Rule != y.Rule || x.Stage != y.Stage {
			return false
		}
	}
	return true
}

// RevisitByFixedStops returns the next visit by the rule of older versions, which
// took the stops as fixed beforehand and counted those after the verdict too: by it,
// answers that were given then can be looked over.
func (s *StagePlan) RevisitByFixedStops(a Answer, counts []Count, h History) *Revisit {
	if s.ComingBack == nil {
		return nil
	}
	plants := make([]int, len(counts))
	for i, c := range counts {
		plants[i] = cmp.Or(c.Plants, s.Plants())
	}
	limit := s.Interval(a.Seen(s), plants, 2*s.Sure()-1).Upper
	return s.revisit(limit, s.ComingBack.Last(h.found() || a.Total > 0, a.Seen(s)), h.InStage)
}
