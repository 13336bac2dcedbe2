package size

import (
	"cmp"
	"math"

	"stopwise/sampling"
	"stopwise/sampling/root"
)

// A NoneFoundRequest asks what can still be there when no infested plant was
// found.
type NoneFoundRequest struct {
	// Stops and PlantsPerStop are at least 1; single plants are stops of 1.
	Stops, PlantsPerStop int
	// Confidence of the upper limit, above 0 and below 1.
	Confidence float64
	// Rho, Seen and FieldPlants are as in [DetectRequest].
	Rho         float64
	Seen        float64
	FieldPlants int
	// At are the shares for Points; nil is a table up to one quarter.
	At []float64
}

// A NonePoint is the chance that the visit shows none at one true share.
type NonePoint struct {
	Share float64 `json:"p"`
	None  float64 `json:"p_none"`
}

// A NoneFoundResult answers a [NoneFoundRequest].
type NoneFoundResult struct {
	Request NoneFoundRequest
	Plants  int
	// Upper is the upper confidence limit: the share infested is below it. 1
	// means that nothing is ruled out.
	Upper float64
	// MostInfested is, in a finite field, the largest number of infested plants
	// that is not ruled out; otherwise 0. Upper is one plant more than that.
	MostInfested int
	Points       []NonePoint
	// Sensitivity is over rho, or over the chance to see in a finite field;
	// Reached is the upper limit, and Stops and Plants are those of the visit.
	Sensitivity Sensitivity
}

// NoneFound returns the upper confidence limit of the share infested after a
// visit that found none: the share at which a visit shows none with chance
// 1-Confidence. For independent plants that are always seen rightly it is
// 1 - (1-Confidence)^(1/n), near 3/n at 95%.
//
// Clopper, C.J. & Pearson, E.S. (1934) The use of confidence or fiducial limits
// illustrated in the case of the binomial. Biometrika 26: 404-413. FAO/IPPC
// (2008) ISPM 31.
func NoneFound(r NoneFoundRequest) (NoneFoundResult, error) {
	if r.Seen == 0 {
		r.Seen = 1
	}
	if err := r.check(); err != nil {
		return NoneFoundResult{}, err
	}
	res := NoneFoundResult{Request: r, Plants: r.Stops * r.PlantsPerStop}
	var err error
	if res.Upper, res.MostInfested, err = r.upper(); err != nil {
		return res, err
	}
	for _, p := range r.shares() {
		res.Points = append(res.Points, NonePoint{p, r.none(p)})
	}
	res.Sensitivity, err = r.sensitivity()
	return res, err
}

func (r NoneFoundRequest) check() error {
	if err := cmp.Or(checkStops(r.Stops, r.PlantsPerStop), checkConfidence(r.Confidence), checkFinite(r.Rho, r.Seen, r.FieldPlants)); err != nil {
		return err
	}
	if n := r.Stops * r.PlantsPerStop; r.FieldPlants > 0 && n > r.FieldPlants {
		return sampling.Refusef("%s examined in a field of %d, must be at most all of them", plural(n, "plant"), r.FieldPlants)
	}
	for _, p := range r.At {
		if err := checkShare("share", p); err != nil {
			return err
		}
	}
	return nil
}

func (r NoneFoundRequest) shares() []float64 {
	if r.At != nil {
		return r.At
	}
	return []float64{0.005, 0.01, 0.02, 0.05, 0.1, 0.15, 0.25}
}

// none returns the chance that the visit shows none at a true share; in a finite
// field the infested plants are rounded down.
func (r NoneFoundRequest) none(share float64) float64 {
	n := r.Stops * r.PlantsPerStop
	if r.FieldPlants > 0 {
		infested := int(math.Floor(float64(r.FieldPlants) * share * (1 + tie)))
		return newLot(r.FieldPlants, infested, r.Seen).none(n)
	}
	return math.Pow(nonePerStop(share, r.Rho, r.Seen, r.PlantsPerStop), float64(r.Stops))
}

// upper returns the upper limit, and in a finite field the largest number of
// infested plants not ruled out.
func (r NoneFoundRequest) upper() (share float64, most int, err error) {
	risk := 1 - r.Confidence
	if N := r.FieldPlants; N > 0 {
		n := r.Stops * r.PlantsPerStop
		guess := max(1, int(float64(N)*math.Min(1, -math.Log(risk)/(float64(n)*r.Seen))))
		least := fewest(guess, N, func(d int) bool { return newLot(N, d, r.Seen).none(n) <= risk*(1+tie) })
		if least == 0 {
			return 1, N, nil
		}
		return float64(least) / float64(N), least - 1, nil
	}
	if r.none(1) > risk {
		return 1, 0, nil
	}
	share, err = root.Brent(func(p float64) float64 { return r.none(p) - risk }, 0, 1)
	return share, 0, err
}

func (r NoneFoundRequest) sensitivity() (Sensitivity, error) {
	s := Sensitivity{Of: "rho"}
	values, assumed := rhosAround(r.Rho, r.PlantsPerStop), r.Rho
	if r.FieldPlants > 0 {
		s.Of = "seen"
		values, assumed = around(r.Seen, 0.5, 0.7, 0.8, 0.9, 1), r.Seen
	}
	for _, v := range values {
		q := r
		if r.FieldPlants > 0 {
			q.Seen = v
		} else {
			q.Rho = v
		}
		upper, _, err := q.upper()
		if err != nil {
			return s, err
		}
		s.Rows = append(s.Rows, SensitivityRow{Value: v, Assumed: v == assumed, Stops: r.Stops, Plants: r.Stops * r.PlantsPerStop, Reached: upper})
	}
	return s, nil
}
