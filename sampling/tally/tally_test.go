package tally_test

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// reference holds values computed outside the project, see testdata/ref/README.md.
type reference struct {
	NegativeBinomial struct {
		Cases []struct {
			Mean float64      `json:"mean"`
			K    *float64     `json:"k"`
			P    [][2]float64 `json:"p"`
		} `json:"cases"`
	} `json:"negative_binomial"`
	MeanForShare struct {
		Cases []struct {
			Tally      int
			K, P, Mean float64
		} `json:"cases"`
	} `json:"mean_for_share"`
	Taylor struct {
		Cases []struct {
			A, B, Mean float64
			K          *float64
			P          [][2]float64
		} `json:"cases"`
	} `json:"taylor"`
	Empirical struct {
		C, D        float64
		DSE         float64 `json:"d_se"`
		MSE         float64
		XMean       float64 `json:"x_mean"`
		Fields      [][2]float64
		Predictions []struct {
			P      float64
			Plants int
			Deff   float64
			LnMean float64    `json:"ln_mean"`
			Parts  [4]float64 `json:"variance_parts"`
		}
	} `json:"empirical"`
}

func readReference(t *testing.T) reference {
	t.Helper()
	text, err := os.ReadFile("../../testdata/ref/tally.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref reference
	if err := json.Unmarshal(text, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.NegativeBinomial.Cases) == 0 || len(ref.MeanForShare.Cases) == 0 || len(ref.Taylor.Cases) == 0 || len(ref.Empirical.Predictions) == 0 {
		t.Fatal("the reference file lacks a part")
	}
	return ref
}

func near(got, want, rel float64) bool { return math.Abs(got-want) <= rel*math.Abs(want) }

func orPoisson(k *float64) float64 {
	if k == nil {
		return math.Inf(1)
	}
	return *k
}

func TestAtLeastReference(t *testing.T) {
	for _, c := range readReference(t).NegativeBinomial.Cases {
		for _, p := range c.P {
			if got := tally.AtLeast(int(p[0]), c.Mean, orPoisson(c.K)); !near(got, p[1], 1e-12) {
				t.Errorf("mean %g, k %g, T %g: %.16g, want %.16g", c.Mean, orPoisson(c.K), p[0], got, p[1])
			}
		}
	}
}

// Shares at the tally number 50, by scipy.stats.nbinom.sf(49, k, k/(k+mean)), and
// two rows of P(X > T), all computed independently outside the project.
func TestAtLeastAnchors(t *testing.T) {
	for _, c := range []struct {
		t             int
		mean, k, want float64
		digits        float64
	}{
		{50, 50, .3, .274768, 5e-7}, {50, 50, .5, .319724, 5e-7}, {50, 50, 1, .371528, 5e-7}, {50, 50, 2, .411314, 5e-7},
		{50, 125, .3, .427242, 5e-7}, {50, 125, .5, .528533, 5e-7}, {50, 125, 1, .671388, 5e-7}, {50, 125, 2, .808233, 5e-7},
		{1, 50, .8, .96387723, 5e-9}, {2, 50, .8, .93543411, 5e-9}, {6, 50, .8, .84500149, 5e-9}, {11, 50, .8, .75533834, 5e-9}, {51, 50, .8, .34977118, 5e-9},
		{1, 2, 1.2, .69179653, 5e-9}, {2, 2, 1.2, .46064393, 5e-9}, {6, 2, 1.2, .08106307, 5e-9}, {11, 2, 1.2, .00851874, 5e-9},
	} {
		if got := tally.AtLeast(c.t, c.mean, c.k); math.Abs(got-c.want) > c.digits {
			t.Errorf("T %d, mean %g, k %g: %.9f, want %.9f", c.t, c.mean, c.k, got, c.want)
		}
	}
}

// A second route: the probabilities of the package sampling, summed.
func TestAtLeastSums(t *testing.T) {
	for _, k := range []float64{.05, .8, 20, 100, 101, 1e4, 1e9, math.Inf(1)} {
		for _, mean := range []float64{.2, 7, 60, 400} {
			tails := sampling.NegBinomial{Mu: mean, K: k}.Tails(120)
			for _, T := range []int{1, 5, 50, 120} {
				if got := tally.AtLeast(T, mean, k); math.Abs(got-tails[T]) > 1e-12 {
					t.Errorf("mean %g, k %g, T %d: %g and %g", mean, k, T, got, tails[T])
				}
			}
		}
	}
}

func TestMeanReference(t *testing.T) {
	for _, c := range readReference(t).MeanForShare.Cases {
		r := tally.Theory{T: c.Tally, Leaves: 1, Law: sampling.CommonK{K: c.K}}
		if got, err := tally.Mean(r, c.P); err != nil || !near(got, c.Mean, 1e-12) {
			t.Errorf("T %d, k %g, share %g: %.16g (%v), want %.16g", c.Tally, c.K, c.P, got, err, c.Mean)
		}
	}
}

func TestTaylorReference(t *testing.T) {
	for _, c := range readReference(t).Taylor.Cases {
		law := sampling.Taylor{A: c.A, B: c.B}
		if k := tally.K(law, c.Mean); !near(k, orPoisson(c.K), 1e-12) && k != orPoisson(c.K) {
			t.Errorf("a %g, b %g, mean %g: k %.16g, want %.16g", c.A, c.B, c.Mean, k, orPoisson(c.K))
		}
		for _, p := range c.P {
			r := tally.Theory{T: int(p[0]), Leaves: 1, Law: law}
			if got := r.Share(c.Mean); !near(got, p[1], 1e-11) {
				t.Errorf("a %g, b %g, mean %g, T %g: %.16g, want %.16g", c.A, c.B, c.Mean, p[0], got, p[1])
			}
		}
	}
}

// Wilson & Room (1983): the share of units with any insect is
// 1 - exp[-m ln(a m^(b-1))/(a m^(b-1) - 1)]; a = 2, b = 1.5, m = 1 gives one half.
func TestWilsonRoom(t *testing.T) {
	share := func(a, b, m float64) float64 {
		return tally.Theory{T: 1, Leaves: 1, Law: sampling.Taylor{A: a, B: b}}.Share(m)
	}
	if got := share(2, 1.5, 1); math.Abs(got-.5) > 1e-15 {
		t.Errorf("a 2, b 1.5, mean 1: %.17g, want one half", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b, m := rapid.Float64Range(1.1, 10).Draw(t, "a"), rapid.Float64Range(1, 1.9).Draw(t, "b"), rapid.Float64Range(1, 300).Draw(t, "mean")
		v := a * math.Pow(m, b-1)
		if want := -math.Expm1(-m * math.Log(v) / (v - 1)); !near(share(a, b, m), want, 1e-11) {
			t.Fatalf("%.16g, want %.16g", share(a, b, m), want)
		}
	})
}

// Limits: k to infinity, Taylor's a = b = 1 and Iwao's A = 0, B = 1 are Poisson.
func TestPoissonLimits(t *testing.T) {
	for _, T := range []int{1, 10, 50} {
		for _, mean := range []float64{.3, 12, 55} {
			want := sampling.NegBinomial{Mu: mean, K: math.Inf(1)}.Tails(T)[T]
			for name, law := range map[string]sampling.VarianceLaw{
				"k infinite": sampling.CommonK{K: math.Inf(1)}, "Taylor 1,1": sampling.Taylor{A: 1, B: 1}, "Iwao 0,1": sampling.Iwao{A: 0, B: 1},
			} {
				r := tally.Theory{T: T, Leaves: 1, Law: law}
				if got := r.Share(mean); got != want || !math.IsInf(r.K(mean), 1) {
					t.Errorf("%s, T %d, mean %g: %g with k %g, want %g", name, T, mean, got, r.K(mean), want)
				}
			}
			for name, law := range map[string]sampling.VarianceLaw{
				"k 1e8": sampling.CommonK{K: 1e8}, "Taylor near 1,1": sampling.Taylor{A: 1 + 1e-8, B: 1}, "Iwao near 0,1": sampling.Iwao{A: 1e-8, B: 1},
			} {
				if got := (tally.Theory{T: T, Leaves: 1, Law: law}).Share(mean); math.Abs(got-want) > 1e-6 || got == want && want > 1e-9 && want < 1-1e-9 {
					t.Errorf("%s, T %d, mean %g: %g, want nearly %g", name, T, mean, got, want)
				}
			}
		}
	}
}

func TestTaylorBelowPoisson(t *testing.T) {
	r := tally.Theory{T: 1, Leaves: 1, Law: sampling.Taylor{A: 2, B: 1.5}}
	if k := r.K(.2); !math.IsInf(k, 1) { // 2 x .2^1.5 = .179 < .2
		t.Errorf("k %g at mean .2, want a Poisson", k)
	}
	if got, want := r.Share(.2), -math.Expm1(-.2); !near(got, want, 1e-14) {
		t.Errorf("share %.16g, want that of a Poisson, %.16g", got, want)
	}
	if k := r.K(.3); math.IsInf(k, 1) { // 2 x .3^1.5 = .329
		t.Error("a Poisson at mean .3, want clumping")
	}
}

// Laws and means far beyond any field still give a share.
func TestShareExtremes(t *testing.T) {
	extreme := rapid.Custom(func(t *rapid.T) float64 { return math.Exp(rapid.Float64Range(-700, 700).Draw(t, "ln")) })
	rapid.Check(t, func(t *rapid.T) {
		mean, T := extreme.Draw(t, "mean"), rapid.IntRange(1, 2000).Draw(t, "T")
		for _, law := range []sampling.VarianceLaw{
			sampling.CommonK{K: extreme.Draw(t, "k")},
			sampling.Taylor{A: extreme.Draw(t, "a"), B: rapid.Float64Range(-300, 300).Draw(t, "b")},
			sampling.Iwao{A: extreme.Draw(t, "A"), B: rapid.Float64Range(-300, 300).Draw(t, "B")},
		} {
			if p := (tally.Theory{T: T, Leaves: 2, Law: law}).Share(mean); !(p >= 0 && p <= 1+1e-12) {
				t.Fatalf("%v, mean %g, T %d: share %g", law, mean, T, p)
			}
		}
	})
}

func TestLeaves(t *testing.T) {
	one := tally.Theory{T: 50, Leaves: 1, Law: sampling.CommonK{K: .8}}
	three := one
	three.Leaves = 3
	for _, mean := range []float64{.5, 20, 75, 300} {
		p := one.Share(mean)
		if got, want := three.Share(mean), 1-math.Pow(1-p, 3); math.Abs(got-want) > 1e-14 {
			t.Errorf("mean %g: %g, want %g", mean, got, want)
		}
	}
}

// E min(X, T) against the sum over the probabilities; two leaves are both
// examined only where the first is below T.
func TestCounted(t *testing.T) {
	for _, T := range []int{1, 7, 50} {
		r := tally.Theory{T: T, Leaves: 1, Law: sampling.CommonK{K: .8}}
		want, below := float64(T), 0.0
		for x, p := range (sampling.NegBinomial{Mu: 40, K: .8}).Probs(T - 1) {
			want -= float64(T-x) * p
			below += p
		}
		if got := r.Counted(40); !near(got, want, 1e-12) {
			t.Errorf("T %d: %.15g insects counted, want %.15g", T, got, want)
		}
		r.Leaves = 2
		if got := r.Counted(40); !near(got, want*(1+below), 1e-12) {
			t.Errorf("T %d, two leaves: %.15g, want %.15g", T, got, want*(1+below))
		}
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var law sampling.VarianceLaw = sampling.CommonK{K: math.Exp(rapid.Float64Range(-2.5, 7).Draw(t, "ln k"))}
		if rapid.Bool().Draw(t, "taylor") {
			law = sampling.Taylor{A: rapid.Float64Range(.5, 10).Draw(t, "a"), B: rapid.Float64Range(1, 2).Draw(t, "b")}
		}
		r := tally.Theory{T: rapid.IntRange(1, 200).Draw(t, "T"), Leaves: rapid.IntRange(1, 4).Draw(t, "leaves"), Law: law}
		mean := math.Exp(rapid.Float64Range(-3, 7).Draw(t, "ln mean"))
		share := r.Share(mean)
		if share < 1e-200 || share > 1-1e-6 {
			t.Skip("the share does not hold the mean's digits")
		}
		got, err := tally.Mean(r, share)
		if err != nil {
			t.Fatal(err)
		}
		if !near(r.Share(got), share, 1e-9) || !near(got, mean, 1e-5) {
			t.Fatalf("mean %g -> share %g -> mean %g", mean, share, got)
		}
		if higher := r.Share(mean * 1.1); higher < share {
			t.Fatalf("the share falls from %g to %g with the mean", share, higher)
		}
	})
}

// With Taylor's b above 2 the share rises and then falls: it has no mean above
// its peak, and two below.
func TestMeansAmbiguous(t *testing.T) {
	r := tally.Theory{T: 1, Leaves: 1, Law: sampling.Taylor{A: 2, B: 2.5}}
	if m, err := tally.Means(r, .99); err != nil || len(m) != 0 {
		t.Errorf("99%%: %g (%v), want none", m, err)
	}
	m, err := tally.Means(r, .3)
	if err != nil || len(m) != 2 || m[0] >= m[1] {
		t.Fatalf("30%%: %g (%v), want two", m, err)
	}
	for _, x := range m {
		if !near(r.Share(x), .3, 1e-10) {
			t.Errorf("mean %g has the share %g", x, r.Share(x))
		}
	}
	if _, err := tally.Mean(r, .3); err == nil {
		t.Error("one mean returned where there are two")
	}
	if _, err := tally.Mean(r, .99); err == nil {
		t.Error("a mean returned where there is none")
	}
	for _, p := range []float64{0, 1, -1, math.NaN()} {
		if _, err := tally.Means(r, p); err == nil {
			t.Errorf("share %g accepted", p)
		}
	}
}

func model(ref reference) tally.Model {
	e := ref.Empirical
	return tally.Model{T: 50, C: e.C, D: e.D, MSE: e.MSE, Fields: len(e.Fields), MeanX: e.XMean, SE: e.DSE}
}

func TestModelReference(t *testing.T) {
	ref := readReference(t)
	m := model(ref)
	for _, p := range ref.Empirical.Predictions {
		if got := math.Log(m.Mean(p.P)); !near(got, p.LnMean, 1e-11) {
			t.Errorf("share %g: ln mean %.15g, want %.15g", p.P, got, p.LnMean)
		}
		v := m.Variance(p.P, p.Plants, p.Deff)
		for i, got := range []float64{v.Fields, v.Level, v.Slope, v.Sampling} {
			if !near(got, p.Parts[i], 1e-10) {
				t.Errorf("share %g, %d plants, deff %g: part %d is %.15g, want %.15g", p.P, p.Plants, p.Deff, i, got, p.Parts[i])
			}
		}
		if got, want := v.Total(), p.Parts[0]+p.Parts[1]+p.Parts[2]+p.Parts[3]; !near(got, want, 1e-10) {
			t.Errorf("share %g: total %g, want %g", p.P, got, want)
		}
		if got := m.Share(m.Mean(p.P)); !near(got, p.P, 1e-12) {
			t.Errorf("share %g -> mean -> share %g", p.P, got)
		}
		if got, err := tally.Mean(m, p.P); err != nil || !near(got, m.Mean(p.P), 1e-12) {
			t.Errorf("share %g: mean by search %g (%v), by formula %g", p.P, got, err, m.Mean(p.P))
		}
	}
}

// The chances are those of Student's t on Fields-2 degrees of freedom times the line's
// deviation: their sum is 1, and the mean of cos(z) is that of t, (1 + sqrt(3)) exp(-sqrt(3))
// with 3 degrees of freedom and 1/e with 1 (by hand, from the characteristic functions).
// The normal distribution's is exp(-1/2).
func TestModelSpread(t *testing.T) {
	for _, c := range []struct {
		fields       int
		mse, want, e float64
	}{{5, 4e-4, (1 + math.Sqrt(3)) * math.Exp(-math.Sqrt(3)), 1e-5}, {3, 4e-6, math.Exp(-1), 3e-4}, {2000, 4e-4, math.Exp(-.5), 4e-4}} {
		m := tally.Model{T: 1, C: 3, D: .8, MSE: c.mse, Fields: c.fields, MeanX: -3.5, SE: .01}
		mean := math.Exp(m.C - 4*m.D) // where ln(-ln(1-share)) is -4
		sd := math.Sqrt(c.mse*(1+1/float64(c.fields))+.25*m.SE*m.SE) / m.D
		if share := m.Share(mean); !near(share, -math.Expm1(-math.Exp(-4)), 1e-12) {
			t.Fatalf("share %g", share)
		}
		got := expect(m, mean, func(p float64) float64 {
			if p > 1-1e-9 || p < 1e-300 {
				return 0 // the share no longer tells z, which is large
			}
			return math.Cos((math.Log(-math.Log1p(-p)) + 4) / sd)
		})
		if !near(got, c.want, c.e) {
			t.Errorf("%d fields: mean of cos z %.9g, want %.9g", c.fields, got, c.want)
		}
		sum := 0.0
		for _, at := range m.Spread(mean) {
			sum += at.Chance
		}
		if !near(sum, 1, 1e-12) {
			t.Errorf("%d fields: chances sum to %g", c.fields, sum)
		}
	}
	m := model(readReference(t))
	if got := m.Spread(0); len(got) != 1 || got[0].Share != 0 {
		t.Errorf("mean 0: %v, want the share 0", got)
	}
	if got := tally.Exact(m).Spread(50); len(got) != 1 || got[0].Share != m.Share(50) {
		t.Errorf("taken as exact: %v", got)
	}
	if got := expect(m, 50, func(float64) float64 { return 3 }); !near(got, 3, 1e-12) {
		t.Errorf("expectation of 3 is %g", got)
	}
}

func TestMeanInterval(t *testing.T) {
	m := model(readReference(t))
	mean, lower, upper := m.MeanInterval(.25, 160, 2.9, .95)
	sd := math.Sqrt(m.Variance(.25, 160, 2.9).Total())
	if !near(math.Log(upper/mean)/sd, 2.228139, 1e-6) || !near(mean/lower, upper/mean, 1e-12) { // t, 10 degrees of freedom
		t.Errorf("mean %g, interval %g to %g, standard deviation %g of ln mean of %d fields", mean, lower, upper, sd, m.Fields)
	}
	m.Fields = 3
	mean, _, upper = m.MeanInterval(.25, 160, 2.9, .95)
	sd = math.Sqrt(m.Variance(.25, 160, 2.9).Total())
	if !near(math.Log(upper/mean)/sd, 12.706205, 1e-6) { // t, 1 degree of freedom
		t.Errorf("three fields: upper end %g standard deviations above", math.Log(upper/mean)/sd)
	}
}

// Taylor's a mean^(b-2)/units is the part of the residual mean square that comes
// from counting: a 2, b 1.5 at a mean of 4 on 50 units is 2/2/50 = .02 (by hand).
func TestCountedVariance(t *testing.T) {
	m := tally.Model{T: 1, C: math.Log(4), D: 1, MSE: .1, Fields: 10, SE: .1}
	share := -math.Expm1(-1) // on the line at a mean of 4
	law := sampling.Taylor{A: 2, B: 1.5}
	if got := m.Counted(share, law, 50); !near(got, .02, 1e-12) {
		t.Errorf("%g, want .02", got)
	}
	if got := m.Counted(share, law, 1); got != m.MSE {
		t.Errorf("%g is taken off, more than the %g there is", got, m.MSE)
	}
	v := m.Variance(share, 0, 1)
	whole := v.Total()
	v.Counted = m.Counted(share, law, 50)
	if !near(whole-v.Total(), .02, 1e-12) {
		t.Errorf("%g is taken off, want .02", whole-v.Total())
	}
}

// The interval holds as much chance of the spread as it says.
func TestShareInterval(t *testing.T) {
	m := model(readReference(t))
	for _, mean := range []float64{8, 80} {
		share, lower, upper := m.ShareInterval(mean, .9)
		if share != m.Share(mean) || !(lower < share && share < upper) {
			t.Fatalf("mean %g: %g, %g to %g", mean, share, lower, upper)
		}
		below := expect(m, mean, func(p float64) float64 {
			if p < lower {
				return 1
			}
			return 0
		})
		if math.Abs(below-.05) > .02 { // the spread is cut into pieces
			t.Errorf("mean %g: %g of the spread lies below the interval, want .05", mean, below)
		}
	}
}

func TestChecks(t *testing.T) {
	good := tally.Model{T: 1, C: 1, D: 1, MSE: .1, Fields: 5, SE: .1}
	law := sampling.CommonK{K: 1}
	for name, c := range map[string]interface{ Check() error }{
		"tally 0":         tally.Theory{T: 0, Leaves: 1, Law: law},
		"no leaves":       tally.Theory{T: 1, Leaves: 0, Law: law},
		"k 0":             tally.Theory{T: 1, Leaves: 1, Law: sampling.CommonK{}},
		"falling line":    tally.Model{T: 1, C: 1, D: -1},
		"two fields":      tally.Model{T: 1, C: 1, D: 1, MSE: .1, Fields: 2},
		"not a number":    tally.Model{T: 1, C: math.NaN(), D: 1},
		"negative square": tally.Model{T: 1, C: 1, D: 1, MSE: -1, Fields: 5},
	} {
		if c.Check() == nil {
			t.Errorf("%s accepted", name)
		}
	}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
}

// expect returns the expectation of f(share) over the fields of a mean per leaf.
func expect(r tally.Relation, mean float64, f func(share float64) float64) float64 {
	sum := 0.0
	for _, c := range r.Spread(mean) {
		sum += c.Chance * f(c.Share)
	}
	return sum
}

// Leaves alike at a stop. A plant is clean at the tally number 1 where the total of
// its leaves is 0: .0212023267221, .032306991646 and 5.35423678984e-07 of such totals.
// The others by the trapezoidal rule over 20,000 stops. All computed independently
// outside the project (plain Python).
func TestAlikeLeaves(t *testing.T) {
	for _, c := range []struct {
		mean, k, rho, want float64
		t, leaves          int
	}{
		{2, .8, .2, 1 - .0212023267221, 1, 5}, {.5, .6, .1, 1 - .032306991646, 1, 15}, {10, .8, .1, 1 - 5.35423678984e-07, 1, 8},
		{2, .8, .2, 0.4550823338278555, 3, 2}, {10, .8, .1, 0.3945966229116125, 15, 2}, {6, .5, .3, 0.29251737214017365, 15, 4},
		{50, 1.2, .05, 0.9743165871491413, 20, 3}, {.3, .6, .1, 0.15075901504757194, 2, 3},
	} {
		r := tally.Theory{T: c.t, Leaves: c.leaves, Law: sampling.CommonK{K: c.k}, CountRho: c.rho}
		if got := r.Share(c.mean); !near(got, c.want, 2e-12) {
			t.Errorf("%+v: %.15g, want %.15g", c, got, c.want)
		}
		r.CountRho = 0
		if alone := r.Share(c.mean); alone <= c.want {
			t.Errorf("%+v: independent leaves give %g, no more", c, alone)
		}
	}
}

// One leaf a plant is a stop of one leaf, whose distribution comes from a recurrence
// that shares nothing with the sum over stops; without a correlation nothing changes,
// and one beyond what there can be is the largest.
func TestOneAlikeLeaf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean, k := math.Exp(rapid.Float64Range(-3, 5).Draw(t, "ln mean")), math.Exp(rapid.Float64Range(-3, 3).Draw(t, "ln k"))
		most := sampling.MaxCountRho(mean, k)
		rho := most * rapid.SampledFrom([]float64{1e-9, 1e-4, .01, .3, .9, 1}).Draw(t, "part")
		r := tally.Theory{T: rapid.IntRange(1, 60).Draw(t, "T"), Leaves: 1, Law: sampling.CommonK{K: k}, CountRho: rho}
		want := sampling.AlikeCounts{Mean: mean, K: k, Rho: rho}.Stop(1).Tails(r.T)[r.T]
		if got := r.Share(mean); math.Abs(got-want) > 1e-12 {
			t.Fatalf("%+v, mean %g: %.15g, want %.15g", r, mean, got, want)
		}
		beyond := r
		beyond.CountRho = .999999
		r.CountRho = math.Min(most, .999999)
		if got, want := beyond.Share(mean), r.Share(mean); got != want {
			t.Fatalf("beyond %g: %g, want %g", most, got, want)
		}
	})
}

// Counted at stops that differ is the mean of what is counted at each: two leaves, the
// tally number 1, are both looked at where the first is clean.
func TestCountedAlike(t *testing.T) {
	r := tally.Theory{T: 1, Leaves: 2, Law: sampling.CommonK{K: .8}, CountRho: .2}
	one := r
	one.Leaves = 1
	both := r.Share(2) // 1 - P(both clean); counted: first infested, or clean and then the second
	if got := r.Counted(2); !near(got, both, 1e-12) {
		t.Errorf("%g insects, want %g", got, both)
	}
	if got, want := one.Counted(2), one.Share(2); !near(got, want, 1e-12) {
		t.Errorf("one leaf: %g insects, want %g", got, want)
	}
}
