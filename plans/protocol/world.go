package protocol

import "stopwise/sampling"

// A World is a field situation a plan is judged in: the level of the pest and
// how clumped it is.
type World struct {
	Level    float64 // share infested, or mean per leaf
	Clump    float64 // rho for shares; k for means (+Inf: Poisson)
	CountRho float64 // for means: the correlation of two units' counts at one stop
	Counts   bool    // the stop totals are insect counts, not infested plants
}

// Population returns the distribution of stop totals in the world.
func (w World) Population() sampling.Population { return population(w) }

// population is the one place where a world becomes a distribution.
func population(w World) sampling.Population {
	if w.CountRho > 0 {
		return sampling.AlikeCounts{Mean: w.Level, K: w.Clump, Rho: w.CountRho}
	}
	if w.Counts {
		return sampling.Counts{Mean: w.Level, K: w.Clump}
	}
	return sampling.Infested{P: w.Level, Rho: w.Clump}
}

// Value names the world's degree of clumping.
func (w World) Value() ClumpValue { return ClumpValue{w.Counts, w.Clump, w.CountRho} }
