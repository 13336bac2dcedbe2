package sampling

import (
	"math"
)

// AlikeCounts is a field whose units (leaves or plants) are alike within a
// stop: each stop has a mean of its own, gamma distributed about Mean, and its
// units are independent negative binomial counts about that. One unit of the
// whole field has mean Mean and variance v = Mean + Mean^2/K, as in [Counts];
// Rho is the correlation of the counts of two units of one stop, so that the
// total of m of them has variance
//
//	m v [1 + (m-1) Rho]
//
// Rho = 0 is [Counts]. At [MaxCountRho] the units of one stop are Poisson
// counts; beyond it there is no such field. Unlike Counts its totals do not add
// up over stops, each of which has its own mean.
//
// The total of a stop is a negative binomial with mean m L and parameter m w
// mixed over the stop's mean L, a gamma with shape g:
//
//	1/g = Rho (1/Mean + 1/K),  w = (1 + 1/g)/(1/K - 1/g)
//
// Greenwood, M. & Yule, G.U. (1920) An inquiry into the nature of frequency
// distributions representative of multiple happenings. J. R. Stat. Soc. 83:
// 255-279, for the mixture over a gamma.
type AlikeCounts struct {
	Mean float64 // insects per unit, 0 <= Mean < +Inf
	K    float64 // of one unit over the whole field, 0 < K <= +Inf
	Rho  float64 // 0 <= Rho <= MaxCountRho(Mean, K); 0 where K is +Inf
}

// MaxCountRho returns the largest correlation that two units of a stop can have
// where units have this mean and k: mean/(mean+k), at which all that clumps them
// is that stops differ.
func MaxCountRho(mean, k float64) float64 {
	if mean == 0 || math.IsInf(k, 1) {
		return 0
	}
	return mean / (mean + k)
}

// NewAlikeCounts returns the field, or an error if a value is out of its range.
// Whoever takes one correlation for many means lowers it to [MaxCountRho] where
// it is beyond that.
func NewAlikeCounts(mean, k, rho float64) (AlikeCounts, error) {
	if _, err := NewCounts(mean, k); err != nil {
		return AlikeCounts{}, err
	}
	if err := CheckRho(rho); err != nil {
		return AlikeCounts{}, err
	}
	if most := MaxCountRho(mean, k); rho > most*(1+1e-12) {
		return AlikeCounts{}, Refusef("correlation of counts %g at mean %g and k %g, must be at most %.4g", rho, mean, k, most)
	}
	return AlikeCounts{mean, k, rho}, nil
}

// allSame is the shape of the stops' means beyond which no probability differs
// from that of stops which all have the same mean.
const allSame = 1e25

// Stop returns the total count on units units of one stop.
func (f AlikeCounts) Stop(units int) StopTotal {
	shape := f.shape()
	m := float64(units)
	switch within := f.within(shape); {
	case shape > allSame || f.Mean == 0:
		return Counts{f.Mean, f.K}.Stop(units)
	case math.IsInf(within, 1):
		return NegBinomial{m * f.Mean, shape}
	default:
		return mixedNegBinomial{field: f, units: units, shape: shape, k: m * within, scale: shape * within / f.Mean}
	}
}

// Level returns Mean.
func (f AlikeCounts) Level() float64 { return f.Mean }

// StopShape returns the shape of the gamma distribution of the stops' means:
// +Inf where all stops have the same mean.
func (f AlikeCounts) StopShape() float64 { return f.shape() }

// WithinK returns the k of units about their own stop's mean: +Inf where they
// are Poisson counts.
func (f AlikeCounts) WithinK() float64 { return f.within(f.shape()) }

func (f AlikeCounts) shape() float64 { return 1 / (f.Rho * (1/f.Mean + 1/f.K)) }

func (f AlikeCounts) within(shape float64) float64 {
	rest := (1-f.Rho)/f.K - f.Rho/f.Mean // 1/K - 1/shape
	if f.Rho == 0 {
		return f.K
	}
	if rest <= 1e-15/f.K {
		return math.Inf(1)
	}
	return (1 + 1/shape) / rest
}
