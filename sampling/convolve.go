package sampling

import "gonum.org/v1/gonum/dsp/fourier"

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

// FFTFrom is the length of distributions from which on the fast Fourier transform is the
// quicker way to the distribution of a sum.
const FFTFrom = 1500

// ConvolveLong is [ConvolveFFT] where both distributions are longer than [FFTFrom], and
// else [Convolve].
func ConvolveLong(a, b []float64) []float64 {
	if min(len(a), len(b)) > FFTFrom {
		return ConvolveFFT(a, b)
	}
	return Convolve(a, b)
}

// ConvolveFFT returns what [Convolve] does in about n log n steps, by fast
// Fourier transform, with an absolute error of about 1e-15: digits of very small
// probabilities are lost, so it is for distributions of thousands of totals
// whose sums count.
func ConvolveFFT(a, b []float64) []float64 {
	n := len(a) + len(b) - 1
	size := 1
	for size < n {
		size *= 2
	}
	t := fourier.NewFFT(size)
	pad := func(x []float64) []complex128 {
		p := make([]float64, size)
		copy(p, x)
		return t.Coefficients(nil, p)
	}
	fa, fb := pad(a), pad(b)
	for i := range fa {
		fa[i] *= fb[i]
	}
	out := t.Sequence(nil, fa)[:n]
	for i := range out {
		out[i] = max(0, out[i]/float64(size))
	}
	return out
}
