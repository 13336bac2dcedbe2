package validate

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/plans"
	"stopwise/sampling"
)

// A counter is a plan with what its stops count.
type counter struct {
	*plans.StagePlan
	planned int // plants at a stop
	value   func(count, units int) int
	// within is the k of the counts of single units about the mean of their stop: +Inf
	// for Poisson counts. It says how the insects of a stop lie on its plants.
	within float64
}

// newCounter returns the counter of a plan in a field.
func newCounter(s *plans.StagePlan, field sampling.Population) counter {
	return counter{s, s.Plants(), s.Worth.Values(s.Table.Units), within(field)}
}

// within returns that k of a field; +Inf for shares infested, where it says nothing.
func within(field sampling.Population) float64 {
	switch f := field.(type) {
	case sampling.AlikeCounts:
		return f.WithinK()
	case sampling.Counts:
		return f.K
	case sampling.PatchyCounts:
		return f.Patch().WithinK()
	case sampling.MisreadCounts:
		return within(f.Truth) // to overlook some takes nothing from how they vary
	}
	return math.Inf(1)
}

// looked returns the plants that a scout looks at of a stop where so much is found on
// them: no more than until a cap is reached. They lie in any order.
func (c counter) looked(found, plants int, r *rand.Rand) (looked int, ended bool) {
	most := c.Worth.Cap
	if most == 0 || found < most {
		return plants, false
	}
	if !c.Measure.Bounded() {
		left := found
		for looked = 0; found-left < most; looked++ {
			left -= c.onPlant(left, plants-looked, r)
		}
		return looked, true
	}
	for left := most; left > 0; looked++ {
		if r.Float64()*float64(plants-looked) < float64(found-most+left) {
			left--
		}
	}
	return looked, true
}

// onPlant draws how many of the insects on so many plants of a stop are on the first
// of them. Negative binomial counts given their sum are a beta mixture of binomials,
// Poisson counts a binomial (Johnson, N.L., Kemp, A.W. & Kotz, S. 2005, Univariate
// Discrete Distributions, 5.12.3; from memory).
func (c counter) onPlant(insects, plants int, r *rand.Rand) int {
	if plants == 1 || insects == 0 {
		return insects
	}
	share := 1 / float64(plants)
	if !math.IsInf(c.within, 1) {
		k := c.within * float64(c.UnitsPerPlant())
		share = distuv.Beta{Alpha: k, Beta: k * float64(plants-1), Src: r}.Rand()
	}
	if !(share > 0 && share < 1) {
		return int(math.Round(share)) * insects
	}
	return int(distuv.Binomial{N: float64(insects), P: share, Src: r}.Rand())
}
