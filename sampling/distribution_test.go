package sampling_test

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"stopwise/sampling"
)

type distributionCase struct {
	Dist   string
	M      int
	P, Rho float64
	Mean   float64
	K      float64
	Points []struct {
		X          int
		Pmf, Upper float64
	}
}

func (c distributionCase) total(t *testing.T) sampling.StopTotal {
	switch c.Dist {
	case "binomial":
		return sampling.Binomial{Plants: c.M, P: c.P}
	case "beta-binomial":
		return sampling.BetaBinomial{Plants: c.M, P: c.P, Rho: c.Rho}
	case "negative-binomial":
		return sampling.NegBinomial{Mu: c.Mean, K: c.K}
	case "poisson":
		return sampling.NegBinomial{Mu: c.Mean, K: math.Inf(1)}
	}
	t.Fatalf("no distribution %q", c.Dist)
	return nil
}

// TestDistributionsAgainstReference compares with mpmath at 60 digits (the file
// names versions and cross-checks with scipy and R): 1e-12 relative for totals up
// to ten thousand.
func TestDistributionsAgainstReference(t *testing.T) {
	var ref struct{ Cases []distributionCase }
	reference(t, "distributions.json", &ref)
	if len(ref.Cases) < 100 {
		t.Fatalf("only %d reference cases", len(ref.Cases))
	}
	points := 0
	for _, c := range ref.Cases {
		d := c.total(t)
		top := c.Points[len(c.Points)-1].X
		probs, tails := d.Probs(top), d.Tails(top)
		for _, pt := range c.Points {
			points++
			tol := 1e-12
			if pt.X > 10_000 { // beyond what is promised
				tol = 1e-11
			}
			name := fmt.Sprintf("%s m=%d p=%g rho=%g mean=%g k=%g x=%d", c.Dist, c.M, c.P, c.Rho, c.Mean, c.K, pt.X)
			if e := apart(probs[pt.X], pt.Pmf); e > tol && pt.Pmf > 1e-290 {
				t.Errorf("%s: P(X = x) %.17g, want %.17g, relative difference %.2g", name, probs[pt.X], pt.Pmf, e)
			}
			if e := apart(tails[pt.X], pt.Upper); e > tol && pt.Upper > 1e-290 {
				t.Errorf("%s: P(X >= x) %.17g, want %.17g, relative difference %.2g", name, tails[pt.X], pt.Upper, e)
			}
		}
	}
	if points < 1000 {
		t.Errorf("only %d reference points", points)
	}
}

// anyTotal draws a stop total and an n above which nothing of weight is left.
func anyTotal(t *rapid.T) (d sampling.StopTotal, n int) {
	share := rapid.Float64Range(0, 1)
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0:
		m := rapid.IntRange(1, 300).Draw(t, "plants")
		return sampling.Binomial{Plants: m, P: share.Draw(t, "p")}, m
	case 1:
		m := rapid.IntRange(1, 300).Draw(t, "plants")
		rho := rapid.OneOf(rapid.Float64Range(0, 0.99), rapid.Float64Range(0, 1e-6)).Draw(t, "rho")
		return sampling.BetaBinomial{Plants: m, P: share.Draw(t, "p"), Rho: rho}, m
	case 2:
		mu := rapid.Float64Range(0, 100).Draw(t, "mean")
		k := math.Exp(rapid.Float64Range(math.Log(0.3), math.Log(1e12)).Draw(t, "ln k"))
		return sampling.NegBinomial{Mu: mu, K: k}, 100 + int((mu+mu*mu/k)*4+60*(1+mu/k)*10)
	}
	mu := rapid.Float64Range(0, 300).Draw(t, "mean")
	return sampling.NegBinomial{Mu: mu, K: math.Inf(1)}, 200 + int(mu*4)
}

func TestDistributionLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, n := anyTotal(t)
		probs, tails := d.Probs(n), d.Tails(n)
		if len(probs) != n+1 || len(tails) != n+1 {
			t.Fatalf("%d probabilities and %d tails, want %d", len(probs), len(tails), n+1)
		}
		for x, p := range probs {
			if !(p >= 0 && p <= 1+1e-14) {
				t.Fatalf("P(%d) = %g", x, p)
			}
		}
		if s := floats.Sum(probs); math.Abs(s-1) > 1e-12 {
			t.Fatalf("probabilities sum to %.17g", s)
		}
		sum := 0.0
		for x := n; x >= 0; x-- {
			sum += probs[x]
			if math.Abs(tails[x]-sum) > 1e-12*math.Max(sum, 1e-3) {
				t.Fatalf("P(X >= %d) = %.17g, probabilities sum to %.17g", x, tails[x], sum)
			}
		}
		mean, square := 0.0, 0.0
		for x, p := range probs {
			mean += float64(x) * p
		}
		for x, p := range probs {
			square += (float64(x) - mean) * (float64(x) - mean) * p
		}
		if math.Abs(mean-d.Mean()) > 1e-10*(1+d.Mean()) {
			t.Fatalf("mean %.17g, probabilities give %.17g", d.Mean(), mean)
		}
		if math.Abs(square-d.Variance()) > 1e-9*(1+d.Variance()) {
			t.Fatalf("variance %.17g, probabilities give %.17g", d.Variance(), square)
		}
	})
}

// TestProbsDoNotDependOnLength asks for shorter and longer lists.
func TestProbsDoNotDependOnLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, n := anyTotal(t)
		short := rapid.IntRange(0, n).Draw(t, "n")
		long, cut := d.Probs(n), d.Probs(short)
		longTails, cutTails := d.Tails(n), d.Tails(short)
		for x := range cut {
			if apart(cut[x], long[x]) > 1e-12 && long[x] > 1e-290 {
				t.Fatalf("P(%d) %.17g of %d entries, %.17g of %d", x, cut[x], short, long[x], n)
			}
			if apart(cutTails[x], longTails[x]) > 1e-9 && longTails[x] > 1e-290 {
				t.Fatalf("P(X >= %d) %.17g of %d entries, %.17g of %d", x, cutTails[x], short, longTails[x], n)
			}
		}
		if max := d.Max(); max != sampling.Unbounded {
			beyond := d.Probs(max + 3)
			if beyond[max+1] != 0 || beyond[max+3] != 0 {
				t.Fatalf("P beyond %d: %v", max, beyond[max+1:])
			}
		}
	})
}

func TestPointMasses(t *testing.T) {
	tests := []struct {
		d  sampling.StopTotal
		at int
	}{
		{sampling.Binomial{Plants: 20, P: 0}, 0},
		{sampling.Binomial{Plants: 20, P: 1}, 20},
		{sampling.BetaBinomial{Plants: 20, P: 0, Rho: 0.3}, 0},
		{sampling.BetaBinomial{Plants: 20, P: 1, Rho: 0.3}, 20},
		{sampling.NegBinomial{Mu: 0, K: 0.5}, 0},
		{sampling.NegBinomial{Mu: 0, K: math.Inf(1)}, 0},
	}
	for _, test := range tests {
		for x, p := range test.d.Probs(25) {
			want := 0.0
			if x == test.at {
				want = 1
			}
			if p != want {
				t.Errorf("%#v: P(%d) = %g, want %g", test.d, x, p, want)
			}
		}
	}
}

// TestContinuity holds the clumped distributions to their limits without clumping.
func TestContinuity(t *testing.T) {
	for _, m := range []int{1, 20, 400} {
		for _, p := range []float64{0.01, 0.15, 0.5, 0.9} {
			want := sampling.Binomial{Plants: m, P: p}.Probs(m)
			for _, rho := range []float64{1e-15, 1e-12, 1e-9} {
				got := sampling.BetaBinomial{Plants: m, P: p, Rho: rho}.Probs(m)
				for x := range want {
					// P(x) has derivative P(x)/2 * ((x-mp)^2 + ...)/(p(1-p)) in rho.
					slack := 1e-12 + rho*float64(m*m)/(p*(1-p))
					if want[x] > 1e-290 && apart(got[x], want[x]) > slack {
						t.Errorf("m %d, p %g, rho %g: P(%d) = %.17g, binomial %.17g", m, p, rho, x, got[x], want[x])
					}
				}
			}
		}
	}
	for _, mu := range []float64{0.1, 3, 50, 2000} {
		top := int(3*mu + 20)
		want := sampling.NegBinomial{Mu: mu, K: math.Inf(1)}.Probs(top)
		for _, k := range []float64{1e9, 1e12, 1e15} {
			got := sampling.NegBinomial{Mu: mu, K: k}.Probs(top)
			for x := range want {
				slack := 1e-12 + float64(top*top)/k
				if want[x] > 1e-290 && apart(got[x], want[x]) > slack {
					t.Errorf("mean %g, k %g: P(%d) = %.17g, Poisson %.17g", mu, k, x, got[x], want[x])
				}
			}
		}
	}
}

// TestAgainstGonum: its Binomial and Poisson are good to about 1e-13 and 1e-12 at
// these sizes.
func TestAgainstGonum(t *testing.T) {
	for _, m := range []int{1, 20, 100} {
		for _, p := range []float64{0.01, 0.15, 0.5, 0.97} {
			got := sampling.Binomial{Plants: m, P: p}.Probs(m)
			want := distuv.Binomial{N: float64(m), P: p}
			for x := range got {
				if e := apart(got[x], want.Prob(float64(x))); e > 1e-12 {
					t.Errorf("binomial m %d, p %g: P(%d) off by %.2g", m, p, x, e)
				}
			}
		}
	}
	for _, mu := range []float64{0.1, 3, 125} {
		got := sampling.NegBinomial{Mu: mu, K: math.Inf(1)}.Probs(200)
		want := distuv.Poisson{Lambda: mu}
		for x := range got {
			if e := apart(got[x], want.Prob(float64(x))); e > 2e-12 && got[x] > 1e-290 {
				t.Errorf("Poisson mean %g: P(%d) off by %.2g", mu, x, e)
			}
		}
	}
}

// TestSumsOfUnits: units of one stop add to the distribution of the stop.
func TestSumsOfUnits(t *testing.T) {
	counts := sampling.Counts{Mean: 1.5, K: 0.8}
	one := counts.Stop(1).Probs(400)
	sum := []float64{1}
	for range 5 {
		sum = sampling.Convolve(sum, one)[:401]
	}
	want := counts.Stop(5).Probs(400)
	for x := 0; x <= 60; x++ {
		if apart(sum[x], want[x]) > 1e-12 {
			t.Errorf("five units: P(%d) = %.17g, want %.17g", x, sum[x], want[x])
		}
	}
	binomial := sampling.Total(sampling.Infested{P: 0.15}.Stop(20), 4)
	for x, p := range (sampling.Binomial{Plants: 80, P: 0.15}).Probs(80) {
		if apart(binomial[x], p) > 1e-12 {
			t.Errorf("four stops: P(%d) = %.17g, want %.17g", x, binomial[x], p)
		}
	}
}

func TestPopulationsRefuse(t *testing.T) {
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		if _, err := sampling.NewInfested(p, 0.1); err == nil {
			t.Errorf("share %g accepted", p)
		}
	}
	for _, rho := range []float64{-0.1, 1, math.NaN()} {
		if _, err := sampling.NewInfested(0.1, rho); err == nil {
			t.Errorf("rho %g accepted", rho)
		}
	}
	for _, mean := range []float64{-1, math.Inf(1), math.NaN()} {
		if _, err := sampling.NewCounts(mean, 1); err == nil {
			t.Errorf("mean %g accepted", mean)
		}
	}
	for _, k := range []float64{0, -1, math.NaN()} {
		if _, err := sampling.NewCounts(1, k); err == nil {
			t.Errorf("k %g accepted", k)
		}
	}
	f, err := sampling.NewInfested(0.15, 0.1)
	if err != nil || f.Level() != 0.15 || f.Stop(20).Max() != 20 {
		t.Errorf("got %v, %v", f, err)
	}
	c, err := sampling.NewCounts(2, math.Inf(1))
	if err != nil || c.Level() != 2 || c.Stop(20).Mean() != 40 {
		t.Errorf("got %v, %v", c, err)
	}
}

func BenchmarkBetaBinomialProbs(b *testing.B) {
	for _, m := range []int{20, 1000} {
		b.Run(fmt.Sprintf("m=%d", m), func(b *testing.B) {
			d := sampling.BetaBinomial{Plants: m, P: 0.15, Rho: 0.1}
			for b.Loop() {
				d.Probs(m)
			}
		})
	}
}

func BenchmarkTotal(b *testing.B) {
	stop := sampling.BetaBinomial{Plants: 20, P: 0.15, Rho: 0.1}
	for _, stops := range []int{4, 20} {
		b.Run(fmt.Sprintf("stops=%d", stops), func(b *testing.B) {
			for b.Loop() {
				sampling.Total(stop, stops)
			}
		})
	}
}
