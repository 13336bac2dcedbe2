package tally

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"stopwise/sampling"
)

// Theory is the relation that follows from negative binomial counts per leaf,
// whose k comes from a law of the variance:
//
//	share = 1 - (1 - P(X >= T))^Leaves
//
// With CountRho the leaves of a plant are as alike as those of one stop are: a stop
// has a mean L of its own, see [sampling.AlikeCounts], and the share is the mean of
// 1 - (1 - P(X >= T given L))^Leaves over the stops. Without it the leaves of a plant
// are independent, which they are not: where one is full the others tend to be, so
// fewer plants are infested than it says. One leaf of the whole field has the law's mean
// and variance either way, but with CountRho is not negative binomial. A [Model] fitted to fields needs no such
// assumption.
//
// For T = 1 and Taylor's law see Wilson, L.T. & Room, P.M. (1983) Clumping
// patterns of fruit and arthropods in cotton, with implications for binomial
// sampling. Environ. Entomol. 12: 50-54.
type Theory struct {
	T      int // tally number, at least 1
	Leaves int // leaves examined on a plant, at least 1
	Law    sampling.VarianceLaw
	// CountRho is the correlation of the counts of two leaves of one stop, 0 <=
	// CountRho < 1; where a mean makes it impossible, it is the largest there can be.
	CountRho float64
}

// Check returns an error if a value is out of its range.
func (r Theory) Check() error {
	switch {
	case r.T < 1:
		return sampling.Refusef("tally number %d, must be at least 1", r.T)
	case r.Leaves < 1:
		return sampling.Refuse("leaves per plant", r.Leaves, "at least 1")
	}
	if err := r.Law.Check(); err != nil {
		return err
	}
	return sampling.CheckRho(r.CountRho)
}

// Tally returns T.
func (r Theory) Tally() int { return r.T }

// K returns the negative binomial k per leaf at a mean, +Inf for a Poisson.
func (r Theory) K(mean float64) float64 { return K(r.Law, mean) }

// Share returns the share of plants with a leaf that carries at least T insects.
func (r Theory) Share(mean float64) float64 {
	return r.overStops(mean, func(mean, k float64) float64 {
		p := AtLeast(r.T, mean, k)
		if r.Leaves == 1 {
			return p
		}
		return -math.Expm1(float64(r.Leaves) * math.Log1p(-p))
	})
}

// Spread returns the one share.
func (r Theory) Spread(mean float64) []Chance { return []Chance{{r.Share(mean), 1}} }

// Counted returns how many insects are counted on a plant on average by a scout
// who stops counting on a leaf at T, and on a plant at its first leaf with T.
func (r Theory) Counted(mean float64) float64 { return r.overStops(mean, r.counted) }

// counted is Counted at a stop whose leaves are independent.
func (r Theory) counted(mean, k float64) float64 {
	leaf := 0.0 // E min(X, T) = sum of P(X >= t), t = 1..T
	for t := 1; t <= r.T; t++ {
		p := AtLeast(t, mean, k)
		if leaf += p; p < leaf*1e-17 {
			break
		}
	}
	examined, clear := 0.0, 1-AtLeast(r.T, mean, k)
	for i := range r.Leaves {
		examined += math.Pow(clear, float64(i))
	}
	return leaf * examined
}

// K returns the negative binomial k with a law's variance at a mean:
//
//	k = mean^2 / (variance - mean)
//
// It is +Inf, a Poisson, where the law's variance does not exceed the mean: no
// negative binomial has such a variance.
func K(law sampling.VarianceLaw, mean float64) float64 {
	over := 0.0 // variance/mean - 1, without cancellation near the Poisson
	switch l := law.(type) {
	case sampling.CommonK:
		return l.K
	case sampling.Taylor:
		over = math.Expm1(math.Log(l.A) + (l.B-1)*math.Log(mean))
	case sampling.Iwao:
		over = l.A + (l.B-1)*mean
	default:
		over = law.Variance(mean)/mean - 1
	}
	if !(over > 0) {
		return math.Inf(1)
	}
	return mean / over
}

// manyK is the k up to which the incomplete beta function keeps its digits.
const manyK = 100

// AtLeast returns P(X >= t) for a negative binomial count with the given mean and
// k, k = +Inf being the Poisson: the regularised incomplete beta function
// I(t, k) at mean/(k+mean). t is at least 1.
func AtLeast(t int, mean, k float64) float64 {
	switch {
	case !(mean > 0) || !(k > 0): // with k = 0 all insects are on no leaf at all
		return 0
	case math.IsInf(mean, 1):
		return 1
	case k <= manyK:
		return atLeast(float64(t), mean, k)
	case mean > 100*float64(t+10):
		return 1 // to more than a hundred digits
	}
	return sampling.NegBinomial{Mu: mean, K: k}.Tails(t)[t]
}

func atLeast(t, mean, k float64) float64 {
	x := mean / (k + mean)
	if x > 0.999 { // 1-x would lose digits
		return math.Max(0, 1-mathext.RegIncBeta(k, t, k/(k+mean)))
	}
	return mathext.RegIncBeta(t, k, x)
}
