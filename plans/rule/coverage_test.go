package rule_test

import (
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// minimumOne is a plan that can end at the first stop.
var minimumOne = rule.Table{
	Units: 20,
	Leave: []int{0, 2, 4, 6, 9, 12, 15, 18},
	Act:   []int{6, 8, 10, 12, 14, 16, 18, 19},
}

// holds tests that a limit of 80% and an interval of 95% hold in a field.
func holds(t *testing.T, what string, v rule.Visit, f sampling.Population) {
	t.Helper()
	if m := v.Misses(f, .6); m.Below > .2+1e-12 {
		t.Errorf("%s, level %g: 80%% limit below it in %g", what, f.Level(), m.Below)
	}
	if m := v.Misses(f, .95); m.Missed() > .05+1e-12 {
		t.Errorf("%s, level %g: 95%% interval misses it in %g", what, f.Level(), m.Missed())
	}
}

func TestLimitsHoldForShares(t *testing.T) {
	for name, table := range map[string]rule.Table{"early": early, "minimum of one": minimumOne, "long": long()} {
		for _, built := range []float64{0, .12} {
			v := shares(table.Steps(), built)
			for p := .01; p < .605; p += .01 {
				// The limits are for the clumped end, and hold at the other too.
				for rho := built; rho >= 0; rho -= .06 {
					holds(t, name, v, sampling.Infested{P: p, Rho: rho})
				}
			}
		}
	}
}

// alike is a field whose stops differ in their means as a gamma distribution of a
// given shape, and whose leaves are negative binomial around that of their stop.
type alike struct{ mean, shape, k float64 }

func (f alike) Level() float64 { return f.mean }

func (f alike) Stop(units int) sampling.StopTotal {
	const nodes = 24
	u, weight := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(u, weight, 0, 1)
	mix := mixture{weight: weight}
	g := distuv.Gamma{Alpha: f.shape, Beta: f.shape}
	mean := 0.0
	for i, q := range u {
		u[i] = g.Quantile(q)
		mean += weight[i] * u[i]
	}
	for _, x := range u { // of mean exactly f.mean
		mix.of = append(mix.of, sampling.Counts{Mean: f.mean * x / mean, K: f.k}.Stop(units))
	}
	return mix
}

type mixture struct {
	of     []sampling.StopTotal
	weight []float64
}

func (m mixture) sum(n int, f func(sampling.StopTotal) []float64) []float64 {
	s := make([]float64, n+1)
	for i, d := range m.of {
		floats.AddScaled(s, m.weight[i], f(d))
	}
	return s
}

func (m mixture) Mean() float64 {
	return m.sum(0, func(d sampling.StopTotal) []float64 { return []float64{d.Mean()} })[0]
}

func (m mixture) Variance() float64 {
	mean := m.Mean()
	return m.sum(0, func(d sampling.StopTotal) []float64 {
		return []float64{d.Variance() + (d.Mean()-mean)*(d.Mean()-mean)}
	})[0]
}

func (m mixture) Max() int { return sampling.Unbounded }

func (m mixture) Probs(n int) []float64 {
	return m.sum(n, func(d sampling.StopTotal) []float64 { return d.Probs(n) })
}

func (m mixture) Tails(n int) []float64 {
	return m.sum(n, func(d sampling.StopTotal) []float64 { return d.Tails(n) })
}

// leaves is a plan for a mean count, of 10 leaves a stop.
var leaves = rule.Table{
	Units: 10,
	Leave: []int{4, 14, 30},
	Act:   []int{25, 36, 31},
}

func TestLimitsHoldForMeans(t *testing.T) {
	for _, minimum := range []int{1, 2} {
		table := leaves.Clone()
		table.Act[1] = 30 // not decreasing
		if minimum == 2 {
			table.Leave[0], table.Act[0] = rule.NeverLeave, never
		}
		for _, mu := range []float64{.02, .1, .3, .6, 1, 1.5, 2.5, 4, 8} {
			for _, k := range []float64{.2, .6, 2} {
				v := means(table.Steps(), k)
				holds(t, "independent leaves", v, sampling.Counts{Mean: mu, K: k})
				holds(t, "less clumped", v, sampling.Counts{Mean: mu, K: 2 * k})
			}
			v := means(table.Steps(), 0)
			v.Family = func(mu float64) sampling.Population { return alike{mu, 2.5, 1.5} }
			holds(t, "leaves of a stop alike", v, alike{mu, 2.5, 1.5})
			holds(t, "less alike", v, alike{mu, 6, 1.5})
		}
	}
}

// The chances were computed independently outside the project, in plain Python.
func TestOldIntervalMissesMoreAfterStoppingEarly(t *testing.T) {
	const rho = .12
	old := func(confidence float64) func(rule.End) sampling.Interval {
		return func(e rule.End) sampling.Interval { // as if the stops were fixed
			deff := sampling.DesignEffect(20, rho)
			return sampling.Wilson(float64(e.Total)/deff, float64(e.Units)/deff, confidence)
		}
	}
	for _, c := range []struct {
		table               rule.Table
		p                   float64
		old80, new80, old95 float64
	}{
		{early, .10, .2717961912, .1266623027, .0694285649},
		{early, .12, .2307531926, .1965736242, .0499534904},
		{early, .14, .3298982020, .1401296845, .0502861460},
		{minimumOne, .10, .0725669443, 0, .0898675248},
		{minimumOne, .12, .3941323148, 0, .0727927182},
		{minimumOne, .14, .4666977414, 0, .0635642122},
	} {
		f := sampling.Infested{P: c.p, Rho: rho}
		steps := c.table.Steps()
		near(t, "old 80%", rule.MissesOf(steps, f, old(.6)).Below, c.old80, 1e-9)
		near(t, "old 95%", rule.MissesOf(steps, f, old(.95)).Missed(), c.old95, 1e-9)
		near(t, "new 80%", shares(steps, rho).Misses(f, .6).Below, c.new80, 1e-9)
	}
}

// told returns the interval of Known as what a scout is told.
func told(t rapid.TB, v rule.Visit, confidence float64) func(rule.End) sampling.Interval {
	return func(e rule.End) sampling.Interval {
		k, err := v.Known(e.Stop, e.Total, confidence, .8)
		if err != nil {
			t.Fatal(err)
		}
		return k.Interval
	}
}

// drawSteps draws a walk whose stops saw unequal numbers of plants.
func drawSteps(t *rapid.T) []rule.Step {
	n := rapid.IntRange(1, 5).Draw(t, "stops")
	table := rule.Table{Units: rapid.IntRange(2, 12).Draw(t, "units")}
	first := rapid.IntRange(1, n).Draw(t, "first")
	slope := rapid.Float64Range(.1, .6).Draw(t, "slope")
	wide := rapid.Float64Range(.5, 6).Draw(t, "width")
	lines := rule.LinePair{Slope: slope, LeaveGap: wide, ActGap: wide}
	table = lines.Table(table.Units, first, n, true)
	return table.Path(rapid.SliceOfN(rapid.IntRange(1, 15), 0, n).Draw(t, "seen"))
}

func TestLimitsHoldForRandomPlans(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := drawSteps(t)
		if stop := rapid.IntRange(1, 2*len(steps)).Draw(t, "cut off"); stop <= len(steps) {
			steps = rule.CutOff(steps, stop)
		}
		v := shares(steps, rapid.SampledFrom([]float64{0, .05, .3}).Draw(t, "rho"))
		p := rapid.Float64Range(.005, .9).Draw(t, "p")
		confidence := rapid.SampledFrom([]float64{.6, .95}).Draw(t, "confidence")
		f := v.Family(p)
		m := rule.MissesOf(v.Steps, f, told(t, v, confidence))
		if tail := (1-confidence)/2 + 1e-9; m.Below > tail || m.Above > tail {
			t.Fatalf("limits of %g: below in %g, above in %g", confidence, m.Below, m.Above)
		}
		if q := v.Misses(f, confidence); m != q {
			t.Fatalf("misses %+v by the limits, %+v by the chances", m, q)
		}
	})
}

func TestMissesAreThoseOfTheLimitsForMeans(t *testing.T) {
	v := means(minimumOne.Steps(), .6)
	for _, mu := range []float64{.05, .3} {
		f := v.Family(mu)
		m, q := rule.MissesOf(v.Steps, f, told(t, v, .95)), v.Misses(f, .95)
		near(t, "below", m.Below, q.Below, 1e-12)
		near(t, "above", m.Above, q.Above, 1e-12)
	}
}
