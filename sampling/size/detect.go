package size

import (
	"cmp"
	"fmt"
	"math"
	"sort"

	"stopwise/sampling"
)

// MaxField is the largest field, in plants, that is counted as finite.
const MaxField = 10_000_000

// A DetectRequest asks for the stops that find a pest if it is there.
type DetectRequest struct {
	// Prevalence is the share infested at which the pest should be found, above
	// 0 and at most 1.
	Prevalence float64
	// Confidence is the wanted chance to find at least one infested plant, above
	// 0 and below 1.
	Confidence float64
	// PlantsPerStop is at least 1.
	PlantsPerStop int
	// Rho is the intraclass correlation, 0 <= Rho < 1. It must be 0 in a finite
	// field, which has no exact answer with clumping.
	Rho float64
	// Seen is the chance that an infested plant is seen to be infested, above 0
	// and at most 1; 0 is 1.
	Seen float64
	// FieldPlants is the number of plants in the field; 0 is very many.
	FieldPlants int
}

// A DetectResult answers a [DetectRequest].
type DetectResult struct {
	Request DetectRequest
	Stops   int
	Plants  int
	// UnroundedPlants is the number of plants before rounding up to whole stops;
	// 0 where plants are alike, since only whole stops count there.
	UnroundedPlants int
	// PoissonPlants is the number by the Poisson approximation of the same
	// standard, for comparison; 0 in a finite field or with clumping.
	PoissonPlants int
	// Infested is the number of infested plants in a finite field, Prevalence of
	// its plants rounded down; otherwise 0.
	Infested int
	// NonePerStop is the chance that a stop shows none; NaN in a finite field.
	NonePerStop float64
	// Reached is the exact chance to find at least one.
	Reached float64
	// Sensitivity is over rho, or over the chance to see in a finite field.
	Sensitivity Sensitivity
}

// Detect returns the fewest stops that find at least one infested plant with the
// wanted confidence C.
//
// Independent plants: n = ceil(ln(1-C)/ln(1 - p e)), e the chance to see. Alike
// plants: J = ceil(ln(1-C)/ln P0), P0 the chance that a stop shows none, the
// mean of (1-e)^X over the beta-binomial X. A finite field of N plants has
// floor(N p) infested ones, and the number found is hypergeometric.
//
// FAO/IPPC (2008) ISPM 31, Methodologies for sampling of consignments. Cannon,
// R.M. & Roe, R.T. (1982) Livestock Disease Surveys: A Field Manual for
// Veterinarians.
func Detect(r DetectRequest) (DetectResult, error) {
	if r.Seen == 0 {
		r.Seen = 1
	}
	if err := r.check(); err != nil {
		return DetectResult{}, err
	}
	res := DetectResult{Request: r, NonePerStop: math.NaN()}
	if r.FieldPlants > 0 {
		if err := r.finite(&res); err != nil {
			return res, err
		}
	} else if err := r.unlimited(&res); err != nil {
		return res, err
	}
	res.Sensitivity = r.sensitivity(res)
	return res, nil
}

func (r DetectRequest) check() error {
	if !(r.Prevalence > 0 && r.Prevalence <= 1) {
		return sampling.RefuseShare("prevalence", r.Prevalence, "above 0% and at most 100%")
	}
	return cmp.Or(checkConfidence(r.Confidence), checkPlantsPerStop(r.PlantsPerStop), checkFinite(r.Rho, r.Seen, r.FieldPlants))
}

// checkFinite checks what [Detect] and [NoneFound] have in common.
func checkFinite(rho, seen float64, field int) error {
	if err := cmp.Or(checkRho(rho), checkFieldPlants(field)); err != nil {
		return err
	}
	switch {
	case !(seen > 0 && seen <= 1):
		return sampling.Refusef("chance %s to see an infested plant, must be above 0%% and at most 100%%", percent(seen))
	case field > MaxField:
		return sampling.Refuse("plants in the field", field, fmt.Sprintf("at most %d, or left out: so many are as good as endless", MaxField))
	case field > 0 && rho > 0:
		return sampling.Refusef("both a field of %s and rho %g, must be one of them: a finite field has no exact answer with clumping", plural(field, "plant"), rho)
	}
	return nil
}

// unlimited answers for a field of very many plants.
func (r DetectRequest) unlimited(res *DetectResult) error {
	n := ceilRatio(math.Log1p(-r.Confidence), math.Log1p(-r.Prevalence*r.Seen))
	res.NonePerStop = nonePerStop(r.Prevalence, r.Rho, r.Seen, r.PlantsPerStop)
	stops := ceilRatio(math.Log1p(-r.Confidence), math.Log(res.NonePerStop))
	if stops*float64(r.PlantsPerStop) > math.MaxInt32 {
		return sampling.Refusef("prevalence %s takes about %.3g plants, must be high enough for %d", percent(r.Prevalence), stops*float64(r.PlantsPerStop), math.MaxInt32)
	}
	res.Stops = int(stops)
	if r.Rho == 0 {
		res.UnroundedPlants = int(n)
		res.Stops = wholeStops(n, r.PlantsPerStop)
		res.PoissonPlants = int(ceilRatio(math.Log1p(-r.Confidence), -r.Prevalence*r.Seen))
	}
	res.Plants = res.Stops * r.PlantsPerStop
	res.Reached = -math.Expm1(float64(res.Stops) * math.Log(res.NonePerStop))
	return nil
}

// ceilRatio returns the smallest whole number of at least 1 that is a/b or more;
// a/0 is left infinite.
func ceilRatio(a, b float64) float64 {
	return math.Max(1, math.Ceil(a/b*(1-tie)))
}

// nonePerStop returns the chance that a stop shows no infested plant: the mean of
// (1-seen)^X.
func nonePerStop(share, rho, seen float64, m int) float64 {
	if rho == 0 {
		return math.Exp(float64(m) * math.Log1p(-share*seen))
	}
	probs := sampling.Infested{P: share, Rho: rho}.Stop(m).Probs(m)
	sum, miss := 0.0, 1.0
	for _, p := range probs {
		sum += p * miss
		miss *= 1 - seen
	}
	return math.Min(1, sum)
}

// finite answers for a field of FieldPlants plants.
func (r DetectRequest) finite(res *DetectResult) error {
	N := r.FieldPlants
	res.Infested = int(math.Floor(float64(N) * r.Prevalence * (1 + tie)))
	if res.Infested < 1 {
		return sampling.Refusef("%s of %s is less than one plant, must be at least %s", percent(r.Prevalence), plural(N, "plant"), percent(1/float64(N)))
	}
	lot := newLot(N, res.Infested, r.Seen)
	risk := (1 - r.Confidence) * (1 + tie)
	n := sort.Search(N, func(i int) bool { return lot.none(i+1) <= risk }) + 1
	if n > N {
		return sampling.Refusef("even all %s reach only %s confidence when an infested one is seen with chance %s; must be a lower confidence", plural(N, "plant"), percent(1-lot.none(N)), percent(r.Seen))
	}
	res.UnroundedPlants = n
	res.Stops = wholeStops(float64(n), r.PlantsPerStop)
	res.Plants = res.Stops * r.PlantsPerStop
	if res.Plants > N {
		res.Plants = N
	}
	res.Reached = 1 - lot.none(res.Plants)
	return nil
}

// A lot is a finite field; visible is the distribution of how many of its
// infested plants would be seen to be infested if they were examined.
type lot struct {
	plants  int
	visible total
}

func newLot(plants, infested int, seen float64) lot {
	if seen == 1 {
		return lot{plants, total{from: infested, p: []float64{1}}}
	}
	return lot{plants, total{p: sampling.Binomial{Plants: infested, P: seen}.Probs(infested)}.trim()}
}

// none returns the chance that n plants show none: the hypergeometric chance of
// no visible plant, prod (N-n-i)/(N-i) over the visible ones, averaged.
func (l lot) none(n int) float64 {
	sum, miss, k := 0.0, 1.0, 0
	next := func() {
		miss *= float64(max(0, l.plants-n-k)) / float64(l.plants-k)
		k++
	}
	for miss > 0 && k < l.visible.from {
		next()
	}
	for _, p := range l.visible.p {
		sum += p * miss
		next()
	}
	return math.Min(1, sum)
}

func (r DetectRequest) sensitivity(res DetectResult) Sensitivity {
	s := Sensitivity{Of: "rho"}
	values, assumed := rhosAround(r.Rho, r.PlantsPerStop), r.Rho
	if r.FieldPlants > 0 {
		s.Of = "seen"
		values, assumed = around(r.Seen, 0.5, 0.7, 0.8, 0.9, 1), r.Seen
	}
	for _, v := range values {
		q := r
		row := SensitivityRow{Value: v, Assumed: v == assumed}
		var other DetectResult
		var err error
		if r.FieldPlants > 0 {
			q.Seen = v
			err = q.finite(&other)
			row.Reached = 1 - newLot(r.FieldPlants, res.Infested, v).none(res.Plants)
		} else {
			q.Rho = v
			err = q.unlimited(&other)
			row.Reached = -math.Expm1(float64(res.Stops) * math.Log(nonePerStop(r.Prevalence, v, r.Seen, r.PlantsPerStop)))
		}
		if err == nil {
			row.Stops, row.Plants = other.Stops, other.Plants
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}
