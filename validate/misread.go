package validate

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"stopwise/plans"
	"stopwise/sampling"
)

// Misread is a field of infested plants as a scout sees it who takes some plants
// for what they are not, each plant independently of the others. Its Level is
// the truth, its stop totals are what is written down.
type Misread struct {
	Truth      sampling.Infested
	Overlooked float64 // share of the infested plants that are taken for clean ones
	FalseAlarm float64 // share of the clean plants that are taken for infested ones
}

// Level returns the true share infested.
func (m Misread) Level() float64 { return m.Truth.Level() }

// Stop returns the number of plants written down as infested among units: of x
// infested ones Bin(x, 1-Overlooked), and of the others Bin(units-x, FalseAlarm).
// It takes about units^3 steps.
func (m Misread) Stop(units int) sampling.StopTotal {
	seen := make(discrete, units+1)
	for x, p := range m.Truth.Stop(units).Probs(units) {
		if p == 0 {
			continue
		}
		hits := binomial(x, 1-m.Overlooked)
		alarms := binomial(units-x, m.FalseAlarm)
		floats.AddScaled(seen, p, sampling.Convolve(hits, alarms))
	}
	return seen
}

func binomial(n int, p float64) []float64 {
	if n == 0 {
		return []float64{1}
	}
	return sampling.Binomial{Plants: n, P: p}.Probs(n)
}

// MisreadCounts is a field of insects as a scout sees it who overlooks each
// insect with a given chance. A negative binomial so thinned is one with the
// same k (Anscombe, F.J. 1949, The statistical analysis of insect counts based
// on the negative binomial distribution. Biometrics 5: 165-173).
type MisreadCounts struct {
	Truth      plans.World
	Overlooked float64 // share of the insects that are not counted
}

// Level returns the true mean per unit.
func (m MisreadCounts) Level() float64 { return m.Truth.Level }

// Stop returns the number of insects counted on units units.
func (m MisreadCounts) Stop(units int) sampling.StopTotal {
	w := m.Truth
	counted := 1 - m.Overlooked
	if w.CountRho > 0 {
		// The covariance of two units falls with the square of the share counted,
		// their variance by less.
		over := w.Level / w.Clump // variance per mean, above Poisson's
		w.CountRho *= counted * (1 + over) / (1 + counted*over)
	}
	w.Level *= counted
	return w.Population().Stop(units)
}

// Patches is a field where the pest sits in patches and nowhere else: a stop
// lies in a patch or sees nothing. Share infested and correlation of two plants
// at a stop are those of the beta-binomial with the same P and Rho; all that
// differs is the form. Inside a patch a share q = P + Rho (1-P) is infested, and
// a stop lies in one with chance P/q: the two-point distribution with mean P and
// variance Rho P (1-P).
type Patches struct {
	P   float64
	Rho float64
}

// Level returns P.
func (f Patches) Level() float64 { return f.P }

// Stop returns the number of infested plants among units.
func (f Patches) Stop(units int) sampling.StopTotal {
	q := f.P + f.Rho*(1-f.P)
	if f.P == 0 {
		return discrete(binomial(units, 0))
	}
	in := math.Min(1, f.P/q)
	d := discrete(binomial(units, q))
	floats.Scale(in, d)
	d[0] += 1 - in
	return d
}
