package rule

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// What a count of insects says is that of two negative binomials with the stated
// variance, by their chances from another part of the project.
func TestInsectsSay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(low, high float64, name string) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		lower := draw(.1, 3, "lower")
		p := Points{Lower: lower, Upper: lower * draw(1.2, 4, "ratio"), Units: 10, Top: 12, Insects: Insects{Full: 30}}
		for i := range 2 {
			p.Insects.Unit[i], p.Insects.Stop[i] = draw(0, 2, "unit"), draw(0, 1, "stop")
		}
		units := rapid.IntRange(1, 20).Draw(t, "units")
		at := func(i int, mean float64) sampling.NegBinomial {
			n := float64(units)
			// M + M^2/k is the variance of n units: n v + n (n-1) stop mean^2, v = mean + unit mean^2
			v := n*(mean+p.Insects.Unit[i]*mean*mean) + n*(n-1)*p.Insects.Stop[i]*mean*mean
			m := n * mean
			return sampling.NegBinomial{Mu: m, K: m * m / (v - m)}
		}
		f0, f1 := at(0, p.Lower).Probs(60), at(1, p.Upper).Probs(60)
		s := p.said(units)
		for _, x := range []int{1, 2, 7, 40, 60} {
			if want := math.Log(f1[x]/f0[x]) - math.Log(f1[0]/f0[0]); f0[x] > 1e-250 && f0[0] > 1e-250 && f1[0] > 1e-250 && math.Abs(s.of(x)-want) > 1e-6*(1+math.Abs(want)) {
				t.Fatalf("%+v: %d insects on %d units say %v, want %v", p, x, units, s.of(x), want)
			}
		}
		if want := math.Log(f1[0] / f0[0]); f0[0] > 1e-250 && f1[0] > 1e-250 && math.Abs(s.none()-want) > 1e-6*(1+math.Abs(want)) {
			t.Fatalf("%+v: none on %d units says %v, want %v", p, units, s.none(), want)
		}
	})
}

// Points of insects by hand: independent Poisson counts of means 1 and e on one unit say
// x - (e-1), a straight line; half the units say half the less where nothing is found.
func TestPointsOfPoisson(t *testing.T) {
	w := Worth{Points: &Points{Lower: 1, Upper: math.E, Units: 2, Top: 4, Insects: Insects{Full: 8}}}
	if err := w.Check(); err != nil {
		t.Fatal(err)
	}
	if got := w.Edges(2); !slices.Equal(got, []int{1, 3, 5, 7}) { // x/2, a half rounded up
		t.Errorf("%v", got)
	}
	// On one unit nothing says e-1 = 1.718 less against the upper mean: .859 points more.
	if got := w.Edges(1); !slices.Equal(got, []int{0, 2, 4, 6}) {
		t.Errorf("of half the units: %v", got)
	}
	want := []Run{{0, 0, 0}, {1, 2, 1}, {3, 4, 2}, {5, 6, 3}, {7, sampling.Unbounded, 4}}
	if got := w.Runs(2); !slices.Equal(got, want) {
		t.Errorf("runs %v", got)
	}
	for count, want := range []int{0, 1, 1, 2, 2, 3, 3, 4, 4} {
		if got := w.Value(count, 2); got != want || w.Values(2)(count, 2) != want {
			t.Errorf("%d insects are worth %d, want %d", count, got, want)
		}
	}
}

// Points of insects never fall, stay within the top, and keep all of a stop's chance;
// the least count for so many points is worth them, and one less is not.
func TestInsectWorth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := sampling.AlikeCounts{Mean: rapid.Float64Range(.1, 5).Draw(t, "mean"), K: rapid.Float64Range(.3, 3).Draw(t, "k")}
		f.Rho = rapid.Float64Range(0, 1).Draw(t, "rho") * sampling.MaxCountRho(f.Mean, f.K)
		p := Points{Lower: .5, Upper: 1.5, Units: 12, Top: rapid.IntRange(2, 40).Draw(t, "top"), Insects: Insects{Full: rapid.IntRange(1, 90).Draw(t, "full"), Unit: [2]float64{1.2, 1}, Stop: [2]float64{.3, .2}}}
		units := rapid.IntRange(1, 24).Draw(t, "units")
		points, capped := Worth{Points: &p}, Worth{Cap: rapid.IntRange(1, 60).Draw(t, "cap"), Step: 1}
		edges := points.Edges(units)
		if !slices.IsSorted(edges) || len(edges) > p.Top || units == p.Units && (len(edges) != p.Top || edges[0] < 1) {
			t.Fatalf("%v", edges)
		}
		for worth := 1; worth <= points.Top(units); worth++ {
			x := points.Least(worth, units)
			if points.Value(x, units) < worth || x > 0 && points.Value(x-1, units) >= worth {
				t.Fatalf("%d points from %d on: %v", worth, x, edges)
			}
		}
		full := f.Stop(units).Probs(2000)
		full[2000] = f.Stop(units).Tails(2000)[2000]
		for _, w := range []Worth{points, capped} {
			want := make([]float64, 100)
			for x, p := range full {
				want[w.Value(x, units)] += p
			}
			for x, p := range w.Of(f).Stop(units).Probs(len(want) - 1) {
				if math.Abs(p-want[x]) > 1e-10 {
					t.Fatalf("%+v: chance %v of %d, want %v", w, p, x, want[x])
				}
			}
		}
	})
}

// Plants looked at until so many insects are found, by listing what is on each of three
// plants with two leaves of independent counts.
func TestExaminedInsects(t *testing.T) {
	f := sampling.Counts{Mean: .7, K: .9}
	plant := f.Stop(2).Probs(80)
	for _, most := range []int{1, 3, 7} {
		want := 0.0
		for a, pa := range plant {
			for b, pb := range plant {
				looked := 6.0
				if a >= most {
					looked = 2
				} else if a+b >= most {
					looked = 4
				}
				want += looked * pa * pb
			}
		}
		if got := Examined((Worth{Cap: most, Step: 2}).Of(f), 6); math.Abs(got-want) > 1e-9 {
			t.Errorf("cap %d: %.12f leaves, want %.12f", most, got, want)
		}
	}
	if got := Examined(f, 6); got != 6 {
		t.Errorf("without a cap %v", got)
	}
}

// The least that points of insects can be made for: one unit a stop, one point, one insect.
func TestInsectsAtTheirLeast(t *testing.T) {
	least := Points{Lower: .5, Upper: 1, Units: 1, Top: 1, Insects: Insects{Full: 1, Unit: [2]float64{1, 1}}}
	if err := (Worth{Points: &least}).Check(); err != nil {
		t.Error(err)
	}
	for _, less := range []func(*Points){func(p *Points) { p.Units = 0 }, func(p *Points) { p.Top = 0 }, func(p *Points) { p.Insects.Full = 0 }, func(p *Points) { p.Upper = p.Lower }, func(p *Points) { p.Lower = 0 }} {
		p := least
		less(&p)
		if (Worth{Points: &p}).Check() == nil {
			t.Errorf("%+v is accepted", p)
		}
	}
}
