package rule

import (
	"fmt"
	"math"
	"sort"

	"stopwise/sampling"
)

// A Visit is what must be known of a walk to tell what its end says of the field.
type Visit struct {
	// Steps are those of the walk as it is really walked: with the units seen so
	// far, continued as planned (see [Table.Path]).
	Steps []Step
	// Family returns the field at a level, with everything else held: at the clumped
	// end of what is possible the limits are widest. It is also asked for the field
	// at Low, and at High unless that is +Inf.
	Family func(level float64) sampling.Population
	// Low and High are the range of levels: 0 and 1 for a share, 0 and +Inf for a
	// mean.
	Low, High float64
	// Far, if above 0, is a level beyond which none is told apart where High is
	// +Inf: a limit that lies beyond it is given as +Inf.
	Far float64
	// Order says how much of the pest an end point (stop, units seen in all, total)
	// shows; it must not fall with the total, and what counts as equal must be
	// equal. nil is the share or mean seen, total/units.
	Order func(stop, units, total int) float64
}

// PerStop orders end points by the total per stop, for totals that are not of
// equal units: points, or counts that stop at a cap.
func PerStop(stop, _, total int) float64 { return float64(total) / float64(stop) }

func perUnit(_, units, total int) float64 { return float64(total) / float64(units) }

// Known is what is known of a field's level after a visit.
type Known struct {
	Estimate float64           // median-unbiased
	Interval sampling.Interval // two-sided
	Limit    float64           // one-sided upper limit
	Sure     float64           // the confidence of Limit
}

// Known returns what is known after the walk ended or stands at a stop (from 1)
// with a total. Because a walk that stops early stops where it saw much or little,
// the limits come from the exact chances of all end points that it could have had,
// ordered by what they show. The upper limit of confidence C is the level at which
//
//	P(an end point that shows at most as much as the one seen) = 1 - C
//
// the lower limit that at which P(one that shows at least as much) = 1 - C, and the
// estimate that at which P(at most as much) = 1/2, so that it is above the level
// at least as often as below. Where the total brings no verdict, the end points are
// those of the walk cut off at this stop, at which all open totals are end points
// too. If nothing was seen the lower limit is Low; if no level below High makes
// more likely, the upper one is High. A further sign that can end the visit does
// not change how totals are ordered and is not looked at.
//
// In the family's fields, the limit is below the level in at most 1 - C of visits,
// at every level, and the interval misses it in at most 1 - C, as long as a higher
// level makes end points that show little less likely. That has no proof for all
// walks, but held for all of many thousand drawn at random. In fields less clumped
// than the family's they missed less often in all plans tried, in fields more
// clumped more often; [Visit.Misses] tells how often.
//
// Jennison, C. & Turnbull, B.W. (1983) Confidence intervals for a binomial
// parameter following a multistage test with application to MIL-STD 105D and
// medical trials. Technometrics 25: 49-58. The ordering by the share seen is that
// of Armitage, P. (1958) Numerical studies in the sequential estimation of a
// binomial parameter. Biometrika 45: 1-15. A single stop of independent plants gives
// the interval of Clopper, C.J. & Pearson, E.S. (1934) Biometrika 26: 404-413.
func (v Visit) Known(stop, total int, confidence, sure float64) (Known, error) {
	if err := v.check(stop, total, confidence, sure); err != nil {
		return Known{}, err
	}
	steps := v.endedAt(stop, total)
	key, guess := v.key(stop, total), v.guess(stop, total)
	low := v.below(steps, key, guess)
	up := v.atMost(steps, key, guess)
	tail := (1 - confidence) / 2
	k := Known{Sure: sure, Interval: sampling.Interval{Confidence: confidence}}
	var err error
	for _, s := range []struct {
		at     *float64
		of     *curve
		chance float64
	}{
		{&k.Estimate, up, 0.5}, {&k.Limit, up, 1 - sure},
		{&k.Interval.Upper, up, tail}, {&k.Interval.Lower, low, 1 - tail},
	} {
		if *s.at, err = s.of.level(s.chance); err != nil {
			return Known{}, err
		}
	}
	return k, nil
}

// FarBeyond times a stage's upper bound, or the mean seen, no mean is told from a larger one.
const FarBeyond = 20

// Told is [Visit.Known] within what can be followed: insects far beyond the numbers of
// the steps are not followed exactly; the estimate is then the mean seen, and there is
// no upper limit (+Inf).
func (v Visit) Told(stop, total int, confidence, sure float64) (Known, error) {
	most, units := total, 0
	for _, step := range v.Steps[:stop] {
		units += step.Units
	}
	if math.IsInf(v.High, 1) {
		most = mostTold(v.Steps, stop)
		v.Far = math.Max(v.Far, FarBeyond/4*float64(min(total, most)+4)/float64(units))
	}
	k, err := v.Known(stop, min(total, most), confidence, sure)
	if total > most {
		k.Estimate, k.Limit, k.Interval.Upper = float64(total)/float64(units), math.Inf(1), math.Inf(1)
	}
	return k, err
}

// mostTold returns the largest total of insects at a stop (from 1) that is
// followed exactly.
func mostTold(steps []Step, stop int) int {
	const least = 5000
	for _, step := range steps[stop-1:] {
		if step.Act != NeverAct {
			return max(least, 2*step.Act)
		}
	}
	return least
}

func (v Visit) check(stop, total int, confidences ...float64) error {
	for _, c := range confidences {
		if err := sampling.CheckConfidence(c); err != nil {
			return err
		}
	}
	switch {
	case !(v.Low >= 0 && v.Low < v.High) || math.IsInf(v.Low, 1):
		return fmt.Errorf("rule: levels from %g to %g, must rise from 0 or more", v.Low, v.High)
	case stop < 1 || stop > len(v.Steps):
		return fmt.Errorf("rule: stop %d of a walk of %d stops", stop, len(v.Steps))
	case total < 0:
		return fmt.Errorf("rule: total %d, must be 0 or more", total)
	}
	return nil
}

// endedAt returns the steps whose end points count for a walk that is at a stop.
func (v Visit) endedAt(stop, total int) []Step {
	if s := v.Steps[stop-1]; Read(total, s.Leave, s.Act) == Continue {
		return CutOff(v.Steps, stop)
	}
	return v.Steps
}

func (v Visit) order() func(stop, units, total int) float64 {
	if v.Order == nil {
		return perUnit
	}
	return v.Order
}

func (v Visit) key(stop, total int) float64 {
	return v.order()(stop, unitsTo(v.Steps, stop), total)
}

// guess returns a level to start looking from.
func (v Visit) guess(stop, total int) float64 {
	at := (float64(total) + 0.5) / (float64(unitsTo(v.Steps, stop)) + 1)
	if !math.IsInf(v.High, 1) {
		at = v.Low + (v.High-v.Low)*min(at, 0.99)
	}
	return at
}

func unitsTo(steps []Step, stop int) int {
	units := 0
	for _, s := range steps[:stop] {
		units += s.Units
	}
	return units
}

// atMost returns the chance, by level, of an end point that shows at most key.
func (v Visit) atMost(steps []Step, key, guess float64) *curve {
	return v.curve(steps, guess, func(shown float64) bool { return shown <= key })
}

// below returns the chance, by level, of an end point that shows less than key.
func (v Visit) below(steps []Step, key, guess float64) *curve {
	return v.curve(steps, guess, func(shown float64) bool { return shown < key })
}

func (v Visit) curve(steps []Step, guess float64, counts func(shown float64) bool) *curve {
	cuts := make([]int, len(steps))
	order, units := v.order(), 0
	for j, s := range steps {
		units += s.Units
		above := func(x int) bool { return !counts(order(j+1, units, x)) }
		const far = 1 << 40
		top := 1
		for top < far && !above(top) {
			top *= 2
		}
		cuts[j] = sort.Search(top, above) - 1
	}
	return &curve{
		low: v.Low, high: v.High, far: v.Far, start: guess, step: 0.5,
		chance: func(level float64) float64 { return within(steps, cuts, v.Family(level)) },
	}
}
