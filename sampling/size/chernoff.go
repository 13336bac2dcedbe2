package size

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"stopwise/sampling"
	"stopwise/sampling/root"
)

// everyFrom fills EveryFrom and Failing. By Chernoff's bound, with a cutoff at
// the share t of the plants both risks are at most exp(-J rate(t)); the rates
// give a number of stops beyond which every J works, and those below it are
// looked at one by one.
//
// Chernoff, H. (1952) A measure of asymptotic efficiency for tests of a
// hypothesis based on the sum of observations. Ann. Math. Stat. 23: 493-507.
func (r ClassifyRequest) everyFrom(res *ClassifyResult) error {
	certain, err := r.certainFrom()
	if err != nil {
		return err
	}
	if certain > float64(MaxPlants/r.PlantsPerStop) {
		return nil
	}
	res.EveryFrom = res.Stops
	s := r.scan()
	for s.stops < int(certain) {
		s.next()
		if s.stops > res.Stops && !s.keeps() {
			res.Failing = append(res.Failing, s.stops)
			res.EveryFrom = s.stops + 1
		}
	}
	return nil
}

// certainFrom returns a number of stops from which on every J keeps the risks.
func (r ClassifyRequest) certainFrom() (float64, error) {
	if r.Lower == 0 || r.Upper == 1 {
		return 1, nil // one risk is nil; the other falls with every stop
	}
	low := newTilted(r.Lower, r.Rho, r.PlantsPerStop)
	high := newTilted(r.Upper, r.Rho, r.PlantsPerStop)
	a, b := -math.Log(r.NeedlessRisk), -math.Log(r.MissedRisk)
	t, err := root.Brent(func(t float64) float64 { return low.rate(t)/a - high.rate(t)/b }, r.Lower, r.Upper)
	if err != nil {
		return 0, sampling.Refusef("bounds %s and %s are too close to work with (%v)", percent(r.Lower), percent(r.Upper), err)
	}
	return math.Ceil(math.Max(a/low.rate(t), b/high.rate(t))), nil
}

// tilted is the log-probability of a stop's total, tilted exponentially.
type tilted struct {
	log  []float64 // ln P(X = x)
	mean float64   // per plant
}

func newTilted(share, rho float64, m int) tilted {
	log := sampling.Infested{P: share, Rho: rho}.Stop(m).Probs(m)
	for x, p := range log {
		log[x] = math.Log(p)
	}
	return tilted{log, share}
}

// cumulant returns ln E(exp(theta X)) and the mean of X under the tilt.
func (d tilted) cumulant(theta float64) (value, mean float64) {
	terms := make([]float64, len(d.log))
	for x, l := range d.log {
		terms[x] = l + theta*float64(x)
	}
	value = floats.LogSumExp(terms)
	for x, l := range terms {
		mean += float64(x) * math.Exp(l-value)
	}
	return value, mean
}

// rate returns the rate at which P(mean share of J stops beyond t) falls:
// max over theta of theta m t - ln E(exp(theta X)). Any theta gives a valid
// bound, so theta need not be found exactly.
func (d tilted) rate(t float64) float64 {
	if t == d.mean {
		return 0
	}
	at := t * float64(len(d.log)-1)
	gap := func(theta float64) float64 { _, mean := d.cumulant(theta); return mean - at }
	far := math.Copysign(0.1, t-d.mean)
	for gap(far)*far < 0 && math.Abs(far) < 700 {
		far *= 2
	}
	theta, err := root.Brent(gap, 0, far)
	if err != nil {
		theta = far
	}
	value, _ := d.cumulant(theta)
	return math.Max(0, theta*at-value)
}
