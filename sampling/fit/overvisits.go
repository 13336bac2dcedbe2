package fit

import (
	"fmt"
	"math"

	"stopwise/sampling"
)

// OverVisits is a constant of clumping from the visits of a season.
type OverVisits struct {
	// Visits are those that carry the constant: with two stops, and the pest found.
	Fields, Visits, Stops int

	// Estimate is by the likelihood over visits, with its profile-likelihood
	// interval; see [FitOverVisits].
	Estimate

	logLik curve
}

// A ClumpFamily gives the field situation of a level where the constant of
// clumping is c, from 0 (no clumping) to below 1.
type ClumpFamily func(c, level float64) sampling.Population

// FitOverVisits fits one constant of clumping to visits, each with a level of its
// own. How levels are spread over the visits is fitted along with it, without a
// form ([Laird 1978]); visits that found nothing count as well.
//
// Visits that ended early need no correction: given what was seen so far, whether
// the scout walks on does not depend on the constant, so that the likelihood is
// that of a fixed number of stops. This would not hold for the share of each visit
// taken by itself: a visit that acts shows too much, one that leaves too little.
//
// Visits count as independent given their levels, as they are where every visit
// starts its route anew.
//
// [Laird 1978]: J. Am. Stat. Assoc. 73: 805-811, Nonparametric maximum likelihood
// estimation of a mixing distribution
func FitOverVisits(visits []Visit, scale Scale, family ClumpFamily, confidence float64) (OverVisits, error) {
	var out OverVisits
	if err := checkConfidence(confidence); err != nil {
		return out, err
	}
	set, err := newVisitSet(visits)
	if err != nil {
		return out, err
	}
	fields := map[int]bool{}
	for _, v := range visits {
		if v.carries() {
			fields[v.Field] = true
			out.Visits++
			out.Stops += len(v.Stops)
		}
	}
	if out.Fields = len(fields); out.Visits == 0 {
		out.Estimate = missing("no visit has 2 stops and found the pest")
		return out, nil
	}
	levels := scale.places()
	var m mixture
	out.logLik = interpolated(func(c float64) float64 {
		return m.fit(set.logLiks(levels, func(level float64) sampling.Population { return family(c, level) }), set.times)
	})
	out.Estimate = estimateOf(out.logLik, confidence)
	return out, nil
}

// PoolOverVisits returns one constant for several sets of visits, such as those of
// the stages, each with its own spread of levels, and the likelihood-ratio test
// that the sets share it.
func PoolOverVisits(sets []OverVisits, confidence float64) (OverVisits, Test, error) {
	var out OverVisits
	if err := checkConfidence(confidence); err != nil {
		return out, Test{}, err
	}
	var curves []curve
	apart := 0.0
	for _, s := range sets {
		if !s.Known() {
			continue
		}
		curves = append(curves, s.logLik)
		apart += s.logLik.value(s.Value)
		out.Visits += s.Visits
		out.Stops += s.Stops
		out.Fields = max(out.Fields, s.Fields)
	}
	if len(curves) == 0 {
		out.Estimate = missing("no visit has 2 stops and found the pest")
		return out, noTest("%s", out.Missing), nil
	}
	sum := func(of func(curve) float64) (total float64) {
		for _, c := range curves {
			total += of(c)
		}
		return total
	}
	out.logLik = curve{
		value: func(x float64) float64 { return sum(func(c curve) float64 { return c.value(x) }) },
		slope: func(x float64) float64 { return sum(func(c curve) float64 { return c.slope(x) }) },
	}
	out.Estimate = estimateOf(out.logLik, confidence)
	same := noTest("there is one stage that says anything")
	if len(curves) > 1 {
		same = chiSquareTest(2*(apart-out.logLik.value(out.Value)), len(curves)-1)
	}
	return out, same, nil
}

// middleK is the k of the constant 0.5 in [KOf].
const middleK = 0.2

// KOf returns the k for a constant of clumping from 0 to below 1, middleK/(middleK + k);
// it is +Inf at 0, where nothing is clumped.
func KOf(c float64) float64 {
	if c <= 0 {
		return math.Inf(1)
	}
	return middleK * (1 - c) / c
}

// AsK returns the estimate of k of one of [KOf]: the ends change places.
func (e Estimate) AsK() Estimate {
	if !e.Known() {
		return e
	}
	k := Estimate{Value: KOf(e.Value), SE: math.NaN(), Lower: KOf(e.Upper), Upper: KOf(e.Lower)}
	if math.IsInf(k.Value, 1) {
		k.Value, k.Missing = math.NaN(), fmt.Sprintf("%s: the stops vary no more than unclumped insects would make them", NoClumping)
	}
	return k
}
