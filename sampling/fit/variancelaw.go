package fit

import (
	"math"

	"stopwise/sampling"
)

// MeanVariance is one field's mean count per unit and the variance of the
// counts.
type MeanVariance struct{ Mean, Variance float64 }

// Taylor is the power law variance = A mean^B over fields.
type Taylor struct {
	A, B             Estimate
	MinMean, MaxMean float64    // range of means in which it was fitted
	Line             Regression // ln variance on ln mean, from which A and B are
}

// FitTaylor fits Taylor's power law by the regression of ln variance on ln
// mean. Fields with a mean or variance of 0 have no logarithm and are left out.
// The interval of A is that of ln A; its standard error is A times that of ln A.
//
// Taylor, L.R. (1961) Aggregation, variance and the mean. Nature 189: 732-735.
func FitTaylor(fields []MeanVariance, confidence float64) (Taylor, error) {
	if err := checkConfidence(confidence); err != nil {
		return Taylor{}, err
	}
	var x, y []float64
	for _, f := range fields {
		if f.Mean > 0 && f.Variance > 0 {
			x, y = append(x, math.Log(f.Mean)), append(y, math.Log(f.Variance))
		}
	}
	r := regress(x, y, confidence)
	return Taylor{A: r.Intercept.exp(), B: r.Slope, MinMean: math.Exp(r.MinX), MaxMean: math.Exp(r.MaxX), Line: r}, nil
}

// Law returns the fitted law.
func (t Taylor) Law() sampling.Taylor { return sampling.Taylor{A: t.A.Value, B: t.B.Value} }

// Variance returns the variance at a mean.
func (t Taylor) Variance(mean float64) float64 { return t.Law().Variance(mean) }

// Iwao is the line mean crowding = A + B mean over fields, mean crowding being
// mean + variance/mean - 1. It gives variance = (A+1) mean + (B-1) mean^2.
type Iwao struct {
	A, B             Estimate
	MinMean, MaxMean float64 // range of means in which it was fitted
	Line             Regression
}

// FitIwao fits Iwao's patchiness regression. Fields with a mean of 0 have no
// mean crowding and are left out.
//
// Lloyd, M. (1967) Mean crowding. J. Anim. Ecol. 36: 1-30. Iwao, S. (1968) A new
// regression method for analyzing the aggregation pattern of animal
// populations. Res. Popul. Ecol. 10: 1-20.
func FitIwao(fields []MeanVariance, confidence float64) (Iwao, error) {
	if err := checkConfidence(confidence); err != nil {
		return Iwao{}, err
	}
	var x, y []float64
	for _, f := range fields {
		if f.Mean > 0 {
			x, y = append(x, f.Mean), append(y, f.Mean+f.Variance/f.Mean-1)
		}
	}
	r := regress(x, y, confidence)
	return Iwao{A: r.Intercept, B: r.Slope, MinMean: r.MinX, MaxMean: r.MaxX, Line: r}, nil
}

// Law returns the fitted law.
func (w Iwao) Law() sampling.Iwao { return sampling.Iwao{A: w.A.Value, B: w.B.Value} }

// Variance returns the variance at a mean.
func (w Iwao) Variance(mean float64) float64 { return w.Law().Variance(mean) }
