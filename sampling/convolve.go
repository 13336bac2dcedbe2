package sampling

// Convolve returns the distribution of the sum of two independent totals with
// probabilities a (from 0) and b (from 0). All terms are positive, so relative
// accuracy is kept. It takes len(a)*len(b) steps.
func Convolve(a, b []float64) []float64 {
	out := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		if x == 0 {
			continue
		}
		row := out[i : i+len(b)]
		for j, y := range b {
			row[j] += x * y
		}
	}
	return out
}

// Total returns the distribution of the total over stops independent stops
// whose totals are bounded.
func Total(stop StopTotal, stops int) []float64 {
	one := stop.Probs(stop.Max())
	sum := []float64{1}
	for range stops {
		sum = Convolve(sum, one)
	}
	return sum
}
