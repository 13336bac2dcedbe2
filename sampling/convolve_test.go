package sampling_test

import (
	"slices"
	"testing"

	"stopwise/sampling"
)

// Short distributions are added up term by term, so that the smallest chances keep their
// digits, which the Fourier transform loses; long ones, which would take seconds, are not.
func TestConvolveLong(t *testing.T) {
	stop := sampling.Counts{Mean: 60, K: 0.8}.Stop(40)
	short, long := stop.Probs(sampling.FFTFrom-1), stop.Probs(2*sampling.FFTFrom)
	for _, b := range [][]float64{short, long} {
		if !slices.Equal(sampling.ConvolveLong(short, b), sampling.Convolve(short, b)) {
			t.Errorf("%d and %d totals are not added up term by term", len(short), len(b))
		}
	}
	if !slices.Equal(sampling.ConvolveLong(long, long), sampling.ConvolveFFT(long, long)) {
		t.Errorf("%d totals twice do not go through the Fourier transform", len(long))
	}
}
