package sampling

import (
	"gonum.org/v1/gonum/floats"
)

// Misread is a field of infested plants as a scout sees it who takes some plants
// for what they are not, each plant independently of the others. Its Level is
// the truth, its stop totals are what is written down.
type Misread struct {
	Truth      Infested
	Overlooked float64 // share of the infested plants that are taken for clean ones
	FalseAlarm float64 // share of the clean plants that are taken for infested ones
}

// Level returns the true share infested.
func (m Misread) Level() float64 { return m.Truth.Level() }

// Stop returns the number of plants written down as infested among units: of x
// infested ones Bin(x, 1-Overlooked), and of the others Bin(units-x, FalseAlarm).
// It takes about units^3 steps.
func (m Misread) Stop(units int) StopTotal {
	seen := make(Discrete, units+1)
	for x, p := range m.Truth.Stop(units).Probs(units) {
		if p == 0 {
			continue
		}
		hits := binomial(x, 1-m.Overlooked)
		alarms := binomial(units-x, m.FalseAlarm)
		floats.AddScaled(seen, p, Convolve(hits, alarms))
	}
	return seen
}

func binomial(n int, p float64) []float64 {
	if n == 0 {
		return []float64{1}
	}
	return Binomial{Plants: n, P: p}.Probs(n)
}

// MisreadCounts is a field of insects as a scout sees it who overlooks each
// insect with a given chance. A negative binomial so thinned is one with the
// same k (Anscombe, F.J. 1949, The statistical analysis of insect counts based
// on the negative binomial distribution. Biometrics 5: 165-173).
type MisreadCounts struct {
	Truth      AlikeCounts // Rho may be 0
	Overlooked float64     // share of the insects that are not counted
}

// Level returns the true mean per unit.
func (m MisreadCounts) Level() float64 { return m.Truth.Mean }

// Stop returns the number of insects counted on units units.
func (m MisreadCounts) Stop(units int) StopTotal {
	c := m.Truth
	counted := 1 - m.Overlooked
	if c.Rho == 0 {
		return Counts{Mean: c.Mean * counted, K: c.K}.Stop(units)
	}
	// The covariance of two units falls with the square of the share counted,
	// their variance by less.
	over := c.Mean / c.K // variance per mean, above Poisson's
	c.Rho *= counted * (1 + over) / (1 + counted*over)
	c.Mean *= counted
	return c.Stop(units)
}
