package sampling

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Exact coverage of the Wald interval at 95%: Brown, L.D., Cai, T.T. & DasGupta,
// A. (2001) Interval estimation for a binomial proportion. Stat. Sci. 16:
// 101-133, section 2. From memory, recomputed outside the project.
func TestCoverageOfWald(t *testing.T) {
	for _, c := range []struct {
		n       int
		p, want float64
	}{{17, 0.5, 0.951}, {18, 0.5, 0.904}, {40, 0.5, 0.919}, {30, 0.2, 0.946}, {98, 0.2, 0.928}} {
		in, err := TotalIntervals(MethodWald, 1, c.n, 0, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		got := Cover(in, Binomial{c.n, c.p}.Probs(c.n), c.p)
		if math.Abs(got.Holds-c.want) > 0.0005 {
			t.Errorf("n %d, p %g: coverage %.4f, published %.3f", c.n, c.p, got.Holds, c.want)
		}
	}
}

// What the methods are defined to do: Clopper & Pearson's interval never covers
// less than its confidence, and each of its sides errs in at most half the rest.
func TestClopperPearsonKeepsItsConfidence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "plants")
		p := rapid.Float64Range(0, 1).Draw(t, "share")
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		in, err := TotalIntervals(MethodClopperPearson, 1, n, 0, confidence)
		if err != nil {
			t.Fatal(err)
		}
		c := Cover(in, Binomial{n, p}.Probs(n), p)
		if side := (1-confidence)/2 + 1e-9; c.Holds < confidence-1e-9 || c.TooLow > side || c.TooHigh > side {
			t.Fatalf("%+v", c)
		}
	})
}

// eachVisit calls f with every list of counts that stops can give, and its chance.
func eachVisit(one []float64, stops int, f func(counts []int, p float64)) {
	counts := make([]int, stops)
	var at func(j int, p float64)
	at = func(j int, p float64) {
		if j == stops {
			f(counts, p)
			return
		}
		for x, q := range one {
			counts[j] = x
			at(j+1, p*q)
		}
	}
	at(0, 1)
}

func addVisit(c *Coverage, in Interval, share, p float64) {
	if in.Lower <= share && share <= in.Upper {
		c.Holds += p
	} else if in.Lower > share {
		c.TooHigh += p
	} else {
		c.TooLow += p
	}
	c.Width += p * (in.Upper - in.Lower)
}

// Coverage over totals equals the sum over all visits, each with its own interval.
func TestCoverageByEnumeration(t *testing.T) {
	for _, c := range []struct {
		stops, plants int
		p, rho, used  float64
	}{{3, 4, 0.3, 0, 0}, {3, 4, 0.3, 0.2, 0}, {3, 4, 0.3, 0.2, 0.2}, {4, 3, 0.07, 0.4, 0.1}, {2, 7, 0.5, 0.05, 0.05}} {
		field := Infested{c.p, c.rho}
		plants := make([]int, c.stops)
		for j := range plants {
			plants[j] = c.plants
		}
		for _, m := range Methods() {
			in, err := TotalIntervals(m, c.stops, c.plants, c.used, 0.9)
			if err != nil {
				t.Fatal(err)
			}
			got := Cover(in, Total(field.Stop(c.plants), c.stops), c.p)
			var want Coverage
			eachVisit(field.Stop(c.plants).Probs(c.plants), c.stops, func(counts []int, p float64) {
				in, err := ClumpedProportion(m, counts, plants, c.used, 0.9)
				if err != nil {
					t.Fatal(err)
				}
				addVisit(&want, in, c.p, p)
			})
			sameCoverage(t, m.String(), got, want)
		}
		got, err := CoverBetweenStops(field, c.stops, c.plants, 0.9)
		if err != nil {
			t.Fatal(err)
		}
		var want Coverage
		eachVisit(field.Stop(c.plants).Probs(c.plants), c.stops, func(counts []int, p float64) {
			in, err := BetweenStops(counts, plants, 0.9)
			if errors.Is(err, ErrNoSpread) {
				want.None += p
				return
			}
			addVisit(&want, in, c.p, p)
		})
		want.Width /= 1 - want.None
		sameCoverage(t, "between stops", got, want)
	}
}

func sameCoverage(t *testing.T, name string, got, want Coverage) {
	t.Helper()
	for _, d := range []float64{got.Holds - want.Holds, got.TooLow - want.TooLow, got.TooHigh - want.TooHigh, got.None - want.None, got.Width - want.Width,
		got.Holds + got.TooLow + got.TooHigh + got.None - 1} {
		if math.Abs(d) > 1e-12 {
			t.Errorf("%s: %+v, by enumeration %+v", name, got, want)
			return
		}
	}
}

func TestCoverageRefuses(t *testing.T) {
	for _, err := range []error{
		second(TotalIntervals(MethodWilson, 0, 20, 0, 0.95)), second(TotalIntervals(MethodWilson, 4, 0, 0, 0.95)),
		second(TotalIntervals(MethodWilson, 4, 20, 1, 0.95)), second(TotalIntervals(MethodWilson, 4, 20, 0, 1)),
		second(TotalIntervals(Method(99), 4, 20, 0, 0.95)),
		second(CoverBetweenStops(Infested{0.2, 0}, 1, 20, 0.95)), second(CoverBetweenStops(Infested{0.2, 0}, 4, 0, 0.95)),
		second(CoverBetweenStops(Infested{1.2, 0}, 4, 20, 0.95)), second(CoverBetweenStops(Infested{0.2, 0}, 4, 20, 0)),
		second(CoverBetweenStops(Infested{0.2, 0}, 40, 40, 0.95)),
	} {
		if err == nil {
			t.Error("not refused")
		}
	}
}

func second[T any](_ T, err error) error { return err }

// TestPooledEffectiveSize: 40, 5, 5 and 5 plants at rho .1 have design effects
// 4.9 and 1.4, so 55^2/(196 + 3 7) = 3025/217 (by hand).
func TestPooledEffectiveSize(t *testing.T) {
	if got := PooledEffectiveSize([]int{40, 5, 5, 5}, .1); math.Abs(got-3025/217.0) > 1e-12 {
		t.Errorf("%g, want %g", got, 3025/217.0)
	}
	same := []int{20, 20, 20}
	if a, b := PooledEffectiveSize(same, .15), EffectiveSize(same, .15); math.Abs(a-b) > 1e-12 {
		t.Errorf("stops of one size: %g and %g", a, b)
	}
	if got := PooledEffectiveSize(nil, .1); got != 0 {
		t.Errorf("no plants are worth %g", got)
	}
}
