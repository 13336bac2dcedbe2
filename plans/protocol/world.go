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

// PopulationIn is [World.Population] in the memory of a share's field, so that many
// worlds in turn make no garbage. It holds until the memory is used again.
func (w World) PopulationIn(share *sampling.Infested) sampling.Population {
	if w.Counts || w.CountRho > 0 {
		return w.Population()
	}
	*share = sampling.Infested{P: w.Level, Rho: w.Clump}
	return share
}

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

// Patchy returns the field with the same level, and units of a stop as alike, in
// which the pest sits in patches and nowhere else: what makes units alike is
// whether the stop lies in a patch.
func (w World) Patchy() sampling.Population {
	if w.Counts {
		return sampling.PatchyCounts{Mean: w.Level, K: w.Clump, Rho: w.CountRho}
	}
	return sampling.Patches{P: w.Level, Rho: w.Clump}
}

// Misread returns the field as a scout sees it who overlooks a share of the infested
// plants, or of the insects, and takes a share of the clean plants for infested ones
// (of no meaning for counts).
func (w World) Misread(overlooked, falseFinds float64) sampling.Population {
	if w.Counts {
		return sampling.MisreadCounts{Truth: sampling.AlikeCounts{Mean: w.Level, K: w.Clump, Rho: w.CountRho}, Overlooked: overlooked}
	}
	return sampling.Misread{Truth: sampling.Infested{P: w.Level, Rho: w.Clump}, Overlooked: overlooked, FalseAlarm: falseFinds}
}
