package protocol

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// By hand: k = m^2/(variance - m), with Iwao's variance (A+1) m + (B-1) m^2 and
// Taylor's a m^b.
func TestLawK(t *testing.T) {
	for _, c := range []struct {
		law       Law
		mean      float64
		low, high float64
	}{
		{Law{Kind: IwaoLaw, A: 1, B: 1.5}, 4, 16. / 12, 16. / 12},
		{Law{Kind: IwaoLaw, A: -.5, B: 1}, 4, math.Inf(1), math.Inf(1)}, // variance below the mean
		{Law{Kind: TaylorLaw, A: 3.2, B: 1.5}, 4, 16 / (3.2*8 - 4), 16 / (3.2*8 - 4)},
		{Law{Kind: KLaw, Range: Range{.5, 2}}, 4, .5, 2},
		{Law{Kind: PoissonLaw}, 4, math.Inf(1), math.Inf(1)},
	} {
		if k := c.law.K(c.mean); k.Low != c.low && !nearRelative(k.Low, c.low, 1e-14) || k.High != c.high && !nearRelative(k.High, c.high, 1e-14) {
			t.Errorf("%+v at %g: k %v, want %g to %g", c.law, c.mean, k, c.low, c.high)
		}
	}
	// m + m^2/k at the clumped end, for three independent leaves.
	if v := (Law{Kind: KLaw, Range: Range{.5, 2}}).Variance(4, 3); !nearRelative(v, 3*(4+16/.5), 1e-12) {
		t.Errorf("variance %g, want 108", v)
	}
}

// Where a correlation of counts cannot be as large as stated, the largest that
// there is is taken: m/(m+k) (from the mixture of Poissons that shares all its
// clumping).
func TestCountRho(t *testing.T) {
	law := Law{Kind: KLaw, Range: Range{2, 2}, CountRho: Range{.3, .3}}
	if got := law.Clumped(.5).CountRho; !nearRelative(got, .5/2.5, 1e-14) {
		t.Errorf("at a mean of 0.5: %g, want 0.2", got)
	}
	w := law.Clumped(8)
	if w.CountRho != .3 {
		t.Errorf("at a mean of 8: %g, want 0.3", w.CountRho)
	}
	// Var of m alike units is m v (1 + (m-1) rho).
	if v, want := law.Variance(8, 5), 5*(8+64./2)*(1+4*.3); !nearRelative(v, want, 1e-9) {
		t.Errorf("variance %g, want %g", v, want)
	}
	if _, ok := w.Population().(sampling.AlikeCounts); !ok {
		t.Errorf("%T", w.Population())
	}
}

// The worlds run from the least to the most clumped one, whatever the law.
func TestWorldsRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		law := Law{Kind: rapid.SampledFrom([]LawKind{RhoLaw, KLaw, TaylorLaw, IwaoLaw, PoissonLaw}).Draw(t, "kind")}
		span := func(name string, low, high float64) Range {
			a, b := rapid.Float64Range(low, high).Draw(t, name), rapid.Float64Range(low, high).Draw(t, name)
			if rapid.Bool().Draw(t, "single") {
				return Range{a, a}
			}
			return Range{min(a, b), max(a, b)}
		}
		level := rapid.Float64Range(.01, .99).Draw(t, "level")
		switch law.Kind {
		case RhoLaw:
			law.Range = span("rho", 0, .9)
		case KLaw:
			law.Range = span("k", .05, 20)
		case TaylorLaw:
			law.A, law.B = rapid.Float64Range(.5, 5).Draw(t, "a"), rapid.Float64Range(.5, 2.5).Draw(t, "b")
		case IwaoLaw:
			law.A, law.B = rapid.Float64Range(-.9, 5).Draw(t, "a"), rapid.Float64Range(.5, 2.5).Draw(t, "b")
		}
		if law.Counts() {
			level *= 20
			law.CountRho = span("count rho", 0, .5)
		}
		ws := law.Worlds(level)
		if ws[0] != law.Even(level) || ws[len(ws)-1] != law.Clumped(level) {
			t.Fatalf("%+v runs from %+v to %+v", law, ws[0], ws[len(ws)-1])
		}
		least, most := ws[0].Population().Stop(4).Variance(), law.Variance(level, 4)
		for _, w := range ws {
			if v := w.Population().Stop(4).Variance(); v < least*(1-1e-9) || v > most*(1+1e-9) || w.Level != level || w.Counts != law.Counts() {
				t.Fatalf("%+v: %+v has variance %g, outside %g to %g", law, w, v, least, most)
			}
		}
		if err := law.Check(); err != nil {
			t.Fatal(err)
		}
	})
}

// Each measure by its definition: a mean grows as e^(rt), a share on the logit
// scale.
func TestMeasureGrows(t *testing.T) {
	if d := MeanPerLeaf.Days(1, 4, .25); !nearRelative(d, math.Log(4)/.25, 1e-14) {
		t.Errorf("%g days", d)
	}
	if d := ShareInfested.Days(.05, .22, .25); !nearRelative(d, (-1.265666+2.944439)/.25, 1e-6) { // logits, computed independently outside the project
		t.Errorf("%g days", d)
	}
	for _, m := range Measures {
		if m.Days(.3, .3, .1) != 0 || m.Days(.4, .3, .1) != 0 || !math.IsInf(m.Days(.2, .3, 0), 1) {
			t.Errorf("%s: there, beyond, never: %g %g %g", m, m.Days(.3, .3, .1), m.Days(.4, .3, .1), m.Days(.2, .3, 0))
		}
		if got := m.Grown(.1, .25, m.Days(.1, .3, .25)); !nearRelative(got, .3, 1e-12) {
			t.Errorf("%s: grown to %g, want 0.3", m, got)
		}
		if !m.Known() || m.Valid(0) || m.Valid(math.NaN()) || m.Valid(math.Inf(1)) || !m.Valid(.5) {
			t.Errorf("%s: levels accepted", m)
		}
	}
	if ShareInfested.Valid(1) || Measure("weight").Known() {
		t.Error("all plants infested is no bound, and weight no measure")
	}
}
