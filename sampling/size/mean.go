package size

import (
	"fmt"
	"math"
	"strconv"

	"stopwise/sampling"
)

// A Convention says what a relative precision D means. Two are in use, and a
// D of one is a different sample size in the other.
type Convention int

const (
	_ Convention = iota // no default: the two are never mixed silently

	// HalfWidth is D = z SE / mean: the half-width of the confidence interval
	// over the mean.
	HalfWidth
	// StandardError is D = SE / mean.
	StandardError
)

// String returns "half-width" or "standard-error".
func (c Convention) String() string {
	switch c {
	case HalfWidth:
		return "half-width"
	case StandardError:
		return "standard-error"
	}
	return fmt.Sprintf("Convention(%d)", int(c))
}

// ParseConvention returns the convention named half-width or standard-error.
func ParseConvention(name string) (Convention, error) {
	for _, c := range []Convention{HalfWidth, StandardError} {
		if c.String() == name {
			return c, nil
		}
	}
	return 0, sampling.Refusef("precision convention %q, must be half-width (z SE / mean) or standard-error (SE / mean)", name)
}

// Components are the variances of a two-stage sample, in squared counts per
// unit.
type Components struct {
	Between float64 // variance of the true means of stops, 0 or more
	Within  float64 // variance of units within a stop, 0 or more
}

// A MeanRequest asks for the stops that estimate a mean count to a wanted
// relative precision.
type MeanRequest struct {
	// Mean is the expected mean per unit (leaf or plant), above 0.
	Mean float64
	// Precision is D, above 0 and below 1; Convention says what it means and has
	// no default.
	Precision  float64
	Convention Convention
	// Confidence sets z, above 0 and below 1. It is needed for HalfWidth and
	// must be 0 for StandardError, which has no z.
	Confidence float64
	// Law is the variance per unit; or Components gives it by stages.
	Law        sampling.VarianceLaw
	Components *Components
	// UnitsPerStop is at least 1.
	UnitsPerStop int
	// CountRho is the correlation of the counts of two units at one stop, from 0
	// to [sampling.MaxCountRho]. It must be 0 with Components, which say it
	// themselves.
	CountRho float64
}

// A MeanResult answers a [MeanRequest].
type MeanResult struct {
	Request MeanRequest
	// UnitVariance is the variance per unit that was used, and DesignEffect what
	// alike units of a stop do to it.
	UnitVariance float64
	DesignEffect float64
	// Unrounded is the number of units before rounding up to whole stops.
	Unrounded float64
	Stops     int
	Units     int
	// Reached is D at these stops, in the requested convention, and
	// ReachedStandardError is SE/mean.
	Reached              float64
	ReachedStandardError float64
	// ReachedStudent is t SE/mean, with t on Stops-1 degrees of freedom: what
	// remains when the variance has to be judged from these stops themselves.
	// It is NaN for a standard error or a single stop.
	ReachedStudent float64
	// Within is the exact chance that the estimate falls within Precision of
	// the mean. It is NaN unless the convention is HalfWidth and Law is
	// [sampling.CommonK].
	Within float64
	// SpentAt is the correlation of the counts of a stop up to which Stops reach
	// Precision; +Inf where a stop is one unit, and with Components.
	SpentAt     float64
	Sensitivity Sensitivity
	// Alike does the same for the correlation of the counts of a stop; it has no
	// rows where a stop is one unit, with Components, and where insects fall at
	// random.
	Alike Sensitivity
}

// Mean returns how many stops estimate a mean to a relative precision D:
//
//	n = (z/D)^2 v(mean)/mean^2
//
// times the design effect 1 + (m-1) CountRho of m units a stop, with z = 1 for the
// standard-error convention, and for a two-stage sample of J stops of m units
//
//	(D mean/z)^2 = Between/J + Within/(J m)
//
// Karandinos, M.G. (1976) Optimum sample size and comments on some published
// formulae. Bull. Entomol. Soc. Am. 22: 417-421. Ruesink, W.G. (1980)
// Introduction to sampling theory, in Kogan & Herzog, Sampling Methods in
// Soybean Entomology. Cochran, W.G. (1977) Sampling Techniques, 10.3.
func Mean(r MeanRequest) (MeanResult, error) {
	if err := r.check(); err != nil {
		return MeanResult{}, err
	}
	n := r.unrounded()
	if n > math.MaxInt32-MaxPlants {
		return MeanResult{}, sampling.Refusef("precision %s takes %.3g units, must be loose enough for %d", percent(r.Precision), n, math.MaxInt32-MaxPlants)
	}
	stops := wholeStops(n, r.UnitsPerStop)
	res := MeanResult{
		Request:              r,
		UnitVariance:         r.unitVariance(),
		DesignEffect:         r.designEffect(),
		Unrounded:            n,
		Stops:                stops,
		Units:                stops * r.UnitsPerStop,
		Reached:              r.reached(stops),
		ReachedStandardError: r.reached(stops) / r.z(),
		ReachedStudent:       math.NaN(),
		Within:               r.within(stops),
		SpentAt:              r.spentAt(stops),
	}
	if r.Convention == HalfWidth && stops > 1 {
		res.ReachedStudent = sampling.CriticalStudent(r.Confidence, float64(stops-1)) * res.ReachedStandardError
	}
	res.Sensitivity, res.Alike = r.sensitivity(stops), r.alike(stops)
	return res, nil
}

func (r MeanRequest) check() error {
	switch {
	case !(r.Mean > 0) || math.IsInf(r.Mean, 1):
		return sampling.Refuse("expected mean", r.Mean, "above 0")
	case r.Convention != HalfWidth && r.Convention != StandardError:
		return sampling.Refusef("no precision convention, must be half-width (z SE / mean) or standard-error (SE / mean)")
	case r.Precision == 0:
		return sampling.Refusef("precision 0%% would take every unit of the field, must be above 0%% and below 100%%")
	case !(r.Precision > 0 && r.Precision < 1):
		return sampling.RefuseShare("precision", r.Precision, "above 0% and below 100%")
	case r.UnitsPerStop < 1 || r.UnitsPerStop > MaxPlants:
		return sampling.Refuse("units per stop", r.UnitsPerStop, fmt.Sprintf("from 1 to %d", MaxPlants))
	case r.Convention == StandardError && r.Confidence != 0:
		return sampling.Refusef("confidence %s with the standard-error convention, which has none; must be left out", percent(r.Confidence))
	case r.Convention == HalfWidth && r.Confidence == 0:
		return sampling.Refusef("no confidence for the half-width convention, must be above 0%% and below 100%%")
	}
	if r.Convention == HalfWidth {
		if err := checkConfidence(r.Confidence); err != nil {
			return err
		}
	}
	return r.checkVariance()
}

func (r MeanRequest) checkVariance() error {
	switch {
	case r.Law == nil && r.Components == nil:
		return sampling.Refusef("no variance, must be k, Poisson, Taylor's a and b, Iwao's A and B, or variance components")
	case r.Law != nil && r.Components != nil:
		return sampling.Refusef("both a variance law (%v) and variance components, must be one of them", r.Law)
	case r.Components != nil:
		c := *r.Components
		if !(c.Between >= 0 && c.Within >= 0 && c.Between+c.Within > 0) || math.IsInf(c.Between+c.Within, 1) {
			return sampling.Refusef("variance components %g between and %g within stops, must be 0 or more and not both 0", c.Between, c.Within)
		}
		if r.CountRho != 0 {
			return sampling.Refusef("correlation of counts %g with variance components, which say it themselves; must be left out", r.CountRho)
		}
		return nil
	}
	if err := r.Law.Check(); err != nil {
		return err
	}
	if v := r.Law.Variance(r.Mean); !(v > 0) || math.IsInf(v, 1) {
		return sampling.Refusef("%v gives variance %s at mean %g, must be above 0: the law does not hold there", r.Law, strconv.FormatFloat(v, 'g', 6, 64), r.Mean)
	}
	_, err := sampling.NewAlikeCounts(r.Mean, r.k(), r.CountRho)
	return err
}

// k returns the negative binomial k of one unit by the law.
func (r MeanRequest) k() float64 { return sampling.KAt(r.Law, r.Mean) }

// z returns the critical value of the convention.
func (r MeanRequest) z() float64 {
	if r.Convention == StandardError {
		return 1
	}
	return sampling.CriticalNormal(r.Confidence)
}

func (r MeanRequest) unitVariance() float64 {
	if c := r.Components; c != nil {
		return c.Between + c.Within
	}
	return r.Law.Variance(r.Mean)
}

// designEffect returns 1 + (m-1) rho, where the components have
// rho = Between/(Between+Within).
func (r MeanRequest) designEffect() float64 {
	rho := r.CountRho
	if c := r.Components; c != nil {
		rho = c.Between / (c.Between + c.Within)
	}
	return sampling.DesignEffect(r.UnitsPerStop, rho)
}

func (r MeanRequest) unrounded() float64 {
	a := r.z() / r.Precision / r.Mean
	return a * a * r.unitVariance() * r.designEffect()
}

// reached returns D at a number of stops.
func (r MeanRequest) reached(stops int) float64 {
	n := float64(stops) * float64(r.UnitsPerStop)
	return r.z() / r.Mean * math.Sqrt(r.unitVariance()*r.designEffect()/n)
}

// spentAt returns the correlation at which so many stops just reach the precision.
func (r MeanRequest) spentAt(stops int) float64 {
	if r.Components != nil || r.UnitsPerStop == 1 {
		return math.Inf(1)
	}
	a := r.Precision * r.Mean / r.z()
	deff := a * a * float64(stops*r.UnitsPerStop) / r.unitVariance()
	return math.Max(r.CountRho, (deff-1)/float64(r.UnitsPerStop-1))
}

// mostAlike is the largest total up to which the chances of stops that have their
// own means are added up: less than a second's work.
const mostAlike = 50_000

// within returns the exact chance that total/n is within Precision of the mean.
func (r MeanRequest) within(stops int) float64 {
	law, ok := r.Law.(sampling.CommonK)
	n := float64(stops * r.UnitsPerStop)
	hi := int(math.Floor(n * r.Mean * (1 + r.Precision) * (1 + tie)))
	if !ok || r.Convention != HalfWidth || hi > 10*MaxPlants || r.CountRho > 0 && hi > mostAlike {
		return math.NaN()
	}
	lo := int(math.Ceil(n * r.Mean * (1 - r.Precision) * (1 - tie)))
	if r.CountRho > 0 {
		one := sampling.AlikeCounts{Mean: r.Mean, K: law.K, Rho: r.CountRho}.Stop(r.UnitsPerStop)
		all := totalOver(total{p: one.Probs(hi), most: hi}.trim(), stops)
		return all.atMost(hi) - all.atMost(lo-1)
	}
	probs := sampling.NegBinomial{Mu: n * r.Mean, K: n * law.K}.Probs(hi)
	if lo > hi {
		return 0
	}
	return sumUp(probs[lo:])
}
