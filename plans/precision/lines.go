package precision

import (
	"math"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A sample is what was examined at stops: units in all, and how many independent
// units tell as much.
type sample struct{ units, effective float64 }

// sampleOf returns the sample of stops with the given plants.
func (s Spec) sampleOf(plants []int) sample {
	units, all := make([]int, len(plants)), 0
	for i, m := range plants {
		units[i] = s.Units(m)
		all += units[i]
	}
	return sample{float64(all), sampling.PooledEffectiveSize(units, s.alike())}
}

func (s Spec) planned(stops int) sample {
	units := float64(stops * s.Units(s.Stop.Plants))
	return sample{units, units / s.deff()}
}

// relativeError returns the standard error of an estimate from a sample, relative
// to it; +Inf for an estimate of 0.
func (s Spec) relativeError(estimate float64, n sample) float64 {
	switch {
	case !(estimate > 0):
		return math.Inf(1)
	case s.Measure == protocol.ShareInfested:
		return math.Sqrt((1 - estimate) / (estimate * n.effective))
	}
	return math.Sqrt(math.Max(0, s.law().Variance(estimate))/n.effective) / estimate
}

// GreenLine returns the cumulative total T at which n units give a mean with a
// standard error of d times the mean, under Taylor's law:
//
//	ln T = ln(d^2/a)/(b-2) + (b-1)/(b-2) ln n
//
// Sampling stops at or above T. It returns false where b is 2 or more: a larger
// mean is then no easier to estimate, and there is no line to stop at.
//
// Green, R.H. (1970) On fixed precision level sequential sampling. Res. Popul.
// Ecol. 12: 249-251.
func GreenLine(law sampling.Taylor, d, n float64) (total float64, ok bool) {
	if law.B >= 2 {
		return math.Inf(1), false
	}
	return math.Exp(math.Log(d*d/law.A)/(law.B-2) + (law.B-1)/(law.B-2)*math.Log(n)), true
}

// KunoLine returns the total of the same meaning under Iwao's law:
//
//	T = (A+1) / (d^2 - (B-1)/n)
//
// It returns false where n is (B-1)/d^2 or less: no total suffices yet.
//
// Kuno, E. (1969) A new method of sequential sampling to obtain the population
// estimates with a fixed level of precision. Res. Popul. Ecol. 11: 127-136.
func KunoLine(law sampling.Iwao, d, n float64) (total float64, ok bool) {
	if over := d*d - (law.B-1)/n; over > 0 {
		return (law.A + 1) / over, true
	}
	return math.Inf(1), false
}

// ShareLine returns the number of infested units T among n at which their share
// has a standard error of d times itself, deff being the design effect of clumped
// stops (1 for independent units):
//
//	T = n deff / (n d^2 + deff)
//
// Kuno, E. (1986) Evaluation of statistical precision and design of efficient
// sampling for the population estimation based on frequency of occurrence. Res.
// Popul. Ecol. 28: 305-319, for deff = 1.
func ShareLine(deff, d, n float64) float64 { return n * deff / (n*d*d + deff) }

// line returns the total at which sampling stops, before rounding up. The lines of
// Green and Kuno are of units drawn one by one: of alike ones, as many as tell as
// much are put into them, and the mean at which they stop is that of all units. For
// with two levels of variance, between stops and within, a mean over stops of m units
// has the variance v [1 + (m-1) rho]/n (Cochran, W.G. 1977, Sampling Techniques, 3rd
// ed., 9.4).
func (s Spec) line(n sample) (float64, bool) {
	var total float64
	var ok bool
	switch {
	case s.Measure == protocol.ShareInfested:
		return ShareLine(n.units/n.effective, s.D(), n.units), true
	case s.Taylor != nil:
		total, ok = GreenLine(sampling.Taylor(*s.Taylor), s.D(), n.effective)
	case s.Iwao != nil:
		total, ok = KunoLine(sampling.Iwao(*s.Iwao), s.D(), n.effective)
	default:
		total, ok = KunoLine(sampling.Iwao{A: 0, B: 1 + 1 / *s.K}, s.D(), n.effective)
	}
	return total * (n.units / n.effective), ok
}

// mostTotal is more than anyone counts: a larger stop number is none.
const mostTotal = 1e9

// stopAt returns the smallest whole total at which a sample suffices, or rule.NeverAct.
func (s Spec) stopAt(n sample) int {
	t, ok := s.line(n)
	if !ok || t > mostTotal {
		return rule.NeverAct
	}
	return max(1, int(math.Ceil(t-rule.NearInteger)))
}
