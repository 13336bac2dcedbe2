package fit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"stopwise/sampling"
)

func anyStops(t *rapid.T) []StopCount {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) StopCount {
		m := rapid.IntRange(1, 30).Draw(t, "plants")
		return StopCount{m, rapid.IntRange(0, m).Draw(t, "infested")}
	}), 2, 25).Draw(t, "stops")
}

func anyCounts(t *rapid.T) Counts {
	units := rapid.SliceOfN(rapid.IntRange(0, 40), 1, 12).Draw(t, "units")
	return must(CountsOf(units...))
}

func TestRhoProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stops := anyStops(t)
		r := must(FitRho(stops, 0.95))
		if !r.ML.Known() {
			return
		}
		if !(0 <= r.ML.Lower && r.ML.Lower <= r.ML.Value && r.ML.Value <= r.ML.Upper && r.ML.Upper <= 1) {
			t.Fatalf("%+v", r.ML)
		}
		if (r.ML.Value == 0) != math.IsNaN(r.ML.SE) && r.ML.Value < 1 {
			t.Fatalf("standard error %g at %g", r.ML.SE, r.ML.Value)
		}
		if r.LogLik < r.BinomialLogLik-1e-9 {
			t.Fatalf("%g below the binomial's %g", r.LogLik, r.BinomialLogLik)
		}
		// Healthy plants are as much alike as infested ones.
		var healthy []StopCount
		for _, s := range stops {
			healthy = append(healthy, StopCount{s.Plants, s.Plants - s.Infested})
		}
		slices.Reverse(healthy)
		h := must(FitRho(healthy, 0.95))
		same(t, "rho", h.ML.Value, r.ML.Value, 1e-6)
		same(t, "upper", h.ML.Upper, r.ML.Upper, 1e-6)
		same(t, "share", h.Share.Value, 1-r.Share.Value, 1e-6)
		same(t, "Tarone", h.Tarone.Statistic, r.Tarone.Statistic, 1e-9)
		same(t, "analysis of variance", h.ANOVA.Value, r.ANOVA.Value, 1e-9)
		// A wider interval holds a narrower one.
		wide := must(FitRho(stops, 0.99)).ML
		if wide.Lower > r.ML.Lower || wide.Upper < r.ML.Upper {
			t.Fatalf("%+v in %+v", r.ML, wide)
		}
		// One field pooled is that field.
		p := must(FitPooledRho([][]StopCount{stops}, 0.95))
		same(t, "pooled", p.ML.Value, r.ML.Value, 1e-12)
		if p.Same.Known() {
			t.Fatal("one field was compared with itself")
		}
	})
}

func same(t *rapid.T, what string, a, b, tolerance float64) {
	t.Helper()
	if math.Abs(a-b) > tolerance {
		t.Fatalf("%s: %g and %g", what, a, b)
	}
}

// The likelihood in the product form is that of the distribution, and the
// maximum is not below what gonum's Nelder-Mead finds over p and rho together.
func TestRhoAgainstOptimizer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stops := anyStops(t)
		r := must(FitRho(stops, 0.95))
		if !r.ML.Known() {
			return
		}
		probs := func(p, rho float64) float64 {
			ll := 0.0
			for _, s := range stops {
				ll += math.Log(sampling.BetaBinomial{Plants: s.Plants, P: p, Rho: rho}.Probs(s.Infested)[s.Infested])
			}
			return ll
		}
		if r.ML.Value < 1 {
			same(t, "log-likelihood", probs(r.Share.Value, r.ML.Value), r.LogLik, 1e-7*(1+math.Abs(r.LogLik)))
		}
		expit := func(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
		found, err := optimize.Minimize(optimize.Problem{Func: func(x []float64) float64 {
			if math.Abs(x[0]) > 30 || math.Abs(x[1]) > 13 {
				return math.Inf(1)
			}
			return -probs(expit(x[0]), expit(x[1]))
		}}, []float64{0, -2}, nil, &optimize.NelderMead{})
		if err != nil {
			t.Fatal(err)
		}
		if r.LogLik < -found.F-1e-6 {
			t.Fatalf("log-likelihood %.12g at %+v, %.12g at p %g, rho %g", r.LogLik, r.ML, -found.F, expit(found.X[0]), expit(found.X[1]))
		}
	})
}

func TestKProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCounts(t)
		k := must(FitK(c, 0.95))
		for _, e := range []Estimate{k.ML, k.Moments, k.Zeros} {
			if e.Known() && !(e.Value > 0) {
				t.Fatalf("k = %g", e.Value)
			}
			if !e.Known() && !math.IsNaN(e.Value) {
				t.Fatalf("%+v", e)
			}
		}
		if c.Units() < 2 || c.Mean() == 0 {
			return
		}
		if !(k.ML.Lower >= 0 && k.ML.Upper >= k.ML.Lower) {
			t.Fatalf("%+v", k.ML)
		}
		// Maximum likelihood has a k just where the variance on n is above the
		// mean (Levin, B. & Reeds, J. 1977, Ann. Stat. 5: 79-87).
		spread := k.Variance*float64(c.Units()-1)/float64(c.Units()) - k.Mean
		if math.Abs(spread) > 1e-9 && k.ML.Known() != (spread > 0) {
			t.Fatalf("variance on n less mean %g, k %+v", spread, k.ML)
		}
		if !k.ML.Known() {
			return
		}
		if k.ML.Value < k.ML.Lower || k.ML.Value > k.ML.Upper || k.LogLik < k.PoissonLogLik {
			t.Fatalf("%+v", k)
		}
		// The score of Bliss & Fisher (1953) in its printed form.
		sum := 0.0
		c.eachAbove(func(x, n float64) { sum += n / (k.ML.Value + x) })
		right := float64(c.Units()) * math.Log1p(k.Mean/k.ML.Value)
		same(t, "score", sum/right, 1, 1e-9)
	})
}

// The likelihood is that of the distribution; gonum's Nelder-Mead finds no
// better k.
func TestKAgainstOptimizer(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCounts(t)
		k := must(FitK(c, 0.95))
		if !k.ML.Known() {
			return
		}
		ll := func(k float64) float64 {
			p := sampling.NegBinomial{Mu: c.Mean(), K: k}.Probs(c.largest())
			sum := 0.0
			for _, f := range c.classes {
				sum += float64(f.Leaves) * math.Log(p[f.Count])
			}
			return sum
		}
		same(t, "log-likelihood", ll(k.ML.Value), k.LogLik, 1e-8*(1+math.Abs(k.LogLik)))
		found, err := optimize.Minimize(optimize.Problem{Func: func(x []float64) float64 {
			if math.Abs(x[0]) > 12 {
				return math.Inf(1)
			}
			return -ll(math.Exp(x[0]))
		}}, []float64{0}, nil, &optimize.NelderMead{})
		if err != nil {
			t.Fatal(err)
		}
		if k.LogLik < -found.F-1e-7 {
			t.Fatalf("log-likelihood %.12g at k %g, %.12g at %g", k.LogLik, k.ML.Value, -found.F, math.Exp(found.X[0]))
		}
	})
}

// Derivatives are checked against differences of gonum's fd.
func TestSlopes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := must(newClump(anyStops(t)))
		if !f.informative() {
			return
		}
		p := rapid.Float64Range(0.05, 0.95).Draw(t, "p")
		theta := rapid.Float64Range(0.01, 3).Draw(t, "theta")
		s := f.slopes(p, theta)
		central := &fd.Settings{Formula: fd.Central, Step: 1e-6}
		toP := func(g func(p, theta float64) float64) float64 {
			return fd.Derivative(func(x float64) float64 { return g(x, theta) }, p, central)
		}
		toTheta := func(g func(p, theta float64) float64) float64 {
			return fd.Derivative(func(x float64) float64 { return g(p, x) }, theta, central)
		}
		close := func(what string, got, want float64) {
			t.Helper()
			same(t, what, got, want, 1e-4*(1+math.Abs(want)))
		}
		first := func(p, theta float64) float64 { return f.slopes(p, theta).t }
		second := func(p, theta float64) float64 { return f.slopes(p, theta).pp }
		close("t", s.t, toTheta(f.logLik))
		close("tt", s.tt, toTheta(first))
		close("pt", s.pt, toP(first))
		close("ppp", s.ppp, toP(second))
		close("ppt", s.ppt, toTheta(second))
		close("pp to theta", s.ppt, toP(func(p, theta float64) float64 { return f.slopes(p, theta).pt }))
		rho := rhoOf(theta)
		for name, c := range map[string]curve{"profile": profile([]clump{f}), "adjusted": adjusted([]clump{f})} {
			slope := fd.Derivative(c.value, rho, central)
			close(name, c.slope(rho)/((1-rho)*(1-rho)), slope)
		}
		// Continuous at rho = 0.
		same(t, "limit", f.logLik(p, 1e-13), f.logLik(p, 0), 1e-7)
	})
}

func TestKSlope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCounts(t)
		if c.Units() < 2 || c.Mean() == 0 {
			return
		}
		a := math.Exp(rapid.Float64Range(-8, 4).Draw(t, "ln 1/k"))
		numeric := fd.Derivative(func(x float64) float64 { return logLik(c, x) }, a, &fd.Settings{Formula: fd.Central, Step: 1e-5 * a})
		same(t, "slope", slope(c, a), numeric, 1e-4*(1+math.Abs(numeric)))
		at := 1 / a
		curvature := -fd.Derivative(func(k float64) float64 { return -slope(c, 1/k) / (k * k) }, at, &fd.Settings{Formula: fd.Central, Step: 1e-5 * at})
		same(t, "information", information(c, at), curvature, 1e-4*(1+math.Abs(curvature)))
		same(t, "limit", logLik(c, 1e-13), logLik(c, 0), 1e-7)
	})
	for _, tt := range []float64{0.0199999, 0.0200001} { // the two forms meet
		x := math.Log1p(tt)
		if got := logShape(tt); math.Abs(got-(x-tt)/(tt*tt)) > 1e-12 {
			t.Errorf("%g at %g", got, tt)
		}
	}
}

func TestZero(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.Float64Range(-5, 5).Draw(t, "zero")
		b := rapid.Float64Range(0.001, 10).Draw(t, "b")
		lo := want - rapid.Float64Range(0, 20).Draw(t, "below")
		hi := want + rapid.Float64Range(0, 20).Draw(t, "above")
		got := zero(func(x float64) float64 { d := x - want; return d*d*d + b*d }, lo, hi)
		same(t, "zero", got, want, 1e-14)
	})
	// A step has no zero; its place is found all the same.
	step := func(x float64) float64 { return math.Copysign(1, x-0.3) }
	if got := zero(step, -4, 9); math.Abs(got-0.3) > 1e-15 {
		t.Error(got)
	}
	// Without a change of sign the end nearer to zero is returned.
	if got := zero(func(x float64) float64 { return 1 + x }, 0, 5); got != 0 {
		t.Error(got)
	}
	if got := zero(func(x float64) float64 { return -9 + x }, 0, 5); got != 5 {
		t.Error(got)
	}
}

// On a law without scatter the constants come back.
func TestLawsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.5, 10).Draw(t, "a")
		b := rapid.Float64Range(0.5, 2).Draw(t, "b")
		var power, line []MeanVariance
		for _, m := range []float64{0.5, 2, 9, 30, 140} {
			power = append(power, MeanVariance{m, a * math.Pow(m, b)})
			line = append(line, MeanVariance{m, (a+1)*m + (b-1)*m*m})
		}
		power = append(power, MeanVariance{0, 0}) // says nothing
		taylor := must(FitTaylor(power, 0.95))
		same(t, "a", taylor.A.Value, a, 1e-11)
		same(t, "b", taylor.B.Value, b, 1e-11)
		same(t, "variance", taylor.Variance(9), power[2].Variance, 1e-9)
		same(t, "least mean", taylor.MinMean, 0.5, 1e-12)
		same(t, "largest mean", taylor.MaxMean, 140, 1e-10)
		iwao := must(FitIwao(line, 0.95))
		same(t, "A", iwao.A.Value, a, 1e-9)
		same(t, "B", iwao.B.Value, b, 1e-11)
		same(t, "variance", iwao.Variance(9), line[2].Variance, 1e-8)
	})
}

// Under rho = 0 the pooled statistic has mean 0 and variance 1 however many
// fields there are; 2,000 draws have standard errors of .022 and .032.
func TestPooledTaroneUnderIndependence(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 0))
	var z []float64
	for range 2000 {
		var fields [][]StopCount
		for _, p := range pilotShares(20) {
			var stops []StopCount
			for j := range 6 {
				stops = append(stops, drawStops(r, 1, 10+4*j, p, 0)...)
			}
			if must(newClump(stops)).informative() {
				fields = append(fields, stops)
			}
		}
		z = append(z, pooledTarone(fields).Statistic)
	}
	mean, variance := stat.MeanVariance(z, nil)
	if math.Abs(mean) > 0.11 || math.Abs(variance-1) > 0.16 {
		t.Errorf("mean %.3f, variance %.3f", mean, variance)
	}
}

// Student's T at 2.5%: R 4.2.2, qt(.975, df).
func TestTQuantile(t *testing.T) {
	for df, want := range map[int]float64{1: 12.706204736174694, 4: 2.7764451051977934, 12: 2.1788128296672284, 30: 2.0422724563012378} {
		near(t, "t", tQuantile(0.95, df), want, 1e-13)
	}
}
