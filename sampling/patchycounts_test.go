package sampling_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// TestPatchyCountsProperties: mean and variance of every total are those of
// alike counts without patches, from the formula and from the probabilities.
func TestPatchyCountsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean := math.Exp(rapid.Float64Range(-3, 3).Draw(t, "ln mean"))
		k := math.Exp(rapid.Float64Range(-1, 3).Draw(t, "ln k"))
		rho := sampling.MaxCountRho(mean, k) * rapid.Float64Range(0, 1).Draw(t, "share of the limit")
		inside := rho * rapid.Float64Range(0, 1).Draw(t, "inside")
		units := rapid.IntRange(1, 20).Draw(t, "units")
		f := sampling.PatchyCounts{Mean: mean, K: k, Rho: rho, Inside: inside}
		if p := f.Patch(); p.Rho > sampling.MaxCountRho(p.Mean, p.K)+1e-7 {
			t.Fatalf("no such patch: %+v", p)
		}
		d, want := f.Stop(units), sampling.AlikeCounts{Mean: mean, K: k, Rho: rho}.Stop(units)
		if apart(d.Mean(), want.Mean()) > 1e-12 || apart(d.Variance(), want.Variance()) > 1e-9 {
			t.Fatalf("mean %g for %g, variance %g for %g", d.Mean(), want.Mean(), d.Variance(), want.Variance())
		}
		n := int(d.Mean() + 60*math.Sqrt(d.Variance()) + 20)
		p, tails := d.Probs(n), d.Tails(n)
		m := 0.0
		for x := 1; x <= n; x++ {
			m += tails[x]
			if math.Abs(tails[x-1]-p[x-1]-tails[x]) > 1e-12 {
				t.Fatalf("tail at %d: %g, %g and %g", x, tails[x-1], p[x-1], tails[x])
			}
		}
		if apart(m, d.Mean()) > 1e-5 {
			t.Fatalf("mean by the tails %g, want %g", m, d.Mean())
		}
	})
}

func TestPatchyCountsLimits(t *testing.T) {
	// Mean 2, k 1, so v = 6; correlation 1/3: w = 4/(4+2) = 2/3, mean in a patch
	// 3, variance (6+4)/(2/3) - 9 = 6, k = 9/3 = 3 (by hand).
	f := sampling.PatchyCounts{Mean: 2, K: 1, Rho: 1 / 3.0}
	p := f.Patch()
	for _, c := range []struct{ got, want float64 }{{f.Share(), 2 / 3.0}, {p.Mean, 3}, {p.K, 3}, {p.Rho, 0}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%g, want %g", c.got, c.want)
		}
	}
	if d := (sampling.PatchyCounts{Mean: 0, K: 1}).Stop(3).Probs(1); d[0] != 1 {
		t.Errorf("mean 0: %g", d)
	}
	for _, c := range []struct {
		law  sampling.VarianceLaw
		want float64
	}{
		{sampling.CommonK{K: .8}, .8}, {sampling.Taylor{A: 2, B: 1.5}, 1}, {sampling.Taylor{A: 1, B: 1}, math.Inf(1)},
		{sampling.Iwao{A: 1, B: 2}, .5},
	} {
		if got := sampling.KAt(c.law, 1); math.Abs(got-c.want) > 1e-14 && got != c.want {
			t.Errorf("%s: k %g at mean 1, want %g", c.law, got, c.want)
		}
	}
}
