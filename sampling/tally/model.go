package tally

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

// Model is the relation ln mean = C + D ln(-ln(1-share)), fitted by least squares
// over pilot fields. The shares are those of plants, so it already holds what the
// leaves of a plant have in common.
//
// Kono, T. & Sugino, T. (1958) On the estimation of the density of rice stems
// infested by the rice stem borer. Jpn. J. Appl. Ent. Zool. 2: 184-188. Gerrard,
// D.J. & Chiang, H.C. (1970) Density estimation of corn rootworm egg populations
// based upon frequency of occurrence. Ecology 51: 237-245. Nachman, G. (1984)
// Estimates of mean population density and spatial distribution of Tetranychus
// urticae and Phytoseiulus persimilis based upon the proportion of empty sampling
// units. J. Appl. Ecol. 21: 903-913.
type Model struct {
	T    int     // tally number, at least 1
	C, D float64 // D above 0

	// How sure the line is; all 0 where it is taken as exact.
	MSE    float64 // residual mean square of ln mean
	Fields int     // fields it was fitted to
	MeanX  float64 // mean of ln(-ln(1-share)) over the fields
	SE     float64 // standard error of D

	// The shares between which it was fitted; both 0 where unknown.
	MinShare, MaxShare float64
}

// Check returns an error if a value is out of its range.
func (m Model) Check() error {
	for _, x := range []float64{m.C, m.D, m.MSE, m.MeanX, m.SE} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return sampling.Refusef("a value of the model is %g, must be a number", x)
		}
	}
	switch {
	case m.T < 1:
		return sampling.Refusef("tally number %d, must be at least 1", m.T)
	case !(m.D > 0):
		return sampling.Refusef("d is %g, must be above 0: the share must rise with the mean", m.D)
	case m.MSE < 0 || m.SE < 0:
		return sampling.Refusef("residual mean square %g and standard error %g, must be 0 or more", m.MSE, m.SE)
	case m.Uncertain() && m.Fields < 3:
		return sampling.Refuse("fields", m.Fields, "at least 3")
	}
	return nil
}

// Uncertain reports whether the model says how sure it is.
func (m Model) Uncertain() bool { return m.MSE != 0 || m.SE != 0 }

// Tally returns T.
func (m Model) Tally() int { return m.T }

// Covers reports whether the model was fitted to shares around share; true where
// that is not known.
func (m Model) Covers(share float64) bool {
	return m.MaxShare == 0 || m.MinShare <= share && share <= m.MaxShare
}

// Share returns the share on the line.
func (m Model) Share(mean float64) float64 { return fromCloglog((math.Log(mean) - m.C) / m.D) }

// Mean returns the mean on the line, 0 < share < 1.
func (m Model) Mean(share float64) float64 { return math.Exp(m.LnMean(share)) }

// LnMean returns the logarithm of the mean on the line, 0 < share < 1.
func (m Model) LnMean(share float64) float64 { return m.C + m.D*cloglog(share) }

// cloglog returns ln(-ln(1-p)).
func cloglog(p float64) float64 { return math.Log(-math.Log1p(-p)) }

func fromCloglog(x float64) float64 { return -math.Expm1(-math.Exp(x)) }

// Variance is the variance with which ln mean is predicted, in its parts.
type Variance struct {
	Fields   float64 // fields differ from the line: the residual mean square
	Level    float64 // the height of the line is estimated: residual mean square / fields
	Slope    float64 // its slope is estimated
	Sampling float64 // the share is estimated from few plants

	// Counted is the part of Fields that is not in the fields but in the pilot
	// counts, and is taken off. [Model.Variance] leaves it at 0; whoever wants
	// it off sets it to [Model.Counted].
	Counted float64
}

// Total returns the sum of the parts, less Counted.
func (v Variance) Total() float64 {
	return math.Max(0, v.Fields-v.Counted) + v.Level + v.Slope + v.Sampling
}

// Variance returns the variance of the prediction of ln mean from a share,
// 0 < share < 1, seen among plants plants with design effect deff (1 for
// independent plants), with x = ln(-ln(1-share)):
//
//	MSE + MSE/Fields + (x - MeanX)^2 SE^2 + D^2 share deff/(plants (1-share) ln(1-share)^2)
//
// plants = 0 leaves the last part out: the share is then the field's own. That
// part is a first-order approximation, so plants should not be few.
//
// MSE is taken whole. It holds how fields differ from the line and also how the
// means of the pilot fields, counted on few units, differ from the true ones; the
// second part says nothing of a new field. Schaalje et al. take it off, which
// makes the intervals narrower; [Model.Counted] is that part.
//
// Schaalje, G.B., Butts, R.A. & Lysyk, T.J. (1991) J. Econ. Entomol. 84: 140-147.
// Binns, M.R., Nyrop, J.P. & van der Werf, W. (2000) Sampling and Monitoring in
// Crop Protection, CABI.
func (m Model) Variance(share float64, plants int, deff float64) Variance {
	v := m.variance(cloglog(share))
	if plants > 0 {
		l := math.Log1p(-share)
		v.Sampling = m.D * m.D * share * deff / (float64(plants) * (1 - share) * l * l)
	}
	return v
}

func (m Model) variance(x float64) Variance {
	if !m.Uncertain() {
		return Variance{}
	}
	off := (x - m.MeanX) * m.SE
	return Variance{Fields: m.MSE, Level: m.MSE / float64(m.Fields), Slope: off * off}
}

// Counted returns the variance of ln mean that comes from counting the pilot
// fields' means on units units each, at a share: v(mean)/(units mean^2), v being
// the law's variance per unit; a mean^(b-2)/units by Taylor's law. It is at most
// MSE. units must be at least 1.
//
// Schaalje, G.B., Butts, R.A. & Lysyk, T.J. (1991) J. Econ. Entomol. 84: 140-147.
func (m Model) Counted(share float64, law sampling.VarianceLaw, units int) float64 {
	mean := m.Mean(share)
	return math.Min(m.MSE, law.Variance(mean)/(mean*mean*float64(units)))
}

// MeanInterval returns the mean on the line at a share seen among plants plants,
// and the interval within which the mean of a new field with that share lies with
// the given confidence: Student's t on Fields-2 degrees of freedom times the
// standard deviation of ln mean, nothing being taken off (see [Model.Variance]).
func (m Model) MeanInterval(share float64, plants int, deff, confidence float64) (mean, lower, upper float64) {
	return m.MeanIntervalOf(share, m.Variance(share, plants, deff), confidence)
}

// MeanIntervalOf returns what [Model.MeanInterval] does with a variance of ln
// mean that the caller made.
func (m Model) MeanIntervalOf(share float64, v Variance, confidence float64) (mean, lower, upper float64) {
	mean = m.Mean(share)
	f := math.Exp(m.critical(confidence) * math.Sqrt(v.Total()))
	return mean, mean / f, mean * f
}

// critical returns the number of standard deviations that hold with the given
// confidence. MSE is estimated from the fields, so it is that of Student's t on
// Fields-2 degrees of freedom; a line taken as exact leaves the sampling alone,
// which is about normal.
func (m Model) critical(confidence float64) float64 {
	if !m.Uncertain() {
		return sampling.CriticalNormal(confidence)
	}
	return sampling.CriticalStudent(confidence, float64(m.Fields-2))
}

// ShareInterval returns the share on the line at a mean, and the interval within
// which the share of a new field of that mean lies with the given confidence, by
// Student's t on Fields-2 degrees of freedom.
func (m Model) ShareInterval(mean, confidence float64) (share, lower, upper float64) {
	x := (math.Log(mean) - m.C) / m.D
	off := m.critical(confidence) * m.spread(x)
	return fromCloglog(x), fromCloglog(x - off), fromCloglog(x + off)
}

// spread returns the standard deviation of ln(-ln(1-share)) of fields around the
// line.
func (m Model) spread(x float64) float64 { return math.Sqrt(m.variance(x).Total()) / m.D }

// The spread of a field around the line is followed until a chance of spreadBeyond
// lies further off on either side, in standard deviations sinh(y) with y in steps of
// spreadStep. The operating characteristic of a plan, summed so, is right to about
// 1e-9.
const (
	spreadBeyond = 1e-10
	spreadStep   = 0.1
)

// Spread returns the shares that fields of a mean may have: ln(-ln(1-share)) lies
// around the line as Student's t on Fields-2 degrees of freedom does, the mean
// square being estimated, times the root of the prediction variance of ln mean,
// without the part of sampling and with nothing taken off (see [Model.Variance]),
// over D. The sampling is left to whoever asks: a plan brings its own, exactly.
func (m Model) Spread(mean float64) []Chance {
	x := (math.Log(mean) - m.C) / m.D
	sd := m.spread(x)
	if sd == 0 || math.IsInf(x, 0) {
		return []Chance{{fromCloglog(x), 1}}
	}
	t := distuv.StudentsT{Sigma: 1, Nu: float64(m.Fields - 2)}
	reach := int(math.Ceil(math.Asinh(t.Quantile(1-spreadBeyond)) / spreadStep))
	chances := make([]Chance, 0, 2*reach+1)
	sum := 0.0
	for i := -reach; i <= reach; i++ {
		y := float64(i) * spreadStep
		c := Chance{fromCloglog(x + sd*math.Sinh(y)), t.Prob(math.Sinh(y)) * math.Cosh(y)}
		sum += c.Chance
		chances = append(chances, c)
	}
	for i := range chances {
		chances[i].Chance /= sum
	}
	return chances
}
