package sampling

import (
	"math"
)

// Binomial is the number of infested plants among Plants independent ones.
//
// Its probabilities come from the recurrence of [BetaBinomial] at Rho = 0:
// gonum's distuv.Binomial, against which it is tested, goes through log-gamma
// and loses the thirteenth digit from about 1000 plants on.
type Binomial struct {
	Plants int     // plants examined, at least 1
	P      float64 // share of plants infested, 0 <= P <= 1
}

// Mean returns Plants * P.
func (b Binomial) Mean() float64 { return b.beta().Mean() }

// Variance returns Plants * P * (1-P).
func (b Binomial) Variance() float64 { return b.beta().Variance() }

// Max returns Plants.
func (b Binomial) Max() int { return b.Plants }

// Probs returns P(X = x) for x = 0..n.
func (b Binomial) Probs(n int) []float64 { return b.beta().Probs(n) }

// Tails returns P(X >= x) for x = 0..n.
func (b Binomial) Tails(n int) []float64 { return b.beta().Tails(n) }

func (b Binomial) beta() BetaBinomial { return BetaBinomial{Plants: b.Plants, P: b.P} }

// BetaBinomial is the number of infested plants at a stop whose plants are
// alike: the share infested differs from stop to stop as a beta distribution
// with mean P and shapes P(1-Rho)/Rho and (1-P)(1-Rho)/Rho.
//
//	Var X = Plants P (1-P) [1 + (Plants-1) Rho]
//
// Rho = 0 is the binomial, and the probabilities are continuous there. Rho is
// the intraclass correlation; the parameter theta = Rho/(1-Rho) is also in use
// in the literature.
//
// Skellam, J.G. (1948) A probability distribution derived from the binomial
// distribution by regarding the probability of success as variable between the
// sets of trials. J. R. Stat. Soc. B 10: 257-261. Madden, L.V. & Hughes, G.
// (1995) Plant disease incidence: distributions, heterogeneity, and temporal
// analysis. Annu. Rev. Phytopathol. 33: 529-564.
type BetaBinomial struct {
	Plants int     // plants examined, at least 1
	P      float64 // share of plants infested in the field, 0 <= P <= 1
	Rho    float64 // correlation of two plants at one stop, 0 <= Rho < 1
}

// Mean returns Plants * P.
func (b BetaBinomial) Mean() float64 { return float64(b.Plants) * b.P }

// Variance returns Plants P (1-P) [1 + (Plants-1) Rho].
func (b BetaBinomial) Variance() float64 {
	return float64(b.Plants) * b.P * (1 - b.P) * DesignEffect(b.Plants, b.Rho)
}

// Max returns Plants.
func (b BetaBinomial) Max() int { return b.Plants }

// Probs returns P(X = x) for x = 0..n, to about 1e-13 relative.
func (b BetaBinomial) Probs(n int) []float64 { return resized(b.all(), n) }

// Tails returns P(X >= x) for x = 0..n.
func (b BetaBinomial) Tails(n int) []float64 { return resized(suffixSums(b.all(), 0), n) }

func (b BetaBinomial) all() []float64 {
	p := make([]float64, b.Plants+1)
	b.fill(p)
	return p
}

// fill sets zeros to the probabilities of all totals.
func (b BetaBinomial) fill(p []float64) {
	m := b.Plants
	switch {
	case b.P <= 0:
		p[0] = 1
		return
	case b.P >= 1:
		p[m] = 1
		return
	}
	c := 1 - b.Rho
	pc, qc := b.P*c, (1-b.P)*c
	fillRatios(p, b.mode(), func(x int) float64 {
		return float64(m-x) / float64(x+1) * (pc + float64(x)*b.Rho) / (qc + float64(m-x-1)*b.Rho)
	})
}

// mode returns a most likely total. The ratios P(x+1)/P(x) cross 1 once, where
// x (shape1+shape2-2) = Plants (shape1-1) - (shape2-1); both sides are taken
// times Rho here, so that Rho = 0 needs no case of its own.
func (b BetaBinomial) mode() int {
	c := 1 - b.Rho
	slope := c - 2*b.Rho
	if slope <= 0 { // the most likely totals are at the ends
		if b.P < 0.5 {
			return 0
		}
		return b.Plants
	}
	x := (float64(b.Plants)*(b.P*c-b.Rho) - ((1-b.P)*c - b.Rho)) / slope
	return int(math.Max(0, math.Min(float64(b.Plants), math.Ceil(x))))
}

// DesignEffect returns 1 + (plants-1) rho: how many times larger the variance
// of an estimate is when the plants of a stop are alike than when they are
// independent (Kish, L. 1965, Survey Sampling, 5.4).
func DesignEffect(plants int, rho float64) float64 { return 1 + float64(plants-1)*rho }

// Infested is a field in which a share P of the plants is infested, with
// intraclass correlation Rho between plants of one stop.
type Infested struct {
	P   float64 // 0 <= P <= 1
	Rho float64 // 0 <= Rho < 1
}

// NewInfested returns the field, or an error if a value is out of its range.
func NewInfested(p, rho float64) (Infested, error) {
	if !(p >= 0 && p <= 1) {
		return Infested{}, Refuse("share infested", p, "between 0 and 1")
	}
	if err := CheckRho(rho); err != nil {
		return Infested{}, err
	}
	return Infested{p, rho}, nil
}

// CheckRho returns an error unless 0 <= rho < 1.
func CheckRho(rho float64) error {
	if !(rho >= 0 && rho < 1) {
		return Refuse("rho", rho, "at least 0 and below 1")
	}
	return nil
}

// Stop returns the number of infested plants among units plants at one stop.
func (f Infested) Stop(units int) StopTotal {
	if f.Rho == 0 {
		return Binomial{units, f.P}
	}
	return BetaBinomial{units, f.P, f.Rho}
}

// Level returns P.
func (f Infested) Level() float64 { return f.P }

// Fill sets p[x] to the chance of x infested plants among len(p)-1.
func (f Infested) Fill(p []float64) {
	clear(p)
	BetaBinomial{len(p) - 1, f.P, f.Rho}.fill(p)
}

var _ Filler = Infested{}
