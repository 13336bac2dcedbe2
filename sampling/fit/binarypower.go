package fit

import (
	"math"
)

// BinaryPowerLaw says how the variance between stops follows the share
// infested: with m plants a stop,
//
//	variance of a stop's share = A (p(1-p)/m)^B
//
// A = B = 1 is no clumping. Where B is above 1, clumping changes with p.
type BinaryPowerLaw struct {
	A, B               Estimate
	Plants             float64    // m, the harmonic mean of the plants a stop
	MinShare, MaxShare float64    // range of p in which it was fitted
	Line               Regression // ln observed on ln binomial variance
}

// FitBinaryPowerLaw fits the law over fields. A field needs two stops, a share
// between 0 and 1, and stops that differ; others are left out.
//
// Hughes, G. & Madden, L.V. (1992) Aggregation and incidence of disease. Plant
// Pathology 41: 657-660.
func FitBinaryPowerLaw(fields [][]StopCount, confidence float64) (BinaryPowerLaw, error) {
	if err := checkConfidence(confidence); err != nil {
		return BinaryPowerLaw{}, err
	}
	out := BinaryPowerLaw{Plants: math.NaN(), MinShare: math.NaN(), MaxShare: math.NaN()}
	var x, y []float64
	stops, inverse := 0.0, 0.0
	for _, field := range fields {
		s, ok := shareSpread(field)
		if !ok {
			continue
		}
		x, y = append(x, math.Log(s.Binomial())), append(y, math.Log(s.Variance))
		stops += float64(len(field))
		inverse += float64(len(field)) / s.Plants
		out.MinShare, out.MaxShare = lesser(out.MinShare, s.P), -lesser(-out.MaxShare, -s.P)
	}
	out.Line = regress(x, y, confidence)
	out.A, out.B = out.Line.Intercept.exp(), out.Line.Slope
	if stops > 0 {
		out.Plants = stops / inverse
	}
	return out, nil
}

// Rho returns the intraclass correlation at the share p for stops of Plants
// plants: that which gives the variance of the law. It is negative where that
// is below the binomial variance, and NaN where there is no law.
func (b BinaryPowerLaw) Rho(p float64) float64 {
	v := p * (1 - p) / b.Plants
	deff := b.A.Value * math.Pow(v, b.B.Value-1)
	return (deff - 1) / (b.Plants - 1)
}

// ShareSpread says how a field's stops differ.
type ShareSpread struct {
	P        float64 // share infested in the field
	Plants   float64 // harmonic mean of the plants a stop
	Variance float64 // of the stops' shares
}

// Binomial returns the variance that stops would have without clumping.
func (s ShareSpread) Binomial() float64 { return s.P * (1 - s.P) / s.Plants }

// ShareSpreads returns the spread of each field that has one: two stops, a share
// between 0 and 1, and stops that differ.
func ShareSpreads(fields [][]StopCount) []ShareSpread {
	var out []ShareSpread
	for _, f := range fields {
		if s, ok := shareSpread(f); ok {
			out = append(out, s)
		}
	}
	return out
}

// shareSpread returns the spread of a field's stops, and whether it has one.
func shareSpread(stops []StopCount) (ShareSpread, bool) {
	var plants, infested int
	inverse := 0.0
	for _, s := range stops {
		plants, infested = plants+s.Plants, infested+s.Infested
		inverse += 1 / float64(s.Plants)
	}
	j := float64(len(stops))
	out := ShareSpread{P: float64(infested) / float64(plants), Plants: j / inverse}
	if len(stops) < 2 || infested == 0 || infested == plants {
		return out, false
	}
	for _, s := range stops {
		d := float64(s.Infested)/float64(s.Plants) - out.P
		out.Variance += d * d / (j - 1)
	}
	return out, out.Variance > 0
}

// lesser returns the smaller of two numbers, of which a may be NaN for none.
func lesser(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}
