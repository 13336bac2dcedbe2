package size

import (
	"cmp"
	"math"

	"stopwise/sampling"
)

// A ProportionRequest asks for the stops that estimate a share infested to a
// wanted precision.
type ProportionRequest struct {
	// Share is the share infested that is expected, above 0 and below 1. 0.5 is
	// the most demanding for a half-width.
	Share float64
	// HalfWidth is the wanted half-width of the confidence interval, in shares:
	// 0.05 is plus or minus five points. Above 0 and below 0.5. Give this or
	// Relative.
	HalfWidth float64
	// Relative is the wanted half-width as a fraction of Share, above 0 and at
	// most 1.
	Relative float64
	// Confidence of the interval, above 0 and below 1.
	Confidence float64
	// PlantsPerStop is at least 1.
	PlantsPerStop int
	// Rho is the intraclass correlation, 0 <= Rho < 1.
	Rho float64
	// FieldPlants is the number of plants in the field; 0 is very many.
	FieldPlants int
	// Interval is the method of the exact route; the zero value is Wilson's.
	Interval sampling.Method
}

// A ProportionResult answers a [ProportionRequest] by two routes.
type ProportionResult struct {
	Request ProportionRequest
	// HalfWidth is the requested half-width, in shares.
	HalfWidth    float64
	DesignEffect float64
	// Normal is the textbook answer from the normal approximation.
	Normal ProportionDesign
	// UnroundedPlants is the textbook answer before it is rounded up to whole
	// stops.
	UnroundedPlants float64
	// Exact is the smallest number of stops whose expected half-width, over the
	// exact distribution of the total, meets the request. It is nil where more
	// than [MaxPlants] plants are needed.
	Exact       *ProportionDesign
	Sensitivity Sensitivity
}

// A ProportionDesign is a number of stops and what it reaches.
type ProportionDesign struct {
	Stops  int
	Plants int
	// NormalHalfWidth is z standard errors.
	NormalHalfWidth float64
	// ExpectedHalfWidth is the half-width of the interval averaged over the
	// exact distribution of the total, and Coverage the exact chance that the
	// interval contains Share. Both are NaN above [MaxPlants]; Coverage is NaN in
	// a finite field too, short of all its plants, as its totals are spread less.
	ExpectedHalfWidth float64
	Coverage          float64
}

// Proportion returns how many stops estimate a share to a half-width d.
//
// The normal route is n = z^2 p(1-p)/d^2 times the design effect, and
// n/(1 + (n-1)/N) in a field of N plants, rounded up to whole stops.
//
// The exact route takes the distribution of the total over the stops (binomial
// or beta-binomial) and the interval at the effective sample size n/deff (times
// (N-1)/(N-n) in a field of N plants), and finds the fewest stops at which the
// expected half-width is at most d.
//
// Cochran, W.G. (1977) Sampling Techniques, 3rd ed., 4.4, 9.4 and 9.7; from memory. Kish, L.
// (1965) Survey Sampling, 5.4.
func Proportion(r ProportionRequest) (ProportionResult, error) {
	if err := r.check(); err != nil {
		return ProportionResult{}, err
	}
	n := r.unrounded()
	if n > math.MaxInt32-MaxPlants {
		return ProportionResult{}, sampling.Refusef("half-width %s takes %.3g plants, must be wide enough for %d plants", percent(r.halfWidth()), n, math.MaxInt32-MaxPlants)
	}
	stops := wholeStops(n, r.PlantsPerStop)
	res := ProportionResult{
		Request:         r,
		HalfWidth:       r.halfWidth(),
		DesignEffect:    sampling.DesignEffect(r.PlantsPerStop, r.Rho),
		UnroundedPlants: n,
	}
	var err error
	if res.Normal, err = r.design(stops); err != nil {
		return res, err
	}
	exact, err := r.exactStops(stops)
	if err != nil {
		return res, err
	}
	if exact > 0 {
		d, err := r.design(exact)
		if err != nil {
			return res, err
		}
		res.Exact = &d
	}
	res.Sensitivity, err = r.sensitivity(res)
	return res, err
}

// At returns what a given number of stops reaches; HalfWidth and Relative play no
// part.
func (r ProportionRequest) At(stops int) (ProportionDesign, error) {
	if err := cmp.Or(r.checkSample(), checkStops(stops, r.PlantsPerStop)); err != nil {
		return ProportionDesign{}, err
	}
	return r.design(stops)
}

func (r ProportionRequest) check() error {
	if err := cmp.Or(r.checkSample(), r.checkPrecision()); err != nil {
		return err
	}
	if n := r.FieldPlants; n > 0 && r.halfWidth() < 0.5/float64(n) {
		return sampling.Refusef("half-width %s is finer than one plant in a field of %s, must be at least %s", percent(r.halfWidth()), plural(n, "plant"), percent(0.5/float64(n)))
	}
	return nil
}

func (r ProportionRequest) checkSample() error {
	if !(r.Share > 0 && r.Share < 1) {
		return sampling.RefuseShare("expected share", r.Share, "above 0% and below 100%")
	}
	if n := r.FieldPlants; n > 0 && n < r.PlantsPerStop {
		return sampling.Refusef("a field of %s, must hold at least one stop of %d", plural(n, "plant"), r.PlantsPerStop)
	}
	return cmp.Or(checkConfidence(r.Confidence), checkPlantsPerStop(r.PlantsPerStop), checkRho(r.Rho), checkFieldPlants(r.FieldPlants))
}

func (r ProportionRequest) checkPrecision() error {
	switch {
	case r.HalfWidth != 0 && r.Relative != 0:
		return sampling.Refusef("both a half-width %s and a relative precision %s, must be one of them", percent(r.HalfWidth), percent(r.Relative))
	case r.Relative != 0:
		if !(r.Relative > 0 && r.Relative <= 1) {
			return sampling.RefuseShare("relative precision", r.Relative, "above 0% and at most 100%")
		}
		if r.halfWidth() >= 0.5 {
			return sampling.Refusef("relative precision %s of share %s is a half-width of %s, must be below 50%%", percent(r.Relative), percent(r.Share), percent(r.halfWidth()))
		}
	case r.HalfWidth == 0:
		return sampling.Refusef("half-width 0%% would take every plant of the field, must be above 0%% and below 50%%")
	case !(r.HalfWidth > 0 && r.HalfWidth < 0.5):
		return sampling.RefuseShare("half-width", r.HalfWidth, "above 0% and below 50%")
	}
	return nil
}

func (r ProportionRequest) halfWidth() float64 {
	if r.Relative != 0 {
		return r.Relative * r.Share
	}
	return r.HalfWidth
}

// unrounded returns the plants of the normal route.
func (r ProportionRequest) unrounded() float64 {
	z, d := sampling.CriticalNormal(r.Confidence), r.halfWidth()
	n := z * z * r.Share * (1 - r.Share) / (d * d) * sampling.DesignEffect(r.PlantsPerStop, r.Rho)
	if r.FieldPlants > 0 {
		n /= 1 + (n-1)/float64(r.FieldPlants)
	}
	return n
}

// plants returns the plants of a number of stops: never more than the field has.
func (r ProportionRequest) plants(stops int) int {
	n := stops * r.PlantsPerStop
	if r.FieldPlants > 0 {
		n = min(n, r.FieldPlants)
	}
	return n
}

// effective returns how many independent plants of a very large field tell as
// much as the stops.
func (r ProportionRequest) effective(stops int) float64 {
	n := float64(r.plants(stops))
	eff := n / sampling.DesignEffect(r.PlantsPerStop, r.Rho)
	if r.FieldPlants > 0 {
		N := float64(r.FieldPlants)
		eff *= (N - 1) / (N - n)
	}
	return eff
}

func (r ProportionRequest) normalHalfWidth(stops int) float64 {
	z := sampling.CriticalNormal(r.Confidence)
	return z * math.Sqrt(r.Share*(1-r.Share)/r.effective(stops))
}

// census reports whether the stops hold every plant of the field.
func (r ProportionRequest) census(stops int) bool {
	return r.FieldPlants > 0 && r.plants(stops) == r.FieldPlants
}

func (r ProportionRequest) design(stops int) (ProportionDesign, error) {
	d := ProportionDesign{Stops: stops, Plants: r.plants(stops), NormalHalfWidth: r.normalHalfWidth(stops)}
	if r.census(stops) {
		d.NormalHalfWidth, d.ExpectedHalfWidth, d.Coverage = 0, 0, 1
		return d, nil
	}
	var err error
	d.ExpectedHalfWidth, d.Coverage, err = r.expected(stops)
	return d, err
}

// expected returns the expected half-width and the coverage of the interval.
func (r ProportionRequest) expected(stops int) (halfWidth, coverage float64, err error) {
	switch {
	case r.census(stops):
		return 0, 1, nil
	case stops > MaxPlants/r.PlantsPerStop:
		return math.NaN(), math.NaN(), nil
	}
	n := stops * r.PlantsPerStop
	eff := r.effective(stops)
	sum := totalOver(stopTotal(r.Share, r.Rho, r.PlantsPerStop), stops)
	for i, p := range sum.p {
		if p < 1e-18 { // an interval is at most 1 wide: nothing is lost
			continue
		}
		x := float64(sum.from+i) / float64(n) * eff
		in, err := sampling.Proportion(r.Interval, min(x, eff), eff, r.Confidence)
		if err != nil {
			return 0, 0, err
		}
		halfWidth += p * (in.Upper - in.Lower) / 2
		if in.Lower <= r.Share && r.Share <= in.Upper {
			coverage += p
		}
	}
	if r.FieldPlants > 0 {
		// In a finite field totals are less spread than these.
		return halfWidth, math.NaN(), nil
	}
	return halfWidth, min(1, coverage), nil
}

// exactStops returns the fewest stops of the exact route, or 0 where they are
// out of reach. The expected half-width falls with every stop, so a bracket
// around the normal answer is enough.
func (r ProportionRequest) exactStops(guess int) (int, error) {
	limit := MaxPlants / r.PlantsPerStop
	if r.FieldPlants > 0 {
		limit = min(limit, wholeStops(float64(r.FieldPlants), r.PlantsPerStop))
	}
	var failure error
	meets := func(stops int) bool {
		h, _, err := r.expected(stops)
		if err != nil {
			failure = err
		}
		return h <= r.halfWidth()*(1+tie)
	}
	stops := fewest(guess, limit, meets)
	return stops, failure
}

// fewest returns the smallest number in 1..limit that meets a condition which
// holds for every larger number too, or 0 if none does. It starts at guess.
func fewest(guess, limit int, meets func(int) bool) int {
	if guess > limit {
		guess = limit
	}
	if guess < 1 {
		return 0
	}
	lo, hi := 0, guess // lo fails, hi meets
	for step := 1; !meets(hi); step *= 2 {
		if hi == limit {
			return 0
		}
		lo, hi = hi, min(limit, hi+step)
	}
	for step := 1; hi-step > lo; step *= 2 {
		if !meets(hi - step) {
			lo = hi - step
			break
		}
		hi -= step
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; meets(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}
