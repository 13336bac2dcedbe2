package size_test

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/combin"
	"pgregory.net/rapid"

	"stopwise/sampling/size"
)

// lotsPublished are the sample sizes of FAO/IPPC (2008) ISPM 31 for finite lots at
// 95% confidence, levels 5, 2, 1, 0.5 and 0.1%, from memory; 0 is a dash. Where the
// level of a lot is not a whole number of units it is rounded down.
var lotsPublished = []struct {
	lot int
	n   [5]int
}{
	{25, [5]int{24, 0, 0, 0, 0}},
	{50, [5]int{39, 48, 0, 0, 0}},
	{100, [5]int{45, 78, 95, 0, 0}},
	{200, [5]int{51, 105, 155, 190, 0}},
	{300, [5]int{54, 117, 189, 285, 0}},
	{400, [5]int{55, 124, 211, 311, 0}},
	{500, [5]int{56, 129, 225, 388, 0}},
	{600, [5]int{56, 132, 235, 379, 0}},
	{700, [5]int{57, 134, 243, 442, 0}},
	{800, [5]int{57, 136, 249, 421, 0}},
	{900, [5]int{57, 137, 254, 474, 0}},
	{1000, [5]int{57, 138, 258, 450, 950}},
	{2000, [5]int{58, 143, 277, 517, 1553}},
	{10000, [5]int{59, 148, 294, 581, 2588}},
	{200000, [5]int{59, 149, 298, 597, 2972}},
}

func TestDetectLotsPublished(t *testing.T) {
	levels := []float64{.05, .02, .01, .005, .001}
	for _, row := range lotsPublished {
		for i, want := range row.n {
			got, err := size.Detect(size.DetectRequest{Prevalence: levels[i], Confidence: .95, PlantsPerStop: 1, FieldPlants: row.lot})
			if (err != nil) != (want == 0) || got.Plants != want {
				t.Errorf("lot %d, level %g: n %d, %v, printed %d", row.lot, levels[i], got.Plants, err, want)
			}
		}
	}
}

func TestDetectLotsAgainstReference(t *testing.T) {
	ref := readReference(t).DetectLots
	enough(t, len(ref.Cases), 30)
	for _, c := range ref.Cases {
		for i, level := range ref.Levels {
			got, err := size.Detect(size.DetectRequest{Prevalence: level, Confidence: c.Confidence, PlantsPerStop: 1, FieldPlants: c.Lot})
			if c.N[i] == nil {
				if err == nil {
					t.Errorf("lot %d, level %g: accepted with %d infested", c.Lot, level, got.Infested)
				}
				continue
			}
			if err != nil || got.Plants != *c.N[i] || got.Infested != c.Infested[i] || got.Reached < c.Confidence-1e-9 {
				t.Errorf("lot %d, level %g at %g: n %d of %d infested, %v, want %d of %d", c.Lot, level, c.Confidence, got.Plants, got.Infested, err, *c.N[i], c.Infested[i])
			}
		}
	}
}

// TestDetectLargePublished: ISPM 31 for very large lots, whole sight, levels .5, 1, 2,
// 5 and 10%, and its Poisson version at 95%; from memory.
func TestDetectLargePublished(t *testing.T) {
	tests := []struct {
		confidence   float64
		level        float64
		n, byPoisson int
	}{
		{.95, .005, 598, 600}, {.95, .01, 299, 300}, {.95, .02, 149, 150}, {.95, .05, 59, 60}, {.95, .10, 29, 30}, {.95, .001, 2995, 2996},
		{.99, .005, 919, 922}, {.99, .01, 459, 461}, {.99, .02, 228, 231}, {.99, .05, 90, 93}, {.99, .10, 44, 47}, {.99, .001, 4603, 4606},
	}
	for _, test := range tests {
		got, err := size.Detect(size.DetectRequest{Prevalence: test.level, Confidence: test.confidence, PlantsPerStop: 1})
		if err != nil || got.Plants != test.n || got.UnroundedPlants != test.n || got.PoissonPlants != test.byPoisson {
			t.Errorf("%+v: %d plants, %d by Poisson, %v", test, got.Plants, got.PoissonPlants, err)
		}
	}
}

func TestDetectIndependentAgainstReference(t *testing.T) {
	ref := readReference(t).DetectIndependent
	enough(t, len(ref.Cases), 30)
	for _, c := range ref.Cases {
		for i, level := range ref.Levels {
			got, err := size.Detect(size.DetectRequest{Prevalence: level, Confidence: c.Confidence, PlantsPerStop: 1, Seen: c.Seen})
			if err != nil || got.Plants != c.N[i] {
				t.Errorf("level %g, seen %g at %g: n %d, %v, want %d", level, c.Seen, c.Confidence, got.Plants, err, c.N[i])
			}
		}
	}
	enough(t, len(ref.Poisson), 2)
	for _, c := range ref.Poisson {
		for i, level := range ref.Levels {
			got, err := size.Detect(size.DetectRequest{Prevalence: level, Confidence: c.Confidence, PlantsPerStop: 1})
			if err != nil || got.PoissonPlants != c.N[i] {
				t.Errorf("Poisson, level %g at %g: n %d, %v, want %d", level, c.Confidence, got.PoissonPlants, err, c.N[i])
			}
		}
	}
}

func TestDetectClumpedAgainstReference(t *testing.T) {
	ref := readReference(t).DetectClumped
	enough(t, len(ref.Cases), 100)
	for _, c := range ref.Cases {
		for i, confidence := range ref.Confidence {
			name := fmt.Sprintf("p %g, rho %g, m %d, seen %g at %g", c.P, c.Rho, c.M, c.Seen, confidence)
			got, err := size.Detect(size.DetectRequest{Prevalence: c.P, Confidence: confidence, PlantsPerStop: c.M, Rho: c.Rho, Seen: c.Seen})
			if err != nil || got.Stops != c.Stops[i] {
				t.Errorf("%s: %d stops, %v, want %d", name, got.Stops, err, c.Stops[i])
				continue
			}
			if math.Abs(got.NonePerStop/c.NonePerStop-1) > 1e-13 || !near(got.Reached, c.Achieved[i], 1e-11) {
				t.Errorf("%s: none per stop %.15g, reached %.15g, want %.15g and %.15g", name, got.NonePerStop, got.Reached, c.NonePerStop, c.Achieved[i])
			}
		}
	}
}

// TestDetectClumpedAnchors: 95%, stops of twenty; computed independently outside the
// project.
func TestDetectClumpedAnchors(t *testing.T) {
	for _, test := range []struct {
		p, rho float64
		stops  int
	}{{.05, .1, 6}, {.05, .3, 11}, {.02, .1, 14}} {
		got, err := size.Detect(size.DetectRequest{Prevalence: test.p, Confidence: .95, PlantsPerStop: 20, Rho: test.rho})
		if err != nil || got.Stops != test.stops {
			t.Errorf("%+v: %d stops, %v", test, got.Stops, err)
		}
	}
}

// TestDetectClusterFormula: one cluster of n with theta = rho/(1-rho), P(none) =
// prod (1-f+j theta)/(1+j theta), values computed independently outside the project
// from the formula of ISPM 31 for aggregated infestation.
func TestDetectClusterFormula(t *testing.T) {
	for _, test := range []struct {
		f, theta float64
		n        int
		none     float64
	}{
		{.05, .05, 100, .159664}, {.05, .1, 10, .693292}, {.01, .05, 20, .867897}, {.02, .01, 50, .439960},
	} {
		got, err := size.Detect(size.DetectRequest{Prevalence: test.f, Confidence: .95, PlantsPerStop: test.n, Rho: test.theta / (1 + test.theta)})
		if err != nil || !near(got.NonePerStop, test.none, 5e-7) {
			t.Errorf("%+v: P(none) %.6f, %v", test, got.NonePerStop, err)
		}
	}
}

func TestTwoPercentAgainstReference(t *testing.T) {
	ref := readReference(t).DetectTwoPercent
	enough(t, len(ref.Cases), 10)
	for _, c := range ref.Cases {
		got, err := size.Detect(size.DetectRequest{Prevalence: .1, Confidence: .95, PlantsPerStop: 1, FieldPlants: c.Lot})
		if err != nil || got.Plants != c.N95 || got.Infested != c.Infested {
			t.Errorf("lot %d: n %d, %v, want %d", c.Lot, got.Plants, err, c.N95)
		}
		none, err := size.NoneFound(size.NoneFoundRequest{Stops: c.TwoPercentN, PlantsPerStop: 1, FieldPlants: c.Lot, Confidence: .95, At: []float64{.1}})
		if err != nil || !near(1-none.Points[0].None, c.TwoPercentConfidence, 1e-11) {
			t.Errorf("lot %d: 2%% finds one with chance %g, %v, want %g", c.Lot, 1-none.Points[0].None, err, c.TwoPercentConfidence)
		}
	}
}

// TestTwoPercentPublished: the lowest level that a sample of 2% detects with 95%
// confidence, computed independently outside the project after a table of ISPM 31.
func TestTwoPercentPublished(t *testing.T) {
	levels := map[int]float64{10: 1, 50: .96, 100: .78, 200: .525, 300: .39, 400: .31, 500: .258, 1000: .138, 1500: .0947, 3000: .0483}
	for lot, want := range levels {
		n := int(math.Ceil(.02*float64(lot) - 1e-9))
		got, err := size.NoneFound(size.NoneFoundRequest{Stops: n, PlantsPerStop: 1, FieldPlants: lot, Confidence: .95})
		if err != nil || !near(got.Upper, want, 5e-4) || got.MostInfested != int(math.Round(got.Upper*float64(lot)))-1 {
			t.Errorf("lot %d: %g, most %d, %v, want %g", lot, got.Upper, got.MostInfested, err, want)
		}
	}
}

// TestLotsAgainstCounting counts samples: of the C(N, n) ones, those with x infested
// are C(D, x) C(N-D, n-x), and each infested plant is missed with chance 1-seen.
func TestLotsAgainstCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		N := rapid.IntRange(1, 25).Draw(t, "field")
		D := rapid.IntRange(0, N).Draw(t, "infested")
		n := rapid.IntRange(1, N).Draw(t, "examined")
		seen := rapid.OneOf(rapid.Just(1.0), rapid.Float64Range(0.1, 1)).Draw(t, "seen")
		want := 0.0
		for x := max(0, n-(N-D)); x <= min(n, D); x++ {
			ways := float64(combin.Binomial(D, x)) * float64(combin.Binomial(N-D, n-x))
			want += ways * math.Pow(1-seen, float64(x))
		}
		want /= float64(combin.Binomial(N, n))
		got, err := size.NoneFound(size.NoneFoundRequest{Stops: n, PlantsPerStop: 1, FieldPlants: N, Seen: seen, Confidence: .95, At: []float64{float64(D) / float64(N)}})
		if err != nil {
			t.Fatal(err)
		}
		if !near(got.Points[0].None, want, 1e-13) {
			t.Fatalf("%d of %d infested, %d examined, seen %g: none %.15g, counting %.15g", D, N, n, seen, got.Points[0].None, want)
		}
	})
}

// TestDetectRoundTrip: the stops reach the confidence, one fewer does not, and the
// upper limit after them is at the prevalence or below.
func TestDetectRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := size.DetectRequest{
			Prevalence:    rapid.Float64Range(0.005, 0.5).Draw(t, "prevalence"),
			Confidence:    rapid.Float64Range(0.5, 0.999).Draw(t, "confidence"),
			PlantsPerStop: rapid.IntRange(1, 40).Draw(t, "plants"),
			Seen:          rapid.Float64Range(0.3, 1).Draw(t, "seen"),
		}
		if rapid.Bool().Draw(t, "finite") {
			r.FieldPlants = rapid.IntRange(300, 3000).Draw(t, "field")
		} else {
			r.Rho = rapid.Float64Range(0, 0.5).Draw(t, "rho")
		}
		got, err := size.Detect(r)
		if err != nil {
			if r.FieldPlants == 0 {
				t.Fatal(err)
			}
			return // even all plants do not reach the confidence
		}
		if got.Reached < r.Confidence-1e-8 {
			t.Fatalf("%d stops reach %g of %g", got.Stops, got.Reached, r.Confidence)
		}
		upper := func(stops int) float64 {
			q := size.NoneFoundRequest{Stops: stops, PlantsPerStop: r.PlantsPerStop, Rho: r.Rho, Seen: r.Seen, FieldPlants: r.FieldPlants, Confidence: r.Confidence}
			if r.FieldPlants > 0 {
				q.Stops, q.PlantsPerStop = min(stops*r.PlantsPerStop, r.FieldPlants), 1
			}
			none, err := size.NoneFound(q)
			if err != nil {
				t.Fatal(err)
			}
			return none.Upper
		}
		goal := r.Prevalence
		if r.FieldPlants > 0 {
			goal = float64(got.Infested) / float64(r.FieldPlants)
		}
		if u := upper(got.Stops); u > goal+1e-8 {
			t.Fatalf("%d stops leave up to %g, want %g", got.Stops, u, goal)
		}
		if got.Stops > 1 {
			if u := upper(got.Stops - 1); u < goal-1e-8 {
				t.Fatalf("%d stops would do: they leave up to %g, want %g", got.Stops-1, u, goal)
			}
		}
	})
}

// TestNoneFoundClosedForm: 1 - (1-C)^(1/n), the one-sided Clopper-Pearson limit.
func TestNoneFoundClosedForm(t *testing.T) {
	for _, n := range []int{1, 20, 80, 1000} {
		got, err := size.NoneFound(size.NoneFoundRequest{Stops: n, PlantsPerStop: 1, Confidence: .95})
		if want := -math.Expm1(math.Log(.05) / float64(n)); err != nil || !near(got.Upper, want, 1e-14) {
			t.Errorf("none in %d: below %.15g, %v, want %.15g", n, got.Upper, err, want)
		}
	}
}

func TestNothingRuledOut(t *testing.T) {
	got, err := size.NoneFound(size.NoneFoundRequest{Stops: 1, PlantsPerStop: 5, Seen: .1, Confidence: .95})
	if err != nil || got.Upper != 1 {
		t.Errorf("got %g, %v", got.Upper, err)
	}
	got, err = size.NoneFound(size.NoneFoundRequest{Stops: 1, PlantsPerStop: 5, Seen: .1, Confidence: .95, FieldPlants: 100})
	if err != nil || got.Upper != 1 || got.MostInfested != 100 {
		t.Errorf("got %g, most %d, %v", got.Upper, got.MostInfested, err)
	}
	got, err = size.NoneFound(size.NoneFoundRequest{Stops: 100, PlantsPerStop: 1, Confidence: .95, FieldPlants: 100})
	if err != nil || got.Upper != .01 || got.MostInfested != 0 {
		t.Errorf("all examined: got %g, most %d, %v", got.Upper, got.MostInfested, err)
	}
}

func TestDetectShortLastStop(t *testing.T) {
	got, err := size.Detect(size.DetectRequest{Prevalence: .05, Confidence: .95, PlantsPerStop: 20, FieldPlants: 25})
	if err != nil || got.Stops != 2 || got.Plants != 25 || got.UnroundedPlants != 24 || got.Reached != 1 {
		t.Errorf("got %+v, %v", got, err)
	}
	got, err = size.Detect(size.DetectRequest{Prevalence: 1, Confidence: .95, PlantsPerStop: 20, Rho: .1})
	if err != nil || got.Stops != 1 || got.Reached != 1 {
		t.Errorf("every plant infested: got %+v, %v", got, err)
	}
}

func TestDetectSensitivity(t *testing.T) {
	for _, r := range []size.DetectRequest{
		{Prevalence: .05, Confidence: .95, PlantsPerStop: 20, Rho: .15},
		{Prevalence: .05, Confidence: .95, PlantsPerStop: 20, FieldPlants: 2000, Seen: .85},
	} {
		got, err := size.Detect(r)
		if err != nil {
			t.Fatal(err)
		}
		assumed := 0
		for _, row := range got.Sensitivity.Rows {
			q := r
			if r.FieldPlants > 0 {
				q.Seen = row.Value
			} else {
				q.Rho = row.Value
			}
			other, err := size.Detect(q)
			if err != nil || other.Stops != row.Stops || other.Plants != row.Plants {
				t.Errorf("%s %g: %d stops, %v, want %d", got.Sensitivity.Of, row.Value, row.Stops, err, other.Stops)
			}
			if row.Assumed {
				assumed++
				if !near(row.Reached, got.Reached, 1e-14) {
					t.Errorf("the assumed row reaches %g, want %g", row.Reached, got.Reached)
				}
			}
		}
		if assumed != 1 {
			t.Errorf("%d assumed rows", assumed)
		}
	}
}

func BenchmarkDetect(b *testing.B) {
	for _, field := range []int{0, 3_000_000} {
		b.Run(fmt.Sprintf("field=%d", field), func(b *testing.B) {
			for b.Loop() {
				if _, err := size.Detect(size.DetectRequest{Prevalence: .01, Confidence: .95, PlantsPerStop: 20, FieldPlants: field}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
