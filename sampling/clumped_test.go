package sampling_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

func closeTo(in sampling.Interval, lower, upper, tol float64) bool {
	return math.Abs(in.Lower-lower) <= tol && math.Abs(in.Upper-upper) <= tol
}

// TestClumpedIntervals compares with statsmodels 0.13.5 (proportion_confint at the
// effective size) and numpy 1.24.2 with scipy 1.10.1 (variance of the linearised
// stop values, t.ppf).
func TestClumpedIntervals(t *testing.T) {
	infested, plants := []int{3, 5, 2, 9}, []int{20, 20, 18, 20}
	got, err := sampling.ClumpedProportion(sampling.MethodWilson, infested, plants, 0.1, 0.95)
	if err != nil || !closeTo(got, 0.11971510809429356, 0.426704472808461, 1e-10) {
		t.Errorf("Wilson at the effective size: %v, %v", got, err)
	}
	got, err = sampling.ClumpedProportion(sampling.MethodClopperPearson, infested, plants, 0.1, 0.95)
	if err != nil || !closeTo(got, 0.09965541615040527, 0.4420380946892821, 1e-10) {
		t.Errorf("Clopper-Pearson at the effective size: %v, %v", got, err)
	}
	got, err = sampling.BetweenStops(infested, plants, 0.95)
	if err != nil || !closeTo(got, 0.0022169777503253663, 0.4849625094291618, 1e-10) {
		t.Errorf("between stops: %v, %v", got, err)
	}
}

// TestClumpingWidens: more clumping, a wider interval; none, the plain one.
func TestClumpingWidens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stops := rapid.IntRange(1, 8).Draw(t, "stops")
		infested, plants := make([]int, stops), make([]int, stops)
		x, n := 0, 0
		for j := range plants {
			plants[j] = 15
			infested[j] = rapid.IntRange(0, 15).Draw(t, "infested")
			x, n = x+infested[j], n+plants[j]
		}
		plain, err := sampling.Proportion(sampling.MethodWilson, float64(x), float64(n), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		before := plain
		for _, rho := range []float64{0, 1e-12, 0.05, 0.3, 0.9} {
			in, err := sampling.ClumpedProportion(sampling.MethodWilson, infested, plants, rho, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if rho < 1e-9 && !closeTo(in, plain.Lower, plain.Upper, 1e-9) {
				t.Fatalf("rho %g: %v, without clumping %v", rho, in, plain)
			}
			if in.Upper-in.Lower < before.Upper-before.Lower-1e-9 {
				t.Fatalf("rho %g: %v is narrower than %v", rho, in, before)
			}
			before = in
		}
	})
}

func TestStopsAlike(t *testing.T) {
	if in, err := sampling.BetweenStops([]int{5, 10, 5}, []int{10, 20, 10}, 0.95); !errors.Is(err, sampling.ErrNoSpread) {
		t.Errorf("got %v, %v", in, err)
	}
}

func TestStopIntervalsRefuse(t *testing.T) {
	for _, c := range []struct{ infested, plants []int }{
		{nil, nil}, {[]int{1}, []int{20}}, {[]int{1, 2}, []int{20}}, {[]int{1, 21}, []int{20, 20}}, {[]int{1, -1}, []int{20, 20}}, {[]int{0, 0}, []int{20, 0}},
	} {
		if in, err := sampling.BetweenStops(c.infested, c.plants, 0.95); err == nil {
			t.Errorf("%v accepted: %v", c, in)
		}
	}
	if _, err := sampling.BetweenStops([]int{1, 2}, []int{20, 20}, 0); err == nil {
		t.Error("confidence 0 accepted")
	}
	if _, err := sampling.ClumpedProportion(sampling.MethodWilson, []int{1}, []int{20}, 1, 0.95); err == nil {
		t.Error("rho 1 accepted")
	}
	if _, err := sampling.ClumpedProportion(sampling.MethodWilson, nil, nil, 0.1, 0.95); err == nil {
		t.Error("no stops accepted")
	}
}

func TestVarianceLaws(t *testing.T) {
	tests := []struct {
		law  sampling.VarianceLaw
		mean float64
		want float64
		text string
	}{
		{sampling.CommonK{K: 2}, 4, 12, "negative binomial with k = 2, variance = mean + mean^2/k"},
		{sampling.CommonK{K: math.Inf(1)}, 4, 4, "Poisson, variance = mean"},
		{sampling.Taylor{A: 2, B: 1.5}, 4, 16, "Taylor's power law with a = 2 and b = 1.5, variance = a mean^b"},
		{sampling.Iwao{A: 0.5, B: 1.25}, 4, 10, "Iwao's law with A = 0.5 and B = 1.25, variance = (A+1) mean + (B-1) mean^2"},
	}
	for _, test := range tests {
		if err := test.law.Check(); err != nil {
			t.Error(err)
		}
		if got := test.law.Variance(test.mean); got != test.want {
			t.Errorf("%v: variance %g at mean %g, want %g", test.law, got, test.mean, test.want)
		}
		if got := test.law.String(); got != test.text {
			t.Errorf("got %q, want %q", got, test.text)
		}
	}
	nan := math.NaN()
	for _, law := range []sampling.VarianceLaw{
		sampling.CommonK{}, sampling.CommonK{K: math.NaN()}, sampling.Taylor{A: 0, B: 1}, sampling.Taylor{A: nan, B: 1}, sampling.Taylor{A: 1, B: nan},
		sampling.Iwao{A: -1, B: 1}, sampling.Iwao{A: 0, B: math.NaN()},
	} {
		if law.Check() == nil {
			t.Errorf("%#v accepted", law)
		}
	}
}
