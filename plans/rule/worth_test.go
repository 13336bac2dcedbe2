package rule

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// Expected values: computed independently outside the project.
func TestExamined(t *testing.T) {
	for _, c := range []struct {
		units  int
		p, rho float64
		most   int
		want   float64
	}{
		{20, .10, .153, 6, 19.4151483475},
		{20, .25, .153, 6, 17.4600610701},
		{20, .25, .153, 8, 18.8255781333},
		{20, .30, .1, 8, 18.5831315241},
		{20, .15, .2, 6, 18.7278977949},
		{10, .5, 0, 3, 5.8671875},
	} {
		if got := (Worth{Cap: c.most}).Examined(sampling.Infested{P: c.p, Rho: c.rho}, c.units); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%+v: %.10f", c, got)
		}
	}
	if got := (Worth{}).Examined(sampling.Infested{P: .5}, 20); got != 20 {
		t.Errorf("without a cap %v", got)
	}
}

// Expected values: computed independently outside the project.
func TestPoints(t *testing.T) {
	for rho, want := range map[float64][]int{
		.2: {0, 2, 4, 4, 5, 6, 6, 6, 7, 7, 7, 8, 8, 9, 9, 9, 10, 10, 11, 11, 12},
		.1: {0, 2, 3, 4, 4, 5, 6, 6, 7, 7, 7, 8, 8, 9, 9, 10, 10, 10, 11, 11, 12},
	} {
		w := Worth{Points: &Points{Lower: .15, Upper: .30, Rho: rho, Units: 20, Top: 12}}
		if got := w.Map(20); !slices.Equal(got, want) {
			t.Errorf("rho %v: %v, want %v", rho, got, want)
		}
	}
}

// Points never fall with the count, stay within 0 and the top for fewer plants
// too, agree with the chances themselves, and the worth of a stop keeps all of its
// probability.
func TestWorth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lower := rapid.Float64Range(0.02, 0.4).Draw(t, "lower")
		upper := lower + rapid.Float64Range(0.05, 0.4).Draw(t, "gap")
		p := Points{Lower: lower, Upper: upper, Rho: rapid.Float64Range(0, 0.6).Draw(t, "rho"), Units: rapid.IntRange(1, 30).Draw(t, "units"), Top: rapid.IntRange(1, 40).Draw(t, "top")}
		w := Worth{Points: &p}
		if err := w.Check(); err != nil {
			t.Fatal(err)
		}
		n := rapid.IntRange(1, p.Units).Draw(t, "seen")
		m := w.Map(n)
		if !slices.IsSorted(m) || m[0] < 0 || n == p.Units && m[0] != 0 || m[n] > p.Top || w.Top(p.Units) != p.Top {
			t.Fatalf("%+v of %d: %v", p, n, m)
		}
		f0, f1 := sampling.Infested{P: lower, Rho: p.Rho}.Stop(n).Probs(n), sampling.Infested{P: upper, Rho: p.Rho}.Stop(n).Probs(n)
		for x := range f0 {
			if want := math.Log(f1[x]/f0[x]) - math.Log(f1[0]/f0[0]); f0[x] > 1e-280 && f1[x] > 1e-280 && math.Abs(p.evidence(n)[x]-want) > 1e-8 {
				t.Fatalf("evidence of %d of %d: %v, want %v", x, n, p.evidence(n)[x], want)
			}
		}
		full0, full1 := sampling.Infested{P: lower, Rho: p.Rho}.Stop(p.Units).Probs(0)[0], sampling.Infested{P: upper, Rho: p.Rho}.Stop(p.Units).Probs(0)[0]
		scale := float64(p.Top) / p.evidence(p.Units)[p.Units]
		for x := range f0 {
			want := scale * (math.Log(f1[x]/f0[x]) - math.Log(full1/full0))
			if f0[x] > 1e-280 && f1[x] > 1e-280 && full0 > 1e-280 && math.Abs(max(want, float64(min(x, 1)))-float64(m[x])) > 0.5+1e-6 {
				t.Fatalf("%d of %d are worth %d, want %v", x, n, m[x], want)
			}
		}
		for _, w := range []Worth{w, {Cap: rapid.IntRange(1, 30).Draw(t, "cap")}} {
			probs := w.Of(sampling.Infested{P: upper, Rho: p.Rho}).Stop(n).Probs(n + p.Top)
			sum := 0.0
			for _, x := range probs {
				sum += x
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Fatalf("%+v: chances sum to %v", w, sum)
			}
		}
	})
}
