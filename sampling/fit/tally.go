package fit

import (
	"math"

	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// TallyPoint is what one field says about a tally number: its mean count per
// leaf, and the share of its plants with a leaf that carries at least the tally
// number.
type TallyPoint struct {
	Mean, Share float64
	Plants      int
}

// TallyModel is the line ln mean = C + D ln(-ln(1-p)) over fields, p being the
// share of plants infested at the tally number T.
type TallyModel struct {
	T        int
	C, D     Estimate
	MSE      float64 // residual mean square of ln mean
	Fields   int     // fields used
	Left     int     // fields left out: no plant infested, or every plant
	MinShare float64 // range of p in which it was fitted
	MaxShare float64
	Line     Regression
}

// FitTally fits the model for the tally number t. Fields where no plant, or
// every plant, is infested have no logarithm and are left out.
//
// Kono, T. & Sugino, T. (1958) On the estimation of the density of rice stems
// infested by the rice stem borer. Jpn. J. Appl. Ent. Zool. 2: 184-188.
// Gerrard, D.J. & Chiang, H.C. (1970) Density estimation of corn rootworm egg
// populations based upon frequency of occurrence. Ecology 51: 237-245.
// Nachman, G. (1984) Estimates of mean population density and spatial
// distribution of Tetranychus urticae and Phytoseiulus persimilis based upon
// the proportion of empty sampling units. J. Appl. Ecol. 21: 903-913.
func FitTally(t int, points []TallyPoint, confidence float64) (TallyModel, error) {
	if err := checkConfidence(confidence); err != nil {
		return TallyModel{}, err
	}
	if t < 1 {
		return TallyModel{}, sampling.Refusef("tally number %d, must be at least 1", t)
	}
	out := TallyModel{T: t, MinShare: math.NaN(), MaxShare: math.NaN()}
	var x, y []float64
	for _, f := range points {
		if !(f.Share > 0 && f.Share < 1 && f.Mean > 0) {
			out.Left++
			continue
		}
		x, y = append(x, cloglog(f.Share)), append(y, math.Log(f.Mean))
		out.MinShare, out.MaxShare = lesser(out.MinShare, f.Share), -lesser(-out.MaxShare, -f.Share)
	}
	out.Line = regress(x, y, confidence)
	out.C, out.D, out.MSE, out.Fields = out.Line.Intercept, out.Line.Slope, out.Line.MSE, out.Line.Fields
	return out, nil
}

// cloglog returns ln(-ln(1-p)).
func cloglog(p float64) float64 { return math.Log(-math.Log1p(-p)) }

// Model returns the line as a relation between the mean and the share, with how
// sure it is.
func (m TallyModel) Model() tally.Model {
	return tally.Model{
		T: m.T, C: m.C.Value, D: m.D.Value,
		MSE: m.MSE, Fields: m.Fields, MeanX: m.Line.MeanX, SE: m.D.SE,
		MinShare: m.MinShare, MaxShare: m.MaxShare,
	}
}

// LogMean returns ln mean at the share p, 0 < p < 1.
func (m TallyModel) LogMean(p float64) float64 { return m.Model().LnMean(p) }

// LogMeanVariance returns the variance of the prediction of ln mean from a
// share p, 0 < p < 1, seen among plants plants with design effect deff (1 for
// independent plants, see [sampling.DesignEffect]), in its parts; see
// [tally.Model.Variance].
func (m TallyModel) LogMeanVariance(p float64, plants int, deff float64) tally.Variance {
	return m.Model().Variance(p, plants, deff)
}
