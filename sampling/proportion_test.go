package sampling_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

type intervalsReference struct {
	Cases []struct {
		X, N           float64
		Confidence     float64
		Wilson         [2]float64 `json:"wilson"`
		WilsonCC       [2]float64 `json:"wilson_cc"`
		ClopperPearson [2]float64 `json:"clopper_pearson"`
		AgrestiCoull   [2]float64 `json:"agresti_coull"`
		Wald           [2]float64 `json:"wald"`
		MidP           [2]float64 `json:"mid_p"`
	}
	TQuantiles struct {
		P     []float64
		Cases []struct {
			DF float64
			T  []float64
		}
	} `json:"t_quantiles"`
	NormalQuantiles []struct{ P, Z float64 } `json:"normal_quantiles"`
}

// TestProportionAgainstReference compares with mpmath at 40 digits, which agrees
// there with scipy, statsmodels and R (the file names the versions).
func TestProportionAgainstReference(t *testing.T) {
	var ref intervalsReference
	reference(t, "intervals.json", &ref)
	if len(ref.Cases) < 100 {
		t.Fatalf("only %d reference cases", len(ref.Cases))
	}
	for _, c := range ref.Cases {
		for method, want := range map[sampling.Method][2]float64{
			sampling.MethodWilson:          c.Wilson,
			sampling.MethodWilsonCorrected: c.WilsonCC,
			sampling.MethodClopperPearson:  c.ClopperPearson,
			sampling.MethodMidP:            c.MidP,
			sampling.MethodAgrestiCoull:    c.AgrestiCoull,
			sampling.MethodWald:            c.Wald,
		} {
			got, err := sampling.Proportion(method, c.X, c.N, c.Confidence)
			if err != nil {
				t.Errorf("%v %g/%g: %v", method, c.X, c.N, err)
				continue
			}
			if math.Abs(got.Lower-want[0]) > 1e-12 || math.Abs(got.Upper-want[1]) > 1e-12 {
				t.Errorf("%v %g/%g at %g: %.15g %.15g, want %.15g %.15g", method, c.X, c.N, c.Confidence, got.Lower, got.Upper, want[0], want[1])
			}
		}
	}
}

func TestCriticalValuesAgainstReference(t *testing.T) {
	var ref intervalsReference
	reference(t, "intervals.json", &ref)
	if len(ref.TQuantiles.Cases) < 10 || len(ref.NormalQuantiles) < 10 {
		t.Fatal("too few reference quantiles")
	}
	for _, c := range ref.TQuantiles.Cases {
		for i, p := range ref.TQuantiles.P {
			if got := sampling.CriticalStudent(2*p-1, c.DF); apart(got, c.T[i]) > 1e-13 {
				t.Errorf("t quantile %g, df %g: %.16g, want %.16g", p, c.DF, got, c.T[i])
			}
		}
	}
	for _, c := range ref.NormalQuantiles {
		if c.P <= 0.5 {
			continue
		}
		// 1 - (2p-1) rounds p, which costs digits in the far tail.
		if got := sampling.CriticalNormal(2*c.P - 1); apart(got, c.Z) > 1e-13+1e-16/(1-c.P) {
			t.Errorf("normal quantile %g: %.16g, want %.16g", c.P, got, c.Z)
		}
	}
}

// TestProportionPublished compares with printed values at 95% confidence.
func TestProportionPublished(t *testing.T) {
	tests := []struct {
		source       string
		method       sampling.Method
		x, n         float64
		confidence   float64
		lower, upper float64
		tol          float64
	}{
		// Newcombe, R.G. (1998) Stat. Med. 17: 857-872, Table I, from memory.
		{"Newcombe 1998", sampling.MethodWilson, 81, 263, 0.95, .2553, .3662, 5e-5},
		{"Newcombe 1998", sampling.MethodWilsonCorrected, 81, 263, 0.95, .2535, .3682, 5e-5},
		{"Newcombe 1998", sampling.MethodClopperPearson, 81, 263, 0.95, .2527, .3676, 5e-5},
		{"Newcombe 1998", sampling.MethodMidP, 81, 263, 0.95, .2544, .3658, 5e-5},
		{"Newcombe 1998", sampling.MethodWald, 81, 263, 0.95, .2522, .3638, 5e-5},
		{"Newcombe 1998", sampling.MethodWilson, 15, 148, 0.95, .0624, .1605, 5e-5},
		{"Newcombe 1998", sampling.MethodWilsonCorrected, 15, 148, 0.95, .0598, .1644, 5e-5},
		{"Newcombe 1998", sampling.MethodClopperPearson, 15, 148, 0.95, .0578, .1617, 5e-5},
		{"Newcombe 1998", sampling.MethodMidP, 15, 148, 0.95, .0601, .1581, 5e-5},
		{"Newcombe 1998", sampling.MethodWald, 15, 148, 0.95, .0527, .1500, 5e-5},
		{"Newcombe 1998", sampling.MethodWilson, 0, 20, 0.95, 0, .1611, 5e-5},
		{"Newcombe 1998", sampling.MethodWilsonCorrected, 0, 20, 0.95, 0, .2005, 5e-5},
		{"Newcombe 1998", sampling.MethodClopperPearson, 0, 20, 0.95, 0, .1684, 5e-5},
		{"Newcombe 1998", sampling.MethodMidP, 0, 20, 0.95, 0, .1391, 5e-5},
		{"Newcombe 1998", sampling.MethodWald, 0, 20, 0.95, 0, 0, 0},
		{"Newcombe 1998", sampling.MethodWilson, 1, 29, 0.95, .0061, .1718, 5e-5},
		{"Newcombe 1998", sampling.MethodWilsonCorrected, 1, 29, 0.95, .0018, .1963, 5e-5},
		{"Newcombe 1998", sampling.MethodClopperPearson, 1, 29, 0.95, .0009, .1776, 5e-5},
		{"Newcombe 1998", sampling.MethodMidP, 1, 29, 0.95, .0017, .1585, 5e-5},
		{"Newcombe 1998", sampling.MethodWald, 1, 29, 0.95, 0, .1009, 5e-5},
		// scipy documentation, binomtest(7, 50), and R binom.test.
		{"scipy documentation", sampling.MethodClopperPearson, 7, 50, 0.95, .0581917, .2673960, 5e-8},
		{"scipy documentation", sampling.MethodWilson, 7, 50, 0.95, .0695083, .2618619, 5e-8},
		// R prop.test(7, 50).
		{"R prop.test", sampling.MethodWilsonCorrected, 7, 50, 0.95, .0627701, .2735638, 5e-8},
		// NIST/SEMATECH e-Handbook, 7.2.4.1, 90%, from memory; the last printed
		// digit of the upper limit is one too high.
		{"NIST 7.2.4.1", sampling.MethodClopperPearson, 4, 20, 0.90, .071354, .401029, 1.1e-6},
	}
	for _, test := range tests {
		got, err := sampling.Proportion(test.method, test.x, test.n, test.confidence)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.Lower-test.lower) > test.tol || math.Abs(got.Upper-test.upper) > test.tol {
			t.Errorf("%s, %v %g/%g: %.7f %.7f, printed %g %g", test.source, test.method, test.x, test.n, got.Lower, got.Upper, test.lower, test.upper)
		}
	}
}

// TestCoveragePublished: exact coverage of the 95% Wald interval printed by Brown,
// L.D., Cai, T.T. & DasGupta, A. (2001) Stat. Sci. 16: 101-133 (from memory).
func TestCoveragePublished(t *testing.T) {
	tests := []struct {
		n       int
		p, want float64
	}{
		{17, 0.5, .951}, {18, 0.5, .904}, {40, 0.5, .919}, {30, 0.2, .946}, {98, 0.2, .928},
	}
	for _, test := range tests {
		if got := coverage(t, sampling.MethodWald, test.n, test.p); math.Abs(got-test.want) > 5e-4 {
			t.Errorf("n %d, p %g: coverage %.4f, printed %.3f", test.n, test.p, got, test.want)
		}
	}
}

// coverage returns the exact chance that the 95% interval contains p.
func coverage(t *testing.T, method sampling.Method, n int, p float64) float64 {
	sum := 0.0
	for x, prob := range (sampling.Binomial{Plants: n, P: p}).Probs(n) {
		in, err := sampling.Proportion(method, float64(x), float64(n), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if in.Lower <= p && p <= in.Upper {
			sum += prob
		}
	}
	return sum
}

// TestClopperPearsonCovers: its confidence is at least the nominal one, whatever p.
func TestClopperPearsonCovers(t *testing.T) {
	for _, n := range []int{1, 7, 20, 80} {
		for p := 0.0; p <= 1; p += 0.01 {
			if got := coverage(t, sampling.MethodClopperPearson, n, p); got < 0.95-1e-12 {
				t.Errorf("n %d, p %g: coverage %g", n, p, got)
			}
		}
	}
}

func TestIntervalLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		method := rapid.SampledFrom(sampling.Methods()).Draw(t, "method")
		n := rapid.Float64Range(0.1, 2000).Draw(t, "plants")
		// n - x of a share very near 0 would be rounded to n.
		x := n * rapid.OneOf(rapid.Just(0.0), rapid.Just(1.0), rapid.Float64Range(1e-6, 1-1e-6)).Draw(t, "share")
		if rapid.Bool().Draw(t, "whole") {
			n = math.Ceil(n)
			x = math.Min(n, math.Round(x))
		}
		conf := rapid.Float64Range(0.5, 0.9999).Draw(t, "confidence")
		in, err := sampling.Proportion(method, x, n, conf)
		if err != nil {
			t.Fatal(err)
		}
		if !(in.Lower >= 0 && in.Lower <= in.Upper && in.Upper <= 1) {
			t.Fatalf("%v: %v", method, in)
		}
		p := x / n
		if p < in.Lower-1e-12 || p > in.Upper+1e-12 {
			t.Fatalf("%v: the estimate %g is outside %v", method, p, in)
		}
		other, err := sampling.Proportion(method, n-x, n, conf)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(in.Lower-(1-other.Upper)) > 1e-9 || math.Abs(in.Upper-(1-other.Lower)) > 1e-9 {
			t.Fatalf("%v: %v for infested, %v for clean plants", method, in, other)
		}
		wider, err := sampling.Proportion(method, x, n, conf+(1-conf)/2)
		if err != nil {
			t.Fatal(err)
		}
		if wider.Lower > in.Lower+1e-12 || wider.Upper < in.Upper-1e-12 {
			t.Fatalf("%v: %v at higher confidence, %v", method, wider, in)
		}
	})
}

// TestExactLimitsByDefinition puts the limits back into the tails they solve.
func TestExactLimitsByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "plants")
		x := rapid.IntRange(0, n).Draw(t, "infested")
		conf := 1 - math.Exp(rapid.Float64Range(math.Log(1e-12), math.Log(0.5)).Draw(t, "ln risk"))
		risk := (1 - conf) / 2
		cp, err := sampling.Proportion(sampling.MethodClopperPearson, float64(x), float64(n), conf)
		if err != nil {
			t.Fatal(err)
		}
		mid, err := sampling.Proportion(sampling.MethodMidP, float64(x), float64(n), conf)
		if err != nil {
			t.Fatal(err)
		}
		if x > 0 {
			if got := (sampling.Binomial{Plants: n, P: cp.Lower}).Tails(n)[x]; apart(got, risk) > 1e-9 {
				t.Fatalf("P(X >= x) at the lower limit %g, want %g", got, risk)
			}
			d := sampling.Binomial{Plants: n, P: mid.Lower}
			if got := d.Tails(n)[x] - d.Probs(n)[x]/2; apart(got, risk) > 1e-8 {
				t.Fatalf("mid-P tail at the lower limit %g, want %g", got, risk)
			}
		}
		if x < n {
			// Clean plants keep the digits of P(X <= x); 1 - Upper has lost some.
			slack := 1e-9 + 1e-15*float64(n)/(1-cp.Upper)
			if got := (sampling.Binomial{Plants: n, P: 1 - cp.Upper}).Tails(n)[n-x]; apart(got, risk) > slack {
				t.Fatalf("P(X <= x) at the upper limit %g, want %g", got, risk)
			}
		}
	})
}

func TestMethodNames(t *testing.T) {
	for _, m := range sampling.Methods() {
		got, err := sampling.ParseMethod(m.String())
		if err != nil || got != m {
			t.Errorf("%v: got %v, %v", m, got, err)
		}
		if m.TeachingOnly() != (m == sampling.MethodWald) {
			t.Errorf("%v: teaching only %v", m, m.TeachingOnly())
		}
	}
	if _, err := sampling.ParseMethod("score"); err == nil {
		t.Error("unknown name accepted")
	}
	if s := sampling.Method(99).String(); s != "Method(99)" {
		t.Errorf("got %q", s)
	}
}

func TestProportionRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range [][3]float64{
		{-1, 20, .95}, {21, 20, .95}, {0, 0, .95}, {1, 20, 0}, {1, 20, 1}, {1, 20, 95},
		{nan, 20, .95}, {1, nan, .95}, {1, 20, nan}, {1, math.Inf(1), .95},
	} {
		if in, err := sampling.Proportion(sampling.MethodWilson, c[0], c[1], c[2]); err == nil {
			t.Errorf("%v accepted: %v", c, in)
		}
	}
	if _, err := sampling.Proportion(sampling.Method(99), 1, 20, 0.95); err == nil {
		t.Error("unknown method accepted")
	}
}

func BenchmarkProportion(b *testing.B) {
	for _, m := range sampling.Methods() {
		b.Run(fmt.Sprintf("method=%v", m), func(b *testing.B) {
			for b.Loop() {
				if _, err := sampling.Proportion(m, 12, 80, 0.95); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
