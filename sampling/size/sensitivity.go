package size

import (
	"slices"
)

// A Sensitivity shows what becomes of an answer if a quantity that was assumed
// is something else.
type Sensitivity struct {
	Of   string // the quantity, for example "rho" or "k"
	Rows []SensitivityRow
}

// A SensitivityRow is one value of the assumed quantity.
type SensitivityRow struct {
	Value float64 // what the quantity might be
	// Assumed marks the row of the answer itself.
	Assumed bool
	// Stops and Plants are what would be needed if Value were true; 0 where no
	// sample within reach does it.
	Stops, Plants int
	// Reached is what the answer's own stops reach if Value is true, in the
	// terms of the question: half-width, relative precision, or confidence.
	// For a classification it is the chance of a needless treatment at the
	// lower bound.
	Reached float64
	// ReachedMissed is, for a classification, the chance of a missed treatment
	// at the upper bound; otherwise 0.
	ReachedMissed float64
}

// rhosAround returns the values of rho that are shown beside rho; rho plays no
// part where a stop is one plant.
func rhosAround(rho float64, plantsPerStop int) []float64 {
	if plantsPerStop == 1 {
		return []float64{rho}
	}
	return around(rho, 0, 0.05, 0.1, 0.2, 0.3)
}

// around returns the values with the assumed one among them, in order.
func around(assumed float64, values ...float64) []float64 {
	if !slices.Contains(values, assumed) {
		values = append(values, assumed)
	}
	slices.Sort(values)
	return values
}
