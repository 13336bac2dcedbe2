package sampling_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"stopwise/sampling"
)

// TestAlikeCountsAgainstReference compares with Tricomi's function at 60 digits.
func TestAlikeCountsAgainstReference(t *testing.T) {
	var ref struct {
		Cases []struct {
			Mean, K, Rho float64
			Units        int
			Points       []struct {
				X          int
				Pmf, Upper float64
			}
		}
	}
	reference(t, "alike.json", &ref)
	if len(ref.Cases) < 12 {
		t.Fatalf("only %d reference cases", len(ref.Cases))
	}
	for _, c := range ref.Cases {
		d := sampling.AlikeCounts{Mean: c.Mean, K: c.K, Rho: c.Rho}.Stop(c.Units)
		for _, pt := range c.Points {
			if pt.Pmf < 1e-290 {
				continue
			}
			if got := d.Probs(pt.X)[pt.X]; apart(got, pt.Pmf) > 1e-12 {
				t.Errorf("%+v of %d, x %d: %.17g, want %.17g, relative difference %.2g", c, c.Units, pt.X, got, pt.Pmf, apart(got, pt.Pmf))
			}
			if got := d.Tails(pt.X)[pt.X]; pt.Upper != 0 && apart(got, pt.Upper) > 1e-12 {
				t.Errorf("%+v of %d, x %d: P(X >= x) %.17g, want %.17g, relative difference %.2g", c, c.Units, pt.X, got, pt.Upper, apart(got, pt.Upper))
			}
		}
	}
}

// TestAlikeCountsChecks holds values computed independently outside the project
// (plain Python, quadrature over the mean of a stop).
func TestAlikeCountsChecks(t *testing.T) {
	cases := []struct {
		field    sampling.AlikeCounts
		units    int
		within   float64
		variance float64
		probs    []float64
	}{
		{sampling.AlikeCounts{Mean: 2, K: .8, Rho: .2}, 5, 1.5, 63, []float64{.0212023267221, .0421779682031, .0575334990621, .0667839427115, .0709497470169, .0713433895278, .0691506679352}},
		{sampling.AlikeCounts{Mean: 10, K: .8, Rho: .1}, 8, 1.0179372197, 1836, []float64{5.35423678984e-07, 2.95040553534e-06, 9.37931603861e-06, 2.2554546483e-05, 4.55464403236e-05, 8.15032581645e-05, .000133427134938}},
		{sampling.AlikeCounts{Mean: .5, K: .6, Rho: .1}, 15, 1.0512820513, 33, []float64{.032306991646, .061438969115, .0803629438613, .0894231944544}},
	}
	for _, c := range cases {
		if apart(c.field.WithinK(), c.within) > 1e-10 {
			t.Errorf("%+v: k within a stop %.12g, want %.11g", c.field, c.field.WithinK(), c.within)
		}
		d := c.field.Stop(c.units)
		if apart(d.Variance(), c.variance) > 1e-13 {
			t.Errorf("%+v: variance %g, want %g", c.field, d.Variance(), c.variance)
		}
		for x, want := range c.probs {
			if got := d.Probs(len(c.probs))[x]; apart(got, want) > 5e-12 {
				t.Errorf("%+v of %d: P(%d) = %.13g, want %.13g", c.field, c.units, x, got, want)
			}
		}
	}
	if shape := cases[0].field.StopShape(); apart(shape, 2.8571428571) > 1e-10 {
		t.Errorf("shape of the stops' means %.11g, want 2.8571428571", shape)
	}
}

// TestAlikeCountsPlan walks a small table stop by stop; values computed
// independently outside the project.
func TestAlikeCountsPlan(t *testing.T) {
	leave, act := []int{4, 14, 30}, []int{25, 36, 31}
	cases := []struct{ mean, rho, act, leave, stops float64 }{
		{1, 0, .4152562621, .5847437379, 2.5459202508},
		{1, .1, .3663141207, .6336858793, 2.2495310335},
		{1, .25, .3241499701, .6758500299, 1.9694801038},
		{2.5, .1, .9578369907, .0421630093, 1.7945495875},
	}
	for _, c := range cases {
		one := sampling.AlikeCounts{Mean: c.mean, K: .6, Rho: c.rho}.Stop(10).Probs(60)
		f, pAct, pLeave, stops := []float64{1}, 0.0, 0.0, 0.0
		for j := range leave {
			stops += floats.Sum(f)
			g := sampling.Convolve(f, one)[:60]
			below := floats.Sum(f) - floats.Sum(g[:act[j]])
			pAct += below
			f = g[:act[j]]
			for s := range f {
				if s <= leave[j] {
					pLeave += f[s]
					f[s] = 0
				}
			}
		}
		for _, v := range []struct{ got, want float64 }{{pAct, c.act}, {pLeave, c.leave}, {stops, c.stops}} {
			if math.Abs(v.got-v.want) > 1e-9 {
				t.Errorf("mean %g, rho %g: %.11g, want %.10g", c.mean, c.rho, v.got, v.want)
			}
		}
	}
}

// TestAlikeCountsProperties: all probabilities sum to one, with the mean and the
// variance that are promised, and every tail is the sum of what lies above.
func TestAlikeCountsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean := math.Exp(rapid.Float64Range(-4, 3.5).Draw(t, "ln mean"))
		k := math.Exp(rapid.Float64Range(-1.5, 4).Draw(t, "ln k"))
		rho := sampling.MaxCountRho(mean, k) * rapid.Float64Range(0, 1).Draw(t, "share of the limit")
		units := rapid.IntRange(1, 20).Draw(t, "units")
		f, err := sampling.NewAlikeCounts(mean, k, rho)
		if err != nil {
			t.Fatal(err)
		}
		d := f.Stop(units)
		n := int(d.Mean() + 60*math.Sqrt(d.Variance()) + 20)
		p, tails := d.Probs(n), d.Tails(n)
		if math.Abs(tails[0]-1) > 1e-12 {
			t.Fatalf("P(X >= 0) = %.15g", tails[0])
		}
		var m, v float64
		for x := n; x >= 0; x-- {
			next := tails[n] - p[n]
			if x < n {
				next = tails[x+1]
			}
			if tails[x] > 1e-290 && math.Abs(p[x]+next-tails[x]) > 1e-13*tails[x] {
				t.Fatalf("x %d: P(X >= x) %g is not P(X = x) %g and what lies above, %g", x, tails[x], p[x], next)
			}
			m += float64(x) * p[x]
		}
		for x := range p {
			v += (float64(x) - m) * (float64(x) - m) * p[x]
		}
		// Above n little lies, but its totals are large: the chances fall like exp(-c sqrt(x)).
		above := float64(n) * tails[n]
		if math.Abs(m-d.Mean()) > 1e-6*d.Mean()+4*above || math.Abs(v-d.Variance()) > 1e-4*d.Variance()+8*float64(n)*above {
			t.Fatalf("mean %.12g for %.12g, variance %.10g for %.10g", m, d.Mean(), v, d.Variance())
		}
	})
}

func TestAlikeCountsLimits(t *testing.T) {
	inf := math.Inf(1)
	same := func(name string, a, b sampling.StopTotal, tol float64) {
		t.Helper()
		n := int(b.Mean() + 6*math.Sqrt(b.Variance()))
		pa, pb := a.Probs(n), b.Probs(n)
		for x := range pa {
			if apart(pa[x], pb[x]) > tol {
				t.Fatalf("%s: P(%d) = %.16g, want %.16g", name, x, pa[x], pb[x])
			}
		}
	}
	same("rho 0", sampling.AlikeCounts{Mean: 3, K: .7}.Stop(10), sampling.Counts{Mean: 3, K: .7}.Stop(10), 0)
	same("rho 1e-14", sampling.AlikeCounts{Mean: 3, K: .7, Rho: 1e-14}.Stop(10), sampling.Counts{Mean: 3, K: .7}.Stop(10), 1e-11)
	same("Poisson, rho 0", sampling.AlikeCounts{Mean: 3, K: inf}.Stop(10), sampling.Counts{Mean: 3, K: inf}.Stop(10), 0)
	// At the limit a stop's leaves are Poisson and its total is one gamma mixture.
	most := sampling.MaxCountRho(3, 1)
	same("at the limit", sampling.AlikeCounts{Mean: 3, K: 1, Rho: most}.Stop(10), sampling.NegBinomial{Mu: 30, K: 1}, 1e-13)
	same("just below the limit", sampling.AlikeCounts{Mean: 3, K: 1, Rho: most - 1e-13}.Stop(10), sampling.NegBinomial{Mu: 30, K: 1}, 1e-10)
	// One unit is the marginal distribution, whatever rho is: not in the fourth
	// moment, but in mean and variance.
	if d := (sampling.AlikeCounts{Mean: 3, K: 1, Rho: .4}.Stop(1)); apart(d.Variance(), 12) > 1e-14 {
		t.Errorf("one unit has variance %g, want 12", d.Variance())
	}
	if p := (sampling.AlikeCounts{Mean: 0, K: 1}.Stop(5).Probs(2)); p[0] != 1 {
		t.Errorf("mean 0: %g", p)
	}
	if got := (sampling.AlikeCounts{Mean: 3, K: 1, Rho: .2}.Stop(3).Probs(0)); len(got) != 1 {
		t.Errorf("Probs(0) has %d entries", len(got))
	}
	for _, c := range []struct{ mean, k, rho float64 }{{3, 1, .7501}, {3, inf, .01}, {0, 1, .1}, {3, 1, -.1}, {-1, 1, 0}, {3, 0, 0}, {3, 1, math.NaN()}} {
		if _, err := sampling.NewAlikeCounts(c.mean, c.k, c.rho); err == nil {
			t.Errorf("%v is taken", c)
		}
	}
	for _, c := range []struct{ mean, k, rho float64 }{{3, 1, .75}, {3, inf, 0}, {0, 1, 0}} {
		if _, err := sampling.NewAlikeCounts(c.mean, c.k, c.rho); err != nil {
			t.Error(err)
		}
	}
	if _, additive := any(sampling.AlikeCounts{Mean: 1, K: 1}).(sampling.Additive); additive {
		t.Error("stops with means of their own are said to add up")
	}
}

// TestAlikeCountsDrawn draws every leaf of 40,000 stops: a mean for the stop and
// then its leaves, which shares no code with the recurrence.
func TestAlikeCountsDrawn(t *testing.T) {
	f := sampling.AlikeCounts{Mean: 3, K: .8, Rho: .25}
	const units, stops = 6, 40_000
	r := rand.New(rand.NewPCG(13, 1))
	shape, within := 1/(.25*(1/3.0+1/.8)), 0.0
	within = (1 + 1/shape) / (1/.8 - 1/shape)
	seen := make([]float64, 400)
	for range stops {
		mean := distuv.Gamma{Alpha: shape, Beta: shape / f.Mean, Src: r}.Rand()
		total := 0
		for range units {
			rate := distuv.Gamma{Alpha: within, Beta: within / mean, Src: r}.Rand()
			total += int(distuv.Poisson{Lambda: rate, Src: r}.Rand())
		}
		seen[min(total, len(seen)-1)]++
	}
	tails := f.Stop(units).Tails(399)
	above := 0.0
	for x := len(seen) - 1; x > 0; x-- {
		above += seen[x]
		se := math.Sqrt(tails[x] * (1 - tails[x]) / stops)
		if d := above/stops - tails[x]; math.Abs(d) > 5*se+2.0/stops {
			t.Errorf("P(X >= %d): drawn %.5f, computed %.5f (standard error %.5f)", x, above/stops, tails[x], se)
		}
	}
}

func BenchmarkAlikeCounts(b *testing.B) {
	d := sampling.AlikeCounts{Mean: 50, K: 1.1, Rho: .15}.Stop(40)
	for b.Loop() {
		d.Probs(10_000)
	}
}
