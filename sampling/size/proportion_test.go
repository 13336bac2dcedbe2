package size_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
	"stopwise/sampling/size"
)

func TestExpectedHalfWidthAgainstReference(t *testing.T) {
	ref := readReference(t).ExpectedHalfWidth
	enough(t, len(ref.Cases), 10)
	for _, c := range ref.Cases {
		r := size.ProportionRequest{Share: c.P, Confidence: c.Confidence, PlantsPerStop: c.M, Rho: c.Rho}
		got, err := r.At(c.Stops)
		if err != nil || !near(got.ExpectedHalfWidth, c.Expected, 1e-11) {
			t.Errorf("%+v: %.14g, %v", c, got.ExpectedHalfWidth, err)
		}
	}
}

// TestProportionPublished: the sample of an island of 3200 people for a share within
// five points, z = 2: 400, and 356 with the finite-population correction. Cochran,
// W.G. (1977) Sampling Techniques, 4.4, from memory.
func TestProportionPublished(t *testing.T) {
	confidence := math.Erf(math.Sqrt2) // z = 2
	r := size.ProportionRequest{Share: .5, HalfWidth: .05, Confidence: confidence, PlantsPerStop: 1}
	got, err := size.Proportion(r)
	if err != nil || got.Normal.Plants != 400 || !near(got.UnroundedPlants, 400, 1e-9) {
		t.Errorf("got %+v, %v", got.Normal, err)
	}
	r.FieldPlants = 3200
	got, err = size.Proportion(r)
	if err != nil || got.Normal.Plants != 356 {
		t.Errorf("got %+v, %v", got.Normal, err)
	}
}

// TestProportionAnchors: Karandinos, M.G. (1976) formulas (z/D)^2 q/p and
// z^2 p q/h^2, values computed independently outside the project.
func TestProportionAnchors(t *testing.T) {
	got, err := size.Proportion(size.ProportionRequest{Share: .3, HalfWidth: .1, Confidence: .95, PlantsPerStop: 1})
	if err != nil || !near(got.UnroundedPlants, 80.6706, 5e-5) || got.Normal.Plants != 81 {
		t.Errorf("got %.6f, %+v, %v", got.UnroundedPlants, got.Normal, err)
	}
	one := math.Erf(1 / math.Sqrt2) // z = 1
	got, err = size.Proportion(size.ProportionRequest{Share: .3, Relative: .25, Confidence: one, PlantsPerStop: 1})
	if err != nil || !near(got.UnroundedPlants, 37.3333, 5e-5) || got.Normal.Plants != 38 {
		t.Errorf("got %.6f, %+v, %v", got.UnroundedPlants, got.Normal, err)
	}
}

// TestProportionRoundTrip: either route meets the half-width with its stops and not
// with one fewer; the exact one is found by looking at every number in turn.
func TestProportionRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := size.ProportionRequest{
			Share:         rapid.Float64Range(0.01, 0.99).Draw(t, "share"),
			HalfWidth:     rapid.Float64Range(0.04, 0.45).Draw(t, "half-width"),
			Confidence:    rapid.Float64Range(0.6, 0.99).Draw(t, "confidence"),
			PlantsPerStop: rapid.IntRange(1, 30).Draw(t, "plants"),
			Rho:           rapid.Float64Range(0, 0.4).Draw(t, "rho"),
			Interval:      rapid.SampledFrom([]sampling.Method{sampling.MethodWilson, sampling.MethodAgrestiCoull}).Draw(t, "interval"),
		}
		if rapid.Bool().Draw(t, "finite") {
			r.FieldPlants = rapid.IntRange(30, 2000).Draw(t, "field")
		}
		got, err := size.Proportion(r)
		if err != nil {
			t.Fatal(err)
		}
		if h := got.Normal.NormalHalfWidth; h > r.HalfWidth*(1+1e-8) {
			t.Fatalf("normal route reaches %g of %g", h, r.HalfWidth)
		}
		if n := got.Normal.Stops; n > 1 {
			fewer, err := r.At(n - 1)
			if err != nil || fewer.NormalHalfWidth < r.HalfWidth*(1-1e-8) {
				t.Fatalf("normal route: %d stops would do, %g, %v", n-1, fewer.NormalHalfWidth, err)
			}
		}
		for stops := 1; ; stops++ {
			d, err := r.At(stops)
			if err != nil {
				t.Fatal(err)
			}
			if d.ExpectedHalfWidth <= r.HalfWidth*(1+1e-9) {
				if got.Exact == nil || got.Exact.Stops != stops {
					t.Fatalf("exact route: %+v, the first of all is %d", got.Exact, stops)
				}
				break
			}
		}
		if d := *got.Exact; d.ExpectedHalfWidth > r.HalfWidth*(1+1e-8) || d.Coverage < 0 || d.Coverage > 1 {
			t.Fatalf("exact route: %+v", d)
		}
		for _, row := range got.Sensitivity.Rows {
			if row.Assumed && (row.Stops != got.Exact.Stops || !near(row.Reached, got.Exact.ExpectedHalfWidth, 1e-12)) {
				t.Fatalf("the assumed row %+v differs from %+v", row, *got.Exact)
			}
		}
	})
}

// TestExpectedAgainstSum takes the expectation over a plain convolution.
func TestExpectedAgainstSum(t *testing.T) {
	for _, method := range sampling.Methods() {
		r := size.ProportionRequest{Share: .2, Confidence: .9, PlantsPerStop: 10, Rho: .15, Interval: method}
		got, err := r.At(7)
		if err != nil {
			t.Fatal(err)
		}
		deff := sampling.DesignEffect(10, .15)
		half, covered := 0.0, 0.0
		for x, p := range sampling.Total(sampling.Infested{P: .2, Rho: .15}.Stop(10), 7) {
			in, err := sampling.Proportion(method, float64(x)/deff, 70/deff, .9)
			if err != nil {
				t.Fatal(err)
			}
			half += p * (in.Upper - in.Lower) / 2
			if in.Lower <= .2 && .2 <= in.Upper {
				covered += p
			}
		}
		if !near(got.ExpectedHalfWidth, half, 1e-12) || !near(got.Coverage, covered, 1e-12) {
			t.Errorf("%v: %+v, want %g and %g", method, got, half, covered)
		}
	}
}

func TestProportionCensus(t *testing.T) {
	got, err := size.Proportion(size.ProportionRequest{Share: .2, HalfWidth: .01, Confidence: .95, PlantsPerStop: 20, FieldPlants: 50})
	if err != nil || got.Normal.Stops != 3 || got.Normal.Plants != 50 || got.Normal.NormalHalfWidth != 0 || got.Exact.Coverage != 1 {
		t.Errorf("got %+v, %v", got, err)
	}
}

func TestProportionBeyondExact(t *testing.T) {
	got, err := size.Proportion(size.ProportionRequest{Share: .2, HalfWidth: .001, Confidence: .95, PlantsPerStop: 20, Rho: .1})
	if err != nil || got.Exact != nil || !math.IsNaN(got.Normal.ExpectedHalfWidth) {
		t.Errorf("got %+v, %v", got.Normal, err)
	}
}

func BenchmarkProportion(b *testing.B) {
	for _, h := range []float64{.05, .01} {
		b.Run(fmt.Sprintf("half-width=%g", h), func(b *testing.B) {
			for b.Loop() {
				if _, err := size.Proportion(size.ProportionRequest{Share: .2, HalfWidth: h, Confidence: .95, PlantsPerStop: 20, Rho: .1}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
