package validate

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

// A counting is how the counts of a made field vary beyond what its map shows.
type counting struct {
	// stops is the shape of the gamma distribution of a stop's mean about that of
	// its place: +Inf where the place says all.
	stops float64
	// within is the k of units about their stop's mean: +Inf for Poisson counts.
	within float64
}

// counts gives the shape a mean per unit, and counts whose variance over the field
// and whose correlation at a stop anywhere in it are those of
// [sampling.AlikeCounts] with the same mean, k and rho. With v = mean + mean^2/k,
// the means of stops have variance rho v, of which the map carries V, the part
// arranged or as much as means above 0 allow, and neighbours the rest:
//
//	rho v = V + (mean^2 + V)/stops
//
// for the mean of a stop is that of its place times a gamma of mean one and shape
// stops. Units within a stop are then as in a field without a pattern:
//
//	v = rho v + mean + (mean^2 + rho v)/within
func (s shape) counts(g Ground, mean, k, rho float64) Field {
	f := Field{Ground: g, Pattern: s.pattern, Level: mean, Rho: rho}
	alike := sampling.AlikeCounts{Mean: mean, K: k, Rho: rho}
	between := rho * sampling.CommonK{K: k}.Variance(mean)
	if s.sd > 0 {
		f.gain = math.Min(math.Sqrt(arranged*between)/s.sd, mean/(s.mean-s.min))
	}
	placed := f.gain * f.gain * s.sd * s.sd
	f.shape = s
	f.counting = &counting{stops: (mean*mean + placed) / (between - placed), within: alike.WithinK()}
	return f
}

// MakeCountField draws a field of a pattern with a mean per unit, the k of one unit
// over the whole field, and a correlation rho of the counts of two units at one
// stop, which is lowered to the largest there can be (see [sampling.MaxCountRho]).
func MakeCountField(g Ground, p Pattern, mean, k, rho float64, r *rand.Rand) Field {
	return newShape(g, p, r).counts(g, mean, k, math.Min(rho, sampling.MaxCountRho(mean, k)))
}

// total draws the insects on units units of a stop at a place of a given mean.
func (c counting) total(r *rand.Rand, mean float64, units int) int {
	if !math.IsInf(c.stops, 1) {
		mean *= distuv.Gamma{Alpha: c.stops, Beta: c.stops, Src: r}.Rand()
	}
	all := mean * float64(units)
	if !math.IsInf(c.within, 1) {
		size := c.within * float64(units)
		all *= distuv.Gamma{Alpha: size, Beta: size, Src: r}.Rand()
	}
	if !(all > 0) {
		return 0
	}
	return int(distuv.Poisson{Lambda: all, Src: r}.Rand())
}
