package fit

import (
	"math"

	"stopwise/sampling"
)

// ShapeSpeaks is by how much the log-likelihood of one shape must exceed that of
// the other before the counts are said to speak for it: 2, a likelihood ratio of
// 7.4. It is a convention; how often it errs is in the record of recoveries.
const ShapeSpeaks = 2

// The shapes that are compared.
const (
	ShapeBeta    = "beta-binomial" // the share differs from stop to stop as a beta distribution
	ShapePatches = "patches"       // a stop lies in a patch or sees nothing; inside, plants are independent
)

// A Shape compares two forms that clumping of the same strength may take: both
// give a stop's count the same mean and variance. In patches a stop lies in one
// with chance p/q, q = p + rho (1-p), and a share q of its plants is infested.
type Shape struct {
	Fields, Stops int // used, see [FitPooledRho]

	// Of each shape the log-likelihood at its best rho, one for all fields, each
	// field's p being the share seen there.
	Beta, Patches       float64
	BetaRho, PatchesRho float64

	// SpeaksFor is ShapeBeta or ShapePatches where its log-likelihood is higher
	// by ShapeSpeaks or more, and empty where the counts do not tell.
	SpeaksFor string

	Counts []ShapeCount // by number of infested plants, from 0 to the most plants of a stop

	Missing string // why there is no comparison; empty where there is one
}

// ShapeCount is the number of stops with so many infested plants.
type ShapeCount struct {
	Infested int     `json:"infested"`
	Seen     int     `json:"stops_seen"`
	Beta     float64 `json:"beta_binomial"` // expected by the shapes
	Patches  float64 `json:"patches"`
}

// CompareShapes compares the beta-binomial with patches on the stops of several
// fields.
func CompareShapes(fields [][]StopCount) (Shape, error) {
	var s Shape
	var used []clump
	var stops [][]StopCount
	for _, f := range fields {
		c, err := newClump(f)
		if err != nil {
			return Shape{}, err
		}
		if c.informative() {
			used, stops = append(used, c), append(stops, f)
			s.Stops += len(f)
		}
	}
	s.Fields = len(used)
	if len(used) == 0 {
		s.Missing = "no field has 2 stops with infested and other plants among them"
		return s, nil
	}
	some := alike(used)
	beta := curve{
		value: func(rho float64) float64 {
			return overFields(some, func(f clump) float64 { return f.logLik(f.share(0), thetaOf(rho)) })
		},
		slope: func(rho float64) float64 {
			return overFields(some, func(f clump) float64 { return f.slopes(f.share(0), thetaOf(rho)).t })
		},
	}
	patches := patchCurve(used, stops)
	s.BetaRho, s.PatchesRho = beta.maximum(), patches.maximum()
	s.Beta, s.Patches = beta.value(s.BetaRho), patches.value(s.PatchesRho)
	switch d := s.Beta - s.Patches; {
	case d >= ShapeSpeaks:
		s.SpeaksFor = ShapeBeta
	case d <= -ShapeSpeaks:
		s.SpeaksFor = ShapePatches
	}
	s.count(used, stops)
	return s, nil
}

// patchCurve returns the log-likelihood of patches. Stops with a find lie in
// one; those without are told apart by their number of plants alone.
func patchCurve(fields []clump, stops [][]StopCount) curve {
	type field struct {
		p, constant, in, infested, clean float64
		empty                            map[int]int // stops without a find, by their plants
	}
	all := make([]field, len(fields))
	for i, f := range fields {
		one := field{p: f.share(0), constant: f.constant, empty: map[int]int{}}
		for _, s := range stops[i] {
			if s.Infested == 0 {
				one.empty[s.Plants]++
				continue
			}
			one.in++
			one.infested += float64(s.Infested)
			one.clean += float64(s.Plants - s.Infested)
		}
		all[i] = one
	}
	var c curve
	c.value = func(rho float64) float64 {
		sum := 0.0
		for _, f := range all {
			q := f.p + rho*(1-f.p)
			w := f.p / q
			sum += f.constant + f.in*math.Log(w) + f.infested*math.Log(q) + f.clean*math.Log1p(-q)
			for m, n := range f.empty {
				sum += float64(n) * math.Log(w*math.Pow(1-q, float64(m))+1-w)
			}
		}
		return sum
	}
	c.slope = func(rho float64) float64 { // to rho: dq = 1-p, dw = -w (1-p)/q
		sum := 0.0
		for _, f := range all {
			q := f.p + rho*(1-f.p)
			w := f.p / q
			part := (f.infested-f.in)/q - f.clean/(1-q)
			for m, n := range f.empty {
				none := math.Pow(1-q, float64(m))
				part += float64(n) * (w*(1-none)/q - w*float64(m)*none/(1-q)) / (w*none + 1 - w)
			}
			sum += (1 - f.p) * part
		}
		return sum
	}
	return c
}

// count fills in the stops seen and expected by number of infested plants.
func (s *Shape) count(fields []clump, stops [][]StopCount) {
	most := 0
	for _, f := range fields {
		most = max(most, len(f.c))
	}
	s.Counts = make([]ShapeCount, most+1)
	for x := range s.Counts {
		s.Counts[x].Infested = x
	}
	for i, f := range fields {
		sizes := map[int]int{}
		for _, one := range stops[i] {
			s.Counts[one.Infested].Seen++
			sizes[one.Plants]++
		}
		p := f.share(0)
		q := p + s.PatchesRho*(1-p)
		for m, n := range sizes {
			beta := sampling.BetaBinomial{Plants: m, P: p, Rho: math.Min(s.BetaRho, top)}.Probs(m)
			patch := sampling.Binomial{Plants: m, P: q}.Probs(m)
			for x := range beta {
				s.Counts[x].Beta += float64(n) * beta[x]
				s.Counts[x].Patches += float64(n) * patch[x] * p / q
			}
			s.Counts[0].Patches += float64(n) * (1 - p/q)
		}
	}
}
