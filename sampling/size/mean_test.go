package size_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
	"stopwise/sampling/size"
)

// TestMeanAnchors: the formulas of Karandinos, M.G. (1976) Bull. Entomol. Soc. Am.
// 22: 417-421, Ruesink (1980) and Iwao & Kuno (1968), values computed independently
// outside the project. The last two are points of the stop lines of Green, R.H.
// (1970) and Kuno, E. (1969): the mean at which ten units reach D.
func TestMeanAnchors(t *testing.T) {
	taylor, iwao := sampling.Taylor{A: 2.5, B: 1.4}, sampling.Iwao{A: .5, B: 1.3}
	tests := []struct {
		name       string
		mean       float64
		convention size.Convention
		law        sampling.VarianceLaw
		want       float64
		units      int
	}{
		{"negative binomial, half-width", 1, size.HalfWidth, sampling.CommonK{K: 1}, 122.9267, 123},
		{"negative binomial, standard error", 1, size.StandardError, sampling.CommonK{K: 1}, 32, 32},
		{"Poisson, standard error", 4, size.StandardError, sampling.CommonK{K: math.Inf(1)}, 4, 4},
		{"Taylor", 2, size.StandardError, taylor, 26.3902, 27},
		{"Taylor at Green's line", 10.0793684, size.StandardError, taylor, 10, 0},
		{"Taylor at Green's line, 50 units", 34.470955 / 50, size.StandardError, taylor, 50, 0},
		{"Iwao at Kuno's line", 4.6153846154, size.StandardError, iwao, 10, 0},
		{"Iwao at Kuno's line, 50 units", 26.548673 / 50, size.StandardError, iwao, 50, 0},
	}
	for _, test := range tests {
		r := size.MeanRequest{Mean: test.mean, Precision: .25, Convention: test.convention, Law: test.law, UnitsPerStop: 1}
		if test.convention == size.HalfWidth {
			r.Confidence = .95
		}
		got, err := size.Mean(r)
		if err != nil || math.Abs(got.Unrounded/test.want-1) > 2e-6 {
			t.Errorf("%s: %.6f units, %v, want %.6f", test.name, got.Unrounded, err, test.want)
		}
		if test.units > 0 && got.Units != test.units {
			t.Errorf("%s: %d units, want %d", test.name, got.Units, test.units)
		}
	}
}

// TestConventionsDiffer: the same D is z^2 times as many units in one as in the other.
func TestConventionsDiffer(t *testing.T) {
	r := size.MeanRequest{Mean: 2, Precision: .2, Convention: size.StandardError, Law: sampling.CommonK{K: 1.2}, UnitsPerStop: 1}
	se, err := size.Mean(r)
	if err != nil {
		t.Fatal(err)
	}
	r.Convention, r.Confidence = size.HalfWidth, .95
	half, err := size.Mean(r)
	if err != nil {
		t.Fatal(err)
	}
	z := sampling.CriticalNormal(.95)
	if !near(half.Unrounded/se.Unrounded, z*z, 1e-12) {
		t.Errorf("ratio %g, want %g", half.Unrounded/se.Unrounded, z*z)
	}
	if !near(half.Reached, z*half.ReachedStandardError, 1e-14) || se.Reached != se.ReachedStandardError {
		t.Errorf("reached %+v and %+v", half, se)
	}
	for _, c := range []size.Convention{size.HalfWidth, size.StandardError} {
		if got, err := size.ParseConvention(c.String()); err != nil || got != c {
			t.Errorf("%v: got %v, %v", c, got, err)
		}
	}
	if _, err := size.ParseConvention("relative"); err == nil {
		t.Error("unknown convention accepted")
	}
}

// TestWithinAgainstScipy: the chance that the estimate is within D of the mean, from
// scipy 1.10.1, nbinom.cdf and poisson.cdf.
func TestWithinAgainstScipy(t *testing.T) {
	tests := []struct {
		mean, k, precision float64
		stops              int // of twenty units
		want               float64
	}{
		{2, 1.2, 0.25, 5, 0.9714001354344474},
		{0.5, 0.8, 0.2, 16, 0.9564518595759742},
		{3, math.Inf(1), 0.1, 7, 0.9619558400953003},
	}
	for _, test := range tests {
		got, err := size.Mean(size.MeanRequest{
			Mean: test.mean, Precision: test.precision, Convention: size.HalfWidth, Confidence: .95,
			Law: sampling.CommonK{K: test.k}, UnitsPerStop: 20,
		})
		if err != nil || got.Stops != test.stops || !near(got.Within, test.want, 1e-10) {
			t.Errorf("%+v: %d stops, %.15g, %v", test, got.Stops, got.Within, err)
		}
	}
}

// TestStages: components are a design effect with rho = between/(between+within), and
// the variance of the mean is between/J + within/(J m).
func TestStages(t *testing.T) {
	c := size.Components{Between: 3, Within: 9}
	got, err := size.Mean(size.MeanRequest{Mean: 4, Precision: .1, Convention: size.StandardError, Components: &c, UnitsPerStop: 20})
	if err != nil {
		t.Fatal(err)
	}
	se := math.Sqrt(3/float64(got.Stops) + 9/float64(20*got.Stops))
	if !near(got.ReachedStandardError, se/4, 1e-14) || got.Stops != 22 {
		t.Errorf("%d stops reach %g, want 22 and %g", got.Stops, got.ReachedStandardError, se/4)
	}
	law, err := size.Mean(size.MeanRequest{Mean: 4, Precision: .1, Convention: size.StandardError, Law: sampling.CommonK{K: 2}, CountRho: .25, UnitsPerStop: 20})
	if err != nil || law.Unrounded != got.Unrounded { // 4 + 16/2 = 3 + 9
		t.Errorf("by law %g, by components %g, %v", law.Unrounded, got.Unrounded, err)
	}
	if !near(got.DesignEffect, 1+19*.25, 1e-14) {
		t.Errorf("design effect %g", got.DesignEffect)
	}
}

func TestMeanRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean := rapid.Float64Range(0.05, 50).Draw(t, "mean")
		r := size.MeanRequest{
			Mean:         mean,
			Precision:    rapid.Float64Range(0.03, 0.9).Draw(t, "precision"),
			Convention:   rapid.SampledFrom([]size.Convention{size.HalfWidth, size.StandardError}).Draw(t, "convention"),
			UnitsPerStop: rapid.IntRange(1, 40).Draw(t, "units"),
		}
		if r.Convention == size.HalfWidth {
			r.Confidence = rapid.Float64Range(0.5, 0.99).Draw(t, "confidence")
		}
		switch rapid.IntRange(0, 3).Draw(t, "variance") {
		case 0:
			r.Law = sampling.CommonK{K: rapid.Float64Range(0.1, 100).Draw(t, "k")}
		case 1:
			r.Law = sampling.Taylor{A: rapid.Float64Range(0.5, 10).Draw(t, "a"), B: rapid.Float64Range(0.8, 2.2).Draw(t, "b")}
		case 2:
			r.Law = sampling.Iwao{A: rapid.Float64Range(-0.5, 5).Draw(t, "A"), B: rapid.Float64Range(1, 3).Draw(t, "B")}
		case 3:
			r.Components = &size.Components{Between: rapid.Float64Range(0, 20).Draw(t, "between"), Within: rapid.Float64Range(0.01, 50).Draw(t, "within")}
		}
		if r.Law != nil {
			r.CountRho = rapid.Float64Range(0, 0.5).Draw(t, "count_rho") * sampling.MaxCountRho(mean, sampling.KAt(r.Law, mean))
		}
		got, err := size.Mean(r)
		if err != nil {
			t.Fatal(err)
		}
		if got.Units != got.Stops*r.UnitsPerStop || got.Reached > r.Precision*(1+1e-8) {
			t.Fatalf("%d stops, %d units reach %g of %g", got.Stops, got.Units, got.Reached, r.Precision)
		}
		if n := float64(got.Stops); n > 1 {
			if fewer := got.Reached * math.Sqrt(n/(n-1)); fewer < r.Precision*(1-1e-8) {
				t.Fatalf("one stop fewer than %d reaches %g of %g", got.Stops, fewer, r.Precision)
			}
		}
		if got.ReachedStudent < got.Reached { // false for NaN
			t.Fatalf("t gives %g, z %g", got.ReachedStudent, got.Reached)
		}
		assumed := 0
		for _, row := range got.Sensitivity.Rows {
			if row.Assumed {
				assumed++
				if row.Stops != got.Stops || !near(row.Reached, got.Reached, 1e-14) {
					t.Fatalf("the assumed row %+v, %d stops reach %g", row, got.Stops, got.Reached)
				}
			}
		}
		if assumed == 0 {
			t.Fatalf("no assumed row in %+v", got.Sensitivity)
		}
	})
}

func TestMeanOfFewStops(t *testing.T) {
	got, err := size.Mean(size.MeanRequest{Mean: .2, Precision: .5, Convention: size.HalfWidth, Confidence: .95, Law: sampling.CommonK{K: .1}, UnitsPerStop: 80})
	if err != nil || got.Stops != 3 || !(got.ReachedStudent > 1.1*.5) {
		t.Errorf("%d stops, %g by t, within %g, %v", got.Stops, got.ReachedStudent, got.Within, err)
	}
	got, err = size.Mean(size.MeanRequest{Mean: 5, Precision: .5, Convention: size.HalfWidth, Confidence: .9, Law: sampling.CommonK{K: math.Inf(1)}, UnitsPerStop: 80})
	if err != nil || got.Stops != 1 || !math.IsNaN(got.ReachedStudent) {
		t.Errorf("%d stops, %g by t, within %g, %v", got.Stops, got.ReachedStudent, got.Within, err)
	}
	if got.Sensitivity.Of != "k" || !math.IsInf(got.Sensitivity.Rows[4].Value, 1) || !got.Sensitivity.Rows[4].Assumed {
		t.Errorf("Poisson beside %+v", got.Sensitivity)
	}
}

// TestMeanOfAlikeCounts: counts alike at a stop. Variances of a stop's total 63, 1836
// and 33, and the chances of a precise estimate, are computed independently outside
// the project (plain Python); so many stops reach D that Var(total)/(J m^2 mean^2) is
// (D/z)^2.
func TestMeanOfAlikeCounts(t *testing.T) {
	z := sampling.CriticalNormal(.95)
	for _, c := range []struct {
		mean, k, rho float64
		units        int
		variance     float64 // of a stop's total
		precision    float64
		stops        int
		within       float64
	}{
		{2, .8, .2, 5, 63, .25, 39, .9518180084638873},
		{10, .8, .1, 8, 1836, .3, 13, math.NaN()},
		{.5, .6, .1, 15, 33, .4, 15, .9583836572668627},
	} {
		total := float64(c.units) * c.mean
		for _, convention := range []size.Convention{size.HalfWidth, size.StandardError} {
			r := size.MeanRequest{Mean: c.mean, Precision: c.precision, Convention: convention, Law: sampling.CommonK{K: c.k}, UnitsPerStop: c.units, CountRho: c.rho}
			factor := 1.
			if convention == size.HalfWidth {
				r.Confidence, factor = .95, z
			}
			got, err := size.Mean(r)
			if err != nil {
				t.Fatal(err)
			}
			stops := factor * factor / c.precision / c.precision * c.variance / total / total
			if !near(got.Unrounded, stops*float64(c.units), 1e-12) || got.Stops != int(math.Ceil(stops)) {
				t.Errorf("%+v: %d stops, %g units, want %g", r, got.Stops, got.Unrounded, stops*float64(c.units))
			}
			if convention == size.HalfWidth && (got.Stops != c.stops || !math.IsNaN(c.within) && !near(got.Within, c.within, 1e-9)) {
				t.Errorf("%+v: %d stops within in %.15g, want %d and %.15g", r, got.Stops, got.Within, c.stops, c.within)
			}
			// At the correlation at which the stops are spent they just do.
			r.CountRho = got.SpentAt
			if at, err := size.Mean(r); err != nil || at.Stops != got.Stops || !near(at.Reached, c.precision, 1e-9) {
				t.Errorf("spent at %g: %d stops reach %g, %v", got.SpentAt, at.Stops, at.Reached, err)
			}
			rows := got.Alike.Rows
			if len(rows) != 5 || rows[0].Value != 0 || rows[0].Stops >= rows[4].Stops {
				t.Errorf("rows %+v", rows)
			}
		}
	}
	// One unit a stop has no other beside it, and single insects make no stop alike.
	for _, r := range []size.MeanRequest{
		{Mean: 2, Precision: .2, Convention: size.StandardError, Law: sampling.CommonK{K: 1}, UnitsPerStop: 1},
		{Mean: 2, Precision: .2, Convention: size.StandardError, Law: sampling.CommonK{K: math.Inf(1)}, UnitsPerStop: 9},
		{Mean: 2, Precision: .2, Convention: size.StandardError, Components: &size.Components{Between: 1, Within: 2}, UnitsPerStop: 9},
	} {
		if got, err := size.Mean(r); err != nil || len(got.Alike.Rows) != 0 {
			t.Errorf("%+v: rows %+v, %v", r, got.Alike.Rows, err)
		}
	}
}

// Stops that are hardly alike are those of leaves drawn one by one, whose total is a
// negative binomial in closed form: another way to the chance than adding up stops, which
// for so many insects goes through the fast Fourier transform.
func TestMeanOfHardlyAlikeCounts(t *testing.T) {
	r := size.MeanRequest{Mean: 11, Precision: .1, Convention: size.HalfWidth, Confidence: .95, Law: sampling.CommonK{K: .3}, UnitsPerStop: 20}
	apart, err := size.Mean(r)
	if err != nil {
		t.Fatal(err)
	}
	r.CountRho = 1e-12
	alike, err := size.Mean(r)
	if err != nil {
		t.Fatal(err)
	}
	if !(math.Abs(alike.Within-apart.Within) < 1e-9) || alike.Stops != apart.Stops || apart.Within < .9 {
		t.Errorf("%d stops %g, and %d stops %g", alike.Stops, alike.Within, apart.Stops, apart.Within)
	}
}
