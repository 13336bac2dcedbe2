package validate

import (
	"context"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans"
	"stopwise/sampling"
)

func scouts(t *testing.T, v FixedVisit, f sampling.Infested, o Options) Scouts {
	t.Helper()
	s, err := ManyScouts(context.Background(), v, f, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// What the scouts find agrees with the exact chances, clumped or not.
func TestScoutsAgreeWithExactChances(t *testing.T) {
	for _, c := range []struct {
		v FixedVisit
		f sampling.Infested
	}{
		{FixedVisit{4, 20, 0.22}, sampling.Infested{P: 0.15}},
		{FixedVisit{4, 20, 0.22}, sampling.Infested{P: 0.15, Rho: 0.1}},
		{FixedVisit{4, 20, 0.22}, sampling.Infested{P: 0.30, Rho: 0.3}},
		{FixedVisit{80, 1, 0.22}, sampling.Infested{P: 0.22, Rho: 0.3}},
		{FixedVisit{1, 1, 1}, sampling.Infested{P: 0.5}},
	} {
		s := scouts(t, c.v, c.f, Options{Visits: 20000, Seed: 5})
		nearChance(t, "wrong verdicts", s.Wrong(), s.WrongChance())
		nearMean(t, "estimate", s.Estimate(), c.f.P)
		nearMean(t, "spread", s.Spread(), s.StandardError())
		// The standard error of a share in clusters: Cochran (1977) 9.6.
		n := float64(c.v.Total())
		if want := math.Sqrt(c.f.P * (1 - c.f.P) / n * sampling.DesignEffect(c.v.Plants, c.f.Rho)); math.Abs(s.StandardError()-want) > 1e-12 {
			t.Errorf("standard error %g, want %g", s.StandardError(), want)
		}
		// The exact evaluation of a table is a second route to the chances.
		e := plans.Evaluate(plans.SingleCut(c.v.Plants, c.v.Stops, c.v.Threshold), c.f)
		want := e.Act
		if s.ShouldAct() {
			want = e.Leave
		}
		if math.Abs(s.WrongChance()-want) > 1e-12 {
			t.Errorf("chance of the wrong verdict %g, by evaluation %g", s.WrongChance(), want)
		}
	}
}

func TestScoutsDependOnTheSeedOnly(t *testing.T) {
	v, f := FixedVisit{4, 20, 0.22}, sampling.Infested{P: 0.15, Rho: 0.1}
	one := scouts(t, v, f, Options{Visits: 3500, Seed: 2, Workers: 1})
	many := scouts(t, v, f, Options{Visits: 3500, Seed: 2, Workers: 7})
	other := scouts(t, v, f, Options{Visits: 3500, Seed: 3, Workers: 1})
	if !slices.Equal(one.Seen, many.Seen) {
		t.Error("the result depends on the workers")
	}
	if slices.Equal(one.Seen, other.Seen) {
		t.Error("the result does not depend on the seed")
	}
}

func TestScoutQuantiles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := FixedVisit{rapid.IntRange(1, 6).Draw(t, "stops"), rapid.IntRange(1, 25).Draw(t, "plants"), 0.2}
		f := sampling.Infested{P: rapid.Float64Range(0, 1).Draw(t, "share"), Rho: rapid.Float64Range(0, 0.9).Draw(t, "rho")}
		q := rapid.Float64Range(0.01, 0.99).Draw(t, "quantile")
		s, err := ManyScouts(context.Background(), v, f, Options{Visits: 1})
		if err != nil {
			t.Fatal(err)
		}
		x := int(math.Round(s.Quantile(q) * float64(v.Total())))
		below, to := 0.0, 0.0
		for i, p := range s.Chances[:x+1] {
			to += p
			if i < x {
				below += p
			}
		}
		if to < q-1e-9 || below > q+1e-9 {
			t.Fatalf("quantile %g is %d of %d: P(less) %g, P(at most) %g", q, x, v.Total(), below, to)
		}
	})
}

func TestScoutsRefuse(t *testing.T) {
	good := sampling.Infested{P: 0.2, Rho: 0.1}
	for _, c := range []struct {
		v FixedVisit
		f sampling.Infested
		n int
	}{
		{FixedVisit{0, 20, 0.2}, good, 10}, {FixedVisit{4, 0, 0.2}, good, 10}, {FixedVisit{4, 20, 0}, good, 10}, {FixedVisit{4, 20, 1.1}, good, 10},
		{FixedVisit{1001, 20, 0.2}, good, 10}, {FixedVisit{4, 20, 0.2}, sampling.Infested{P: 1.2}, 10},
		{FixedVisit{4, 20, 0.2}, sampling.Infested{P: 0.2, Rho: 1}, 10}, {FixedVisit{4, 20, 0.2}, good, 0},
	} {
		if _, err := ManyScouts(context.Background(), c.v, c.f, Options{Visits: c.n}); err == nil {
			t.Errorf("%+v is not refused", c)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := ManyScouts(ctx, FixedVisit{4, 20, 0.2}, good, Options{Visits: 10}); err == nil {
		t.Error("a cancelled run has a result")
	}
}
