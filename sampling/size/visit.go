package size

import (
	"cmp"
	"math"
	"slices"

	"stopwise/sampling"
	"stopwise/sampling/root"
)

// MaxNarrowest is the largest visit for which the narrowest band is looked for,
// which takes many exact evaluations: about a second at this size.
const MaxNarrowest = 2000

// A VisitRequest asks what a visit of given size tells.
type VisitRequest struct {
	// Stops and PlantsPerStop are at least 1.
	Stops, PlantsPerStop int
	// Rho is the intraclass correlation, 0 <= Rho < 1.
	Rho float64
	// Act is the smallest total of infested plants at which the field is
	// treated, from 1 to all plants; or ActShare is the smallest share seen,
	// above 0 and at most 1. With neither, the total is chosen that keeps the
	// risks at Lower and Upper best.
	Act      int
	ActShare float64
	// Lower and Upper are the shares to tell apart, 0 <= Lower < Upper <= 1;
	// both 0 where there are none.
	Lower, Upper float64
	// NeedlessRisk and MissedRisk are the allowed chances to act at Lower and to
	// leave at Upper, each above 0 and below 0.5.
	NeedlessRisk, MissedRisk float64
	// At are the shares for Points; nil is a table up to one half.
	At []float64
}

// A VisitPoint is what the visit does at one true share.
type VisitPoint struct {
	Share float64 `json:"p"`
	Act   float64 `json:"p_act"`   // exact chance of the verdict
	Leave float64 `json:"p_leave"` // the rest to 1
}

// A Band is what an act number tells apart: at Lower the chance to act is the
// allowed needless-treatment risk, at Upper the chance to leave is the allowed
// missed-treatment risk, and between them either verdict is likely.
type Band struct {
	Act   int     `json:"act"` // act at this many infested plants or more
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

// Width returns Upper - Lower.
func (b Band) Width() float64 { return b.Upper - b.Lower }

// A VisitBounds is what the visit does with a given pair of bounds.
type VisitBounds struct {
	// NeedlessRisk and MissedRisk are the exact risks of the visit's own rule.
	NeedlessRisk, MissedRisk float64
	// Tells reports whether some rule keeps both risks with these stops, and
	// Best is the rule whose risks lie lowest against those allowed.
	Tells bool
	Best  ClassifyDesign
	// LeastUpper is the band that starts at the lower bound or just above, with
	// the least upper end; GreatestLower the one that ends at the upper bound or
	// just below, with the greatest lower end. Nil where there is none.
	LeastUpper, GreatestLower *Band
}

// A RhoBand is what the visit's own rule does if rho is something else.
type RhoBand struct {
	Rho     float64
	Assumed bool
	Band    Band
	// NeedlessRisk and MissedRisk are at Lower and Upper; NaN without them.
	NeedlessRisk, MissedRisk float64
}

// A VisitResult answers a [VisitRequest].
type VisitResult struct {
	Request VisitRequest
	Plants  int
	// Act is the smallest total at which the field is treated.
	Act    int
	Points []VisitPoint
	// Own is the band of this rule.
	Own Band
	// Narrowest is the narrowest band that any rule with these stops has around
	// the same share; nil above 2000 plants.
	Narrowest *Band
	// Bounds is nil without Lower and Upper.
	Bounds      *VisitBounds
	Sensitivity []RhoBand
}

// Visit returns the exact chance of either verdict at each true share for a
// visit of fixed size, and the narrowest pair of shares it can tell apart.
//
// The chances come from the exact distribution of the total, and the ends of a
// band from solving them for the share; both are monotone in it.
func Visit(r VisitRequest) (VisitResult, error) {
	if err := r.check(); err != nil {
		return VisitResult{}, err
	}
	v := visit{r.Stops, r.PlantsPerStop, r.Rho, r.NeedlessRisk, r.MissedRisk}
	res := VisitResult{Request: r, Plants: v.plants(), Act: r.act()}
	for _, p := range r.shares() {
		t := v.total(p)
		res.Points = append(res.Points, VisitPoint{p, t.above(res.Act - 1), t.atMost(res.Act - 1)})
	}
	var err error
	if res.Own, err = v.band(res.Act); err != nil {
		return res, err
	}
	if v.plants() <= MaxNarrowest {
		around := r.ActShare
		if around == 0 {
			around = float64(res.Act) / float64(v.plants())
		}
		b, err := v.narrowest(res.Own, around)
		if err != nil {
			return res, err
		}
		res.Narrowest = &b
	}
	if r.Upper > 0 {
		if res.Bounds, err = r.bounds(v, res.Act); err != nil {
			return res, err
		}
	}
	res.Sensitivity, err = r.sensitivity(v, res.Act)
	return res, err
}

func (r VisitRequest) check() error {
	if err := cmp.Or(checkStops(r.Stops, r.PlantsPerStop), checkRho(r.Rho), checkRisks(r.NeedlessRisk, r.MissedRisk)); err != nil {
		return err
	}
	if r.Lower != 0 || r.Upper != 0 {
		if err := checkBounds(r.Lower, r.Upper); err != nil {
			return err
		}
	}
	for _, p := range r.At {
		if err := checkShare("share", p); err != nil {
			return err
		}
	}
	return r.checkRule()
}

func (r VisitRequest) checkRule() error {
	n := r.Stops * r.PlantsPerStop
	switch {
	case r.Act != 0 && r.ActShare != 0:
		return sampling.Refusef("both an act number %d and an act share %s, must be one of them", r.Act, percent(r.ActShare))
	case r.Act < 0 || r.Act > n:
		return sampling.Refusef("act number %d with %s, must be from 1 to %d", r.Act, plural(n, "plant"), n)
	case r.ActShare != 0 && !(r.ActShare > 0 && r.ActShare <= 1):
		return sampling.RefuseShare("act share", r.ActShare, "above 0% and at most 100%")
	case r.Act == 0 && r.ActShare == 0 && r.Upper == 0:
		return sampling.Refusef("no rule, must be an act number, an act share, or a lower and an upper bound")
	}
	return nil
}

// act returns the act number of the rule.
func (r VisitRequest) act() int {
	switch {
	case r.Act > 0:
		return r.Act
	case r.ActShare > 0:
		n := float64(r.Stops * r.PlantsPerStop)
		return max(1, int(math.Ceil(r.ActShare*n*(1-tie))))
	}
	best := r.scan().design().Cutoff + 1
	return max(1, min(best, r.Stops*r.PlantsPerStop))
}

// scan returns the totals at the bounds.
func (r VisitRequest) scan() *scan {
	c := ClassifyRequest{Lower: r.Lower, Upper: r.Upper, NeedlessRisk: r.NeedlessRisk, MissedRisk: r.MissedRisk, PlantsPerStop: r.PlantsPerStop, Rho: r.Rho}
	return c.at(r.Stops)
}

func (r VisitRequest) shares() []float64 {
	if r.At != nil {
		return r.At
	}
	at := []float64{0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5}
	if r.Upper > 0 {
		at = around(r.Upper, around(r.Lower, at...)...)
	}
	if r.ActShare > 0 {
		at = around(r.ActShare, at...)
	}
	return slices.Compact(at)
}

func (r VisitRequest) bounds(v visit, act int) (*VisitBounds, error) {
	s := r.scan()
	b := &VisitBounds{
		NeedlessRisk: s.low.above(act - 1),
		MissedRisk:   s.high.atMost(act - 1),
		Tells:        s.keeps(),
		Best:         s.design(),
	}
	var err error
	if b.LeastUpper, err = v.bandIfAny(s.lowest() + 1); err != nil {
		return nil, err
	}
	b.GreatestLower, err = v.bandIfAny(s.highest() + 1)
	return b, err
}

func (r VisitRequest) sensitivity(v visit, act int) ([]RhoBand, error) {
	var out []RhoBand
	for _, rho := range rhosAround(r.Rho, r.PlantsPerStop) {
		v.rho = rho
		b, err := v.band(act)
		if err != nil {
			return nil, err
		}
		row := RhoBand{Rho: rho, Assumed: rho == r.Rho, Band: b, NeedlessRisk: math.NaN(), MissedRisk: math.NaN()}
		if r.Upper > 0 {
			row.NeedlessRisk = v.total(r.Lower).above(act - 1)
			row.MissedRisk = v.total(r.Upper).atMost(act - 1)
		}
		out = append(out, row)
	}
	return out, nil
}

// A visit is a number of stops with its risks.
type visit struct {
	stops, m         int
	rho              float64
	needless, missed float64
}

func (v visit) plants() int { return v.stops * v.m }

func (v visit) total(share float64) total { return totalOver(stopTotal(share, v.rho, v.m), v.stops) }

// band solves for the shares at which the rule's risks are those allowed.
func (v visit) band(act int) (Band, error) {
	lower, err := root.Brent(func(p float64) float64 { return v.total(p).above(act-1) - v.needless }, 0, 1)
	if err != nil {
		return Band{}, err
	}
	upper, err := root.Brent(func(p float64) float64 { return v.total(p).atMost(act-1) - v.missed }, 0, 1)
	return Band{act, lower, upper}, err
}

// bandIfAny returns nil for rules that never or always act.
func (v visit) bandIfAny(act int) (*Band, error) {
	if act < 1 || act > v.plants() {
		return nil, nil
	}
	b, err := v.band(act)
	return &b, err
}

// narrowest looks at every act number whose band holds the share.
func (v visit) narrowest(own Band, share float64) (Band, error) {
	best := own
	for _, step := range []int{-1, 1} {
		for act := own.Act + step; act >= 1 && act <= v.plants(); act += step {
			b, err := v.band(act)
			if err != nil {
				return best, err
			}
			if share < b.Lower || share > b.Upper {
				break
			}
			if b.Width() < best.Width() {
				best = b
			}
		}
	}
	return best, nil
}
