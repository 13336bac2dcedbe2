package rule

import (
	"errors"
	"fmt"
	"math"

	"stopwise/sampling"
)

// A LinePair is a pair of parallel decision lines on the running total S after n
// units: leave when S <= Slope n - LeaveGap, act when S >= Slope n + ActGap.
type LinePair struct {
	Slope    float64 `json:"slope"`     // per unit
	LeaveGap float64 `json:"leave_gap"` // h1
	ActGap   float64 `json:"act_gap"`   // h2
}

// BinomialLines returns Wald's lines for shares infested lower < upper, with
// g = ln[p1(1-p0)/(p0(1-p1))]:
//
//	slope = ln[(1-p0)/(1-p1)]/g   h1 = ln[(1-alpha)/beta]/g   h2 = ln[(1-beta)/alpha]/g
//
// The lines' risks hold approximately, and only for independent plants taken
// one at a time. Wald, A. (1947) Sequential Analysis, Wiley, 5.3; the same
// formulas stand in the NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.6.
func BinomialLines(lower, upper, needlessRisk, missedRisk float64) (LinePair, error) {
	if !(lower > 0 && lower < upper && upper < 1) {
		return LinePair{}, fmt.Errorf("rule: bounds %g and %g; lines need 0 < lower < upper < 1", lower, upper)
	}
	g := math.Log(upper*(1-lower)) - math.Log(lower*(1-upper))
	slope := (math.Log1p(-lower) - math.Log1p(-upper)) / g
	return gaps(slope, g, needlessRisk, missedRisk)
}

// CountLines returns Wald's lines for mean counts per unit lower < upper, of a
// negative binomial with parameter k per unit, or a Poisson for k = +Inf.
//
// Oakland, G.B. (1950) An application of sequential analysis to whitefish
// sampling. Biometrics 6: 59-67. Waters, W.E. (1955) Sequential sampling in
// forest insect surveys. Forest Sci. 1: 68-79.
func CountLines(lower, upper, k, needlessRisk, missedRisk float64) (LinePair, error) {
	if !(lower > 0 && lower < upper) || math.IsInf(upper, 1) {
		return LinePair{}, fmt.Errorf("rule: bounds %g and %g; lines need 0 < lower < upper", lower, upper)
	}
	if !(k > 0) {
		return LinePair{}, fmt.Errorf("rule: k %g, must be above 0", k)
	}
	if math.IsInf(k, 1) {
		g := math.Log(upper / lower)
		return gaps((upper-lower)/g, g, needlessRisk, missedRisk)
	}
	// Logarithms of 1 + x keep their digits for small k, and for large k, where the
	// lines become Poisson's.
	g := math.Log1p(k / (upper + k) * (upper - lower) / lower)
	slope := k * math.Log1p((upper-lower)/(lower+k)) / g
	return gaps(slope, g, needlessRisk, missedRisk)
}

// NormalLines returns Wald's lines for stops whose worth follows no law of the
// textbooks: for totals that are about normal, with the means m0 < m1 of a stop in a
// field at the lower and one at the upper bound and the mean of their variances v,
//
//	slope = (m0+m1)/2   gaps = v/(m1-m0) ln[(1-beta)/alpha] and ln[(1-alpha)/beta]
//
// per stop. They are a place to start from. Wald, A. (1947) Sequential Analysis, 7.2.
func NormalLines(lower, upper sampling.StopTotal, alpha, beta float64) (LinePair, error) {
	gap := upper.Mean() - lower.Mean()
	if !(gap > 0) {
		return LinePair{}, errors.New("rule: a stop at the upper bound counts no more than one at the lower")
	}
	return gaps((lower.Mean()+upper.Mean())/2, 2*gap/(lower.Variance()+upper.Variance()), alpha, beta)
}

func gaps(slope, g, alpha, beta float64) (LinePair, error) {
	if !(alpha > 0 && beta > 0 && alpha+beta < 1) {
		return LinePair{}, fmt.Errorf("rule: risks %g and %g; they must be above 0 and sum to less than 1", alpha, beta)
	}
	if !(g > 0) || math.IsInf(g, 1) {
		return LinePair{}, errors.New("rule: the bounds are too close together or too far apart to compute with")
	}
	return LinePair{
		Slope:    slope,
		LeaveGap: (math.Log1p(-alpha) - math.Log(beta)) / g,
		ActGap:   (math.Log1p(-beta) - math.Log(alpha)) / g,
	}, nil
}

// NearInteger is how close to an integer a line counts as being on it.
const NearInteger = 1e-9

// LeaveAt returns the leave number after n units: the largest total on or below
// the lower line, or NeverLeave.
func (l LinePair) LeaveAt(n int) int {
	return max(NeverLeave, Int(math.Floor(l.Slope*float64(n)-l.LeaveGap+NearInteger)))
}

// ActAt returns the act number after n units: the smallest total on or above the
// upper line.
func (l LinePair) ActAt(n int) int {
	return max(0, Int(math.Ceil(l.Slope*float64(n)+l.ActGap-NearInteger)))
}

// Int converts a whole number; one that no int can hold becomes a number that
// no total reaches.
func Int(x float64) int {
	const far = 1 << 53
	return int(max(-far, min(x, far)))
}

// Table groups the lines by stops of units units, with no verdict before stop
// minimum and always one at stop maximum, where the field is left when the total
// is on or below the line through the origin. bounded says that no unit can
// count for more than one, so that an act number above the units seen means
// never.
func (l LinePair) Table(units, minimum, maximum int, bounded bool) Table {
	t := Table{Units: units, Leave: make([]int, maximum), Act: make([]int, maximum)}
	last := Int(math.Floor(l.Slope*float64(units*maximum) + NearInteger))
	for j := 1; j <= maximum; j++ {
		n := units * j
		a, r := NeverLeave, NeverAct
		if j >= minimum {
			// The last stop's numbers cap the earlier ones: a total that must
			// bring a verdict at the last stop brings it at once.
			a, r = min(l.LeaveAt(n), last), min(l.ActAt(n), last+1)
		}
		if j == maximum {
			a, r = last, last+1
		}
		if bounded && r > n && j < maximum {
			r = NeverAct
		}
		t.Leave[j-1], t.Act[j-1] = a, r
	}
	return t
}

// WaldPoint is a point of Wald's approximate curves.
type WaldPoint struct {
	Level float64 // true level
	Leave float64 // approximate P(leave)
	Units float64 // approximate expected units
}

// WaldPoints returns Wald's textbook approximations at the lower bound, at the
// slope and at the upper bound, where they have a closed form. They are for
// comparison only: they neglect the overshoot of the lines, the grouping into
// stops, the last stop, and clumping. (Wald 1947, 3.4 and 3.6.)
func (l LinePair) WaldPoints(lower, upper, alpha, beta float64, pop func(level float64) sampling.Population) []WaldPoint {
	h1, h2, s := l.LeaveGap, l.ActGap, l.Slope
	mid := h2 / (h1 + h2)
	drift := func(level, leave float64) float64 {
		return ((1-leave)*h2 - leave*h1) / (level - s)
	}
	return []WaldPoint{
		{lower, 1 - alpha, drift(lower, 1-alpha)},
		{s, mid, h1 * h2 / pop(s).Stop(1).Variance()},
		{upper, beta, drift(upper, beta)},
	}
}
