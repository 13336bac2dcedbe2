package sampling

import (
	"math"
)

// An Interval is a confidence interval.
type Interval struct {
	Lower, Upper float64
	Confidence   float64 // in (0, 1), for example 0.95
}

// CheckConfidence returns an error unless 0 < c < 1.
func CheckConfidence(c float64) error {
	if !(c > 0 && c < 1) {
		return Refuse("confidence", c, "between 0 and 1")
	}
	return nil
}

// Wilson returns the score interval for a share, from infested out of plants,
// which need not be whole: for clumped stops pass both divided by the design
// effect (see [EffectiveSize]).
//
// Wilson, E.B. (1927) Probable inference, the law of succession, and
// statistical inference. J. Am. Stat. Assoc. 22: 209-212.
func Wilson(infested, plants, confidence float64) Interval {
	if plants <= 0 {
		return Interval{0, 1, confidence}
	}
	z := CriticalNormal(confidence)
	p, z2 := infested/plants, z*z
	center := (p + z2/(2*plants)) / (1 + z2/plants)
	half := z / (1 + z2/plants) * math.Sqrt(p*(1-p)/plants+z2/(4*plants*plants))
	in := Interval{math.Max(0, center-half), math.Min(1, center+half), confidence}
	if infested == 0 {
		in.Lower = 0
	}
	if infested == plants {
		in.Upper = 1
	}
	return in
}

// EffectiveSize returns how many independent plants tell as much as the plants
// seen at stops of the given sizes, where each stop is weighted by its plants
// over its design effect: the sum of these (Kish, L. 1965, Survey Sampling). For
// an estimate that pools the plants of all stops see [PooledEffectiveSize].
func EffectiveSize(plants []int, rho float64) float64 {
	n := 0.0
	for _, m := range plants {
		n += float64(m) / DesignEffect(m, rho)
	}
	return n
}

// PooledEffectiveSize returns how many independent plants tell as much as the
// plants seen at stops of the given sizes, where the estimate is all infested
// over all plants:
//
//	n^2 / sum(m deff(m)),  n = sum m
//
// since that estimate has variance p(1-p) sum(m deff(m))/n^2. It is that of
// [EffectiveSize] where all stops have the same size, and less otherwise.
// No plants are worth 0. (Cochran, W.G. 1977, Sampling Techniques, ch. 9.)
func PooledEffectiveSize(plants []int, rho float64) float64 {
	n, spread := 0.0, 0.0
	for _, m := range plants {
		n += float64(m)
		spread += float64(m) * DesignEffect(m, rho)
	}
	if n == 0 {
		return 0
	}
	return n * n / spread
}
