package fit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The sum of logarithms is what its definition says, term by term, however small or
// large the products become.
func TestSumOfLogs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		totals := rapid.SliceOfN(rapid.IntRange(0, rapid.SampledFrom([]int{3, 20, 900}).Draw(t, "most")), 1, 40).Draw(t, "totals")
		var n []float64
		for _, x := range totals {
			n = countAt(n, x)
		}
		n = above(n)
		x := rapid.SampledFrom([]float64{1e-130, 1e-12, 0.003, 0.2, 0.97, 1}).Draw(t, "x")
		step := rapid.SampledFrom([]float64{0, 1e-9, 0.01, 0.2, 50}).Draw(t, "step")
		want, size := 0.0, 1.0
		for r, stops := range n {
			term := stops * math.Log(x+float64(r)*step)
			want, size = want+term, size+math.Abs(term)
		}
		if got := sumOfLogs(n, x, step); math.Abs(got-want) > 1e-13*size {
			t.Fatalf("%.17g, term by term %.17g", got, want)
		}
	})
}

// A field of 12 stops of 20 plants.
func BenchmarkFitRho(b *testing.B) {
	stops := []StopCount{}
	for _, x := range []int{3, 0, 5, 1, 8, 2, 4, 6, 0, 3, 2, 7} {
		stops = append(stops, StopCount{20, x})
	}
	for b.Loop() {
		if _, err := FitRho(stops, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
