package root_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling/root"
)

func TestBrentKnownRoots(t *testing.T) {
	tests := []struct {
		name string
		f    func(float64) float64
		a, b float64
		want float64
	}{
		{"square root of two", func(x float64) float64 { return x*x - 2 }, 0, 2, math.Sqrt2},
		{"pi", math.Sin, 3, 4, math.Pi},
		{"reversed bracket", func(x float64) float64 { return math.Exp(x) - 10 }, 5, 0, math.Ln10},
		{"root at the left end", func(x float64) float64 { return x }, 0, 1, 0},
		{"root at the right end", func(x float64) float64 { return x - 1 }, 0, 1, 1},
		{"tiny root", func(x float64) float64 { return x - 1e-60 }, 0, 1, 1e-60},
		{"flat around the root", func(x float64) float64 { return math.Pow(x-0.3, 9) }, 0, 1, 0.3},
	}
	for _, test := range tests {
		got, err := root.Brent(test.f, test.a, test.b)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		tol := 4e-16 * math.Abs(test.want)
		if test.name == "flat around the root" {
			tol = 1e-15
		}
		if math.Abs(got-test.want) > tol {
			t.Errorf("%s: got %.17g, want %.17g", test.name, got, test.want)
		}
	}
}

func TestBrentRefuses(t *testing.T) {
	bad := map[string]func(float64) float64{
		"same sign":           func(x float64) float64 { return x*x + 1 },
		"not a number":        func(float64) float64 { return math.NaN() },
		"not a number inside": func(x float64) float64 { return map[float64]float64{0: -1, 1: 1}[x] / inside(x) },
	}
	for name, f := range bad {
		if x, err := root.Brent(f, 0, 1); err == nil {
			t.Errorf("%s: got %g, want an error", name, x)
		}
	}
}

func inside(x float64) float64 {
	if x == 0 || x == 1 {
		return 1
	}
	return 0
}

func TestBrentFindsTheSignChange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.Float64Range(1e-3, 1).Draw(t, "root") // smaller ones underflow in f
		power := rapid.SampledFrom([]float64{0.3, 1, 3, 5}).Draw(t, "power")
		f := func(x float64) float64 { return math.Copysign(math.Pow(math.Abs(x-at), power), x-at) }
		got, err := root.Brent(f, 0, 1)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got-at) > 5e-16*at {
			t.Fatalf("got %.17g, want %.17g", got, at)
		}
	})
}
