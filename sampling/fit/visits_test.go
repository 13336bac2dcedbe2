package fit

import (
	"math"
	"math/rand/v2"
	"testing"

	"stopwise/sampling"
)

// One visit at a known level: the likelihood over visits is highest where one
// beta-binomial is, which is fitted by other code.
func TestOverVisitsOfOneLevel(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	stops := drawStops(r, 60, 15, 0.3, 0.15)
	v := Visit{}
	for _, s := range stops {
		v.Stops = append(v.Stops, StopTotal{s.Plants, s.Infested})
	}
	got := must(FitOverVisits([]Visit{v}, LogitScale, infested, 0.95))
	want := must(FitRho(stops, 0.95)).ML
	if math.Abs(got.Value-want.Value) > 0.005 || math.Abs(got.Lower-want.Lower) > 0.01 || math.Abs(got.Upper-want.Upper) > 0.01 {
		t.Errorf("rho %v to %v, %v; the beta-binomial's maximum likelihood %v to %v, %v", got.Lower, got.Upper, got.Value, want.Lower, want.Upper, want.Value)
	}
	if got.Visits != 1 || got.Stops != 60 || got.Fields != 1 {
		t.Errorf("%+v", got)
	}
}

// What a scout sees before turning back must not change the estimate: visits that end
// early, after a stop without a find, give the same as the likelihood of their stops,
// in whatever order they are told, and visits in pieces of a set count as often as they
// stand there.
func TestOverVisitsIsOfTheCounts(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	var visits, turned []Visit
	for i := range 30 {
		v := Visit{Field: i}
		for _, s := range drawStops(r, 3+i%4, 15, 0.05+0.01*float64(i), 0.1) {
			v.Stops = append(v.Stops, StopTotal{s.Plants, s.Infested})
		}
		visits = append(visits, v)
		w := v
		w.Stops = nil
		for j := range v.Stops {
			w.Stops = append(w.Stops, v.Stops[len(v.Stops)-1-j])
		}
		turned = append([]Visit{w}, turned...)
	}
	a, b := must(FitOverVisits(visits, LogitScale, infested, 0.95)), must(FitOverVisits(turned, LogitScale, infested, 0.95))
	if math.Abs(a.Value-b.Value) > 0.001 {
		t.Errorf("%v, and %v in another order", a.Value, b.Value)
	}
	pooled, same, err := PoolOverVisits([]OverVisits{a, a}, 0.95)
	if err != nil || math.Abs(pooled.Value-a.Value) > 0.002 || pooled.Upper-pooled.Lower > 0.8*(a.Upper-a.Lower) || same.P < 0.9 {
		t.Errorf("the same twice: %v to %v for %v to %v, test %+v, %v", pooled.Lower, pooled.Upper, a.Lower, a.Upper, same, err)
	}
}

// The k and the correlation of counts that totals of stops were made with.
func TestOverVisitsOfCounts(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	const k, countRho = 0.8, 0.15
	var visits []Visit
	for i := range 24 {
		mean := math.Exp(-1 + 0.13*float64(i))
		probs := sampling.AlikeCounts{Mean: mean, K: k, Rho: countRho}.Stop(10).Probs(2000)
		v := Visit{Field: i}
		for range 6 {
			u, x := r.Float64(), 0
			for u > probs[x] && x < len(probs)-1 {
				u -= probs[x]
				x++
			}
			v.Stops = append(v.Stops, StopTotal{10, x})
		}
		visits = append(visits, v)
	}
	low := Scale{LogScale.level, math.Log(1e-3), math.Log(100)} // LogScale goes up to stops of 30,000 insects
	if *recovery {
		low = LogScale
	}
	rho := must(FitOverVisits(visits, low, func(c, mean float64) sampling.Population {
		return sampling.AlikeCounts{Mean: mean, K: k, Rho: math.Min(c, sampling.MaxCountRho(mean, k))}
	}, 0.95))
	if !(rho.Lower < countRho && countRho < rho.Upper) || rho.Upper-rho.Lower > 0.25 {
		t.Errorf("count rho %v, %v to %v; made with %v", rho.Value, rho.Lower, rho.Upper, countRho)
	}
	alike := must(FitOverVisits(visits, low, func(c, mean float64) sampling.Population {
		k := KOf(c)
		return sampling.AlikeCounts{Mean: mean, K: k, Rho: math.Min(countRho, sampling.MaxCountRho(mean, k))}
	}, 0.95))
	if e := alike.AsK(); !(e.Lower < k && k < e.Upper) {
		t.Errorf("k %v, %v to %v; made with %v", e.Value, e.Lower, e.Upper, k)
	}
}

func TestKOf(t *testing.T) {
	for _, k := range []float64{0.01, 0.2, 1, 50} {
		if got := KOf(0.2 / (0.2 + k)); math.Abs(got/k-1) > 1e-12 {
			t.Errorf("k %v there and back is %v", k, got)
		}
	}
	if !math.IsInf(KOf(0), 1) {
		t.Error("no clumping is no infinite k")
	}
}

// Growth of counts that are as expected, on many plants: the truth, whatever the
// fields' starts; with fields that stay, the spread is seen.
func TestGrowthOfExpectedCounts(t *testing.T) {
	course := func(field int, start, growth float64) (vs []Visit) {
		for day := 0; day <= 20; day += 5 {
			p := 1 / (1 + math.Exp(-start-growth*float64(day)))
			vs = append(vs, Visit{Field: field, Course: field, Day: float64(day), Stops: []StopTotal{{400, int(math.Round(400 * p))}}})
		}
		return vs
	}
	binomial := func(p float64) sampling.Population { return sampling.Infested{P: p} }
	var even, mixed []Visit
	for i := range 8 {
		start := -4 + 0.3*float64(i)
		even = append(even, course(i, start, 0.11)...)
		mixed = append(mixed, course(i, start, 0.22*float64(i%2))...)
	}
	g := must(FitGrowth(even, LogitScale, binomial, 0.95))
	if math.Abs(g.Value-0.11) > 0.004 || g.Spread != 0 || g.Courses != 8 || g.Visits != 40 || g.Lower > 0.11 || g.Upper < 0.11 {
		t.Errorf("%v, %v to %v, spread %v of %d courses", g.Value, g.Lower, g.Upper, g.Spread, g.Courses)
	}
	m := must(FitGrowth(mixed, LogitScale, binomial, 0.95))
	if math.Abs(m.Value-0.11) > 0.02 || m.Spread < 0.08 || m.Same.P > 0.001 {
		t.Errorf("half stay, half grow by 0.22: %v, spread %v, P %v", m.Value, m.Spread, m.Same.P)
	}
	if f := m.Faster(m.Value); math.Abs(f-0.5) > 1e-9 {
		t.Errorf("%v grow faster than the mean", f)
	}
	pooled, same, err := PoolGrowth([]Growth{g, g}, 0.95)
	if err != nil || math.Abs(pooled.Value-g.Value) > 0.001 || same.P < 0.9 {
		t.Errorf("twice the same: %v, %+v, %v", pooled.Value, same, err)
	}
}

func TestVisitsThatCarryNothing(t *testing.T) {
	none := []Visit{{Stops: []StopTotal{{15, 0}, {15, 0}}}, {Field: 1, Course: 1, Stops: []StopTotal{{15, 3}}}}
	if o := must(FitOverVisits(none, LogitScale, infested, 0.95)); o.Known() || o.Visits != 0 {
		t.Errorf("%+v", o)
	}
	if g := must(FitGrowth(none, LogitScale, func(p float64) sampling.Population { return infested(.1, p) }, 0.95)); g.Known() {
		t.Errorf("%+v", g)
	}
	for _, bad := range []StopTotal{{0, 0}, {15, -1}} {
		if _, err := FitOverVisits([]Visit{{Stops: []StopTotal{bad}}}, LogitScale, infested, 0.95); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
	if _, _, err := PoolOverVisits(nil, 0.95); err != nil {
		t.Error(err)
	}
}
