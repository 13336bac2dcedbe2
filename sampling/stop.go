package sampling

import "gonum.org/v1/gonum/floats"

// Unbounded is the Max of a total that has no largest value.
const Unbounded = -1

// A StopTotal is the distribution of the total X a scout records at one stop:
// infested plants, or insects. It is all that a plan needs to know of a field.
type StopTotal interface {
	// Mean returns E(X).
	Mean() float64
	// Variance returns Var(X).
	Variance() float64
	// Max returns the largest total that can be seen, or Unbounded.
	Max() int
	// Probs returns P(X = x) for x = 0..n. Entries beyond Max are 0.
	Probs(n int) []float64
	// Tails returns P(X >= x) for x = 0..n. It is summed from the upper end,
	// so that small tails keep their digits.
	Tails(n int) []float64
}

// A Population is the truth of a field: it says how the total of a stop is
// distributed for any number of units (plants, or leaves) examined there.
type Population interface {
	// Stop returns the distribution of the total of units examined units.
	// units must be at least 1.
	Stop(units int) StopTotal
	// Level returns what a threshold is set on: the share of plants infested,
	// or the mean count per unit.
	Level() float64
}

// An Additive population's totals add up: the total of two stops is distributed
// as that of one stop with the units of both.
type Additive interface {
	Population
	// Additive marks the population; it does nothing.
	Additive()
}

// A Filler is a population that writes the distribution of a stop into the caller's
// memory: whoever asks for thousands of them makes no garbage.
type Filler interface {
	Population
	// Fill sets p[x] = P(X = x) of units examined units, for x = 0..units = len(p)-1.
	Fill(p []float64)
}

// fromRatios returns P(0), ..., P(n) for a distribution on 0..n that is known
// by its ratios P(x+1)/P(x). It starts at the mode and normalises, so every
// term is positive and no digits are lost to cancellation or to log-gamma
// differences.
func fromRatios(n, mode int, ratio func(x int) float64) []float64 {
	p := make([]float64, n+1)
	fillRatios(p, mode, ratio)
	return p
}

// fillRatios is [fromRatios] into zeros.
func fillRatios(p []float64, mode int, ratio func(x int) float64) {
	n := len(p) - 1
	p[mode] = 1
	for x := mode; x < n && p[x] > 0; x++ {
		p[x+1] = p[x] * ratio(x)
	}
	for x := mode; x > 0 && p[x] > 0; x-- {
		p[x-1] = p[x] / ratio(x-1)
	}
	floats.Scale(1/floats.Sum(p), p)
}

// resized returns p cut or padded with zeros to n+1 entries, p itself where it has
// as many.
func resized(p []float64, n int) []float64 {
	if len(p) == n+1 {
		return p
	}
	out := make([]float64, n+1)
	copy(out, p)
	return out
}

// suffixSums returns t[x] = p[x] + p[x+1] + ... + rest.
func suffixSums(p []float64, rest float64) []float64 {
	t := make([]float64, len(p))
	for x := len(p) - 1; x >= 0; x-- {
		rest += p[x]
		t[x] = rest
	}
	return t
}
