package validate

import (
	"context"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"go.uber.org/goleak"
	"pgregory.net/rapid"

	"stopwise/plans"
	"stopwise/sampling"
)

// sigmas is how far a simulation may lie from an exact value, in standard
// errors. Seeds are fixed, so that a test passes always or never.
const sigmas = 4.5

func nearChance(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got Chance, want float64) {
	t.Helper()
	// One visit more or less is granted where the exact chance is next to 0 or 1.
	se := math.Sqrt(want*(1-want)/float64(got.Visits)) + 1/float64(got.Visits)
	if math.Abs(got.Value-want) > sigmas*se {
		t.Errorf("%s: simulated %.5f, exact %.5f, standard error %.5f", what, got.Value, want, se)
	}
}

func nearMean(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got Mean, want float64) {
	t.Helper()
	// So rare a stop more that no visit had one is granted.
	if math.Abs(got.Value-want) > sigmas*got.SE+1e-4 {
		t.Errorf("%s: simulated %.5f, exact %.5f, standard error %.5f", what, got.Value, want, got.SE)
	}
}

// TestSimulateAgreesOnGrid holds the simulation against the exact evaluation.
func TestSimulateAgreesOnGrid(t *testing.T) {
	shares := usualPlan(t)
	means := stagePlan(t, counts(0.8), plans.Lines)
	for _, c := range []struct {
		s      *plans.StagePlan
		levels []float64
		clumps []float64
	}{
		{shares, []float64{0, .05, .15, .22, .30, .6, 1}, []float64{0, .05, .15, .4}},
		{means, []float64{0, 2, 4, 6, 9, 30}, []float64{0.2, 0.8, 5, math.Inf(1)}},
	} {
		for _, level := range c.levels {
			for _, clump := range c.clumps {
				w := c.s.World(level, clump)
				v, err := simulate(context.Background(), c.s, w.Population(), Options{Visits: 20000, Seed: 7})
				if err != nil {
					t.Fatal(err)
				}
				e := c.s.Evaluate(w)
				nearChance(t, "act", v.ActChance(), e.Act)
				nearChance(t, "leave", v.LeaveChance(), e.Leave)
				nearMean(t, "stops", v.MeanStops(), e.ExpectedStops)
				plants := e.ExpectedUnits / float64(c.s.Units(1))
				nearMean(t, "plants", v.MeanPlants(), plants)
				nearMean(t, "minutes", v.MeanMinutes(), c.s.Minutes(e.ExpectedStops, plants))
			}
		}
	}
}

// TestSimulateAgrees does so for any table.
func TestSimulateAgrees(t *testing.T) {
	like := usualPlan(t)
	rapid.Check(t, func(t *rapid.T) {
		s := *like
		s.Table = drawTable(t)
		pop := sampling.Infested{P: rapid.Float64Range(0, 1).Draw(t, "p"), Rho: rapid.Float64Range(0, 0.95).Draw(t, "rho")}
		v, err := simulate(context.Background(), &s, pop, Options{Visits: 2000, Seed: rapid.Uint64().Draw(t, "seed")})
		if err != nil {
			t.Fatal(err)
		}
		// Random seeds in many runs: rarely is one off by six standard errors.
		e := plans.Evaluate(s.Table, pop)
		se := math.Sqrt(e.Act*(1-e.Act)/2000) + 1.0/2000
		if math.Abs(v.ActChance().Value-e.Act) > 6.5*se {
			t.Errorf("act %v, exact %v", v.ActChance(), e.Act)
		}
	})
}

func drawTable(t *rapid.T) plans.Table {
	n := rapid.IntRange(1, 12).Draw(t, "stops")
	table := plans.Table{Units: rapid.IntRange(1, 30).Draw(t, "units")}
	first := rapid.IntRange(0, n-1).Draw(t, "first")
	a := 0
	for j := range n {
		leave, act := plans.NeverLeave, plans.NeverAct
		if j >= first {
			a += rapid.IntRange(0, 5).Draw(t, "rise")
			leave = a
			act = max(a+1+rapid.IntRange(0, 20).Draw(t, "gap"), lastAct(table))
		}
		table.Leave, table.Act = append(table.Leave, leave), append(table.Act, act)
	}
	if last := table.Act[n-1] - 1; last >= table.Leave[n-1] {
		table.Leave[n-1] = last
	}
	if err := table.Check(); err != nil {
		t.Fatal(err)
	}
	return table
}

func lastAct(t plans.Table) int {
	if n := len(t.Act); n > 0 && t.Act[n-1] != plans.NeverAct {
		return t.Act[n-1]
	}
	return 0
}

var all = flag.Bool("all", false, "try mixed fields with every method, more workers, and more visits of made fields")

// TestWorkersDoNotMatter holds every simulation to the same numbers at any
// number of workers, and to other numbers with another seed.
func TestWorkersDoNotMatter(t *testing.T) {
	s := usualPlan(t)
	fields := inventedFields(t)
	ctx := context.Background()
	patterns, routes, numbers := []Pattern{HotSpots}, []Route{Random, Balanced}, []int{0, 7}
	if *all {
		patterns, routes, numbers = Patterns, Routes, []int{0, 2, 7}
	}
	for name, f := range map[string]func(o Options) (any, error){
		"simulate": func(o Options) (any, error) { return simulate(ctx, s, s.Clumped(.2).Population(), o) },
		"short":    func(o Options) (any, error) { return Short(ctx, s, 0.5, o) },
		"resample": func(o Options) (any, error) { return Resample(ctx, s, fields, o) },
		"walks": func(o Options) (any, error) {
			return Walks(ctx, s, WalkOptions{Options: o, Rho: .1, Speed: 60, Patterns: patterns, Routes: routes})
		},
	} {
		run := func(o Options) string {
			v, err := f(o)
			if err != nil {
				t.Fatal(err)
			}
			return printed(v)
		}
		// Neither a whole number of blocks nor fewer than one for each worker.
		one := run(Options{Visits: 2100, Seed: 5, Workers: 1})
		for _, workers := range numbers {
			if got := run(Options{Visits: 2100, Seed: 5, Workers: workers}); got != one {
				t.Errorf("%s: %d workers gave other numbers than one", name, workers)
			}
		}
		if run(Options{Visits: 2100, Seed: 6, Workers: 1}) == one {
			t.Errorf("%s: the seed makes no difference", name)
		}
	}
}

func TestSimulationsStop(t *testing.T) {
	s := usualPlan(t)
	defer goleak.VerifyNone(t)
	ctx, cancel := context.WithCancel(context.Background())
	done := 0
	o := Options{Visits: 1 << 30, Seed: 1, Workers: 1, Progress: func(int64) {
		if done++; done == 3 {
			cancel()
		}
	}}
	if _, err := Walks(ctx, s, WalkOptions{Options: o, Rho: .1, Speed: 60, Patterns: []Pattern{Gradient}, Routes: []Route{Zigzag}}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if done != 3 {
		t.Errorf("went on for %d blocks", done)
	}
	if _, err := simulate(context.Background(), s, s.Clumped(.1).Population(), Options{}); err == nil {
		t.Error("no visits were accepted")
	}
}

func TestProgressAddsUp(t *testing.T) {
	s := usualPlan(t)
	var sum int64
	o := Options{Visits: 2500, Seed: 1, Workers: 1, Progress: func(n int64) { sum += n }}
	if _, err := SurveyShort(context.Background(), s, o); err != nil {
		t.Fatal(err)
	}
	if want := SurveyShortVisits(o); sum != want {
		t.Errorf("%d visits reported, want %d", sum, want)
	}
}

func TestGuideDrawsAsItShould(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, probs := range [][]float64{
		{1}, {0, 1}, {0, 0, .5, 0, .5, 0}, {.7, .1, .1, .1},
		sampling.BetaBinomial{Plants: 20, P: .2, Rho: .1}.Probs(20),
		sampling.NegBinomial{Mu: 3, K: .5}.Probs(60),
	} {
		const n = 200_000
		g := newGuide(probs)
		seen := make([]float64, len(probs))
		for range n {
			seen[g.draw(r)]++
		}
		for x, p := range probs {
			if se := math.Sqrt(p * (1 - p) / n); math.Abs(seen[x]/n-p) > sigmas*se+2.0/n {
				t.Errorf("%v: drew %d in %v of the draws, want %v", probs, x, seen[x]/n, p)
			}
		}
	}
}

// TestUrn holds the urn against the distributions that it stands for.
func TestUrn(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct {
		name                 string
		marked, others, back float64
		want                 []float64
	}{
		// Choosing 3 of 4 marked and 6 others: C(4,x) C(6,3-x) / C(10,3).
		{"hypergeometric", 4, 6, -1, []float64{20. / 120, 60. / 120, 36. / 120, 4. / 120}},
		{"binomial", .3, .7, 0, sampling.Binomial{Plants: 3, P: .3}.Probs(3)},
		{"beta-binomial", .3, .7, .2 / .8, sampling.BetaBinomial{Plants: 3, P: .3, Rho: .2}.Probs(3)},
		{"none marked", 0, 5, -1, []float64{1, 0, 0, 0}},
		{"all marked", 1, 0, .5, []float64{0, 0, 0, 1}},
	} {
		const n = 200_000
		seen := make([]float64, 4)
		for range n {
			seen[urn(r, 3, c.marked, c.others, c.back)]++
		}
		for x, p := range c.want {
			if se := math.Sqrt(p * (1 - p) / n); math.Abs(seen[x]/n-p) > sigmas*se {
				t.Errorf("%s: drew %d in %v of the draws, want %v", c.name, x, seen[x]/n, p)
			}
		}
	}
}

func TestMeansAndErrors(t *testing.T) {
	var v Visits
	for i, act := range []bool{true, false, false, true} {
		v.add(act, i+1, 20*(i+1), float64(i))
	}
	// 1, 2, 3, 4: mean 2.5, variance 5/3, by hand.
	if m := v.MeanStops(); m.Value != 2.5 || math.Abs(m.SE-math.Sqrt(5./3/4)) > 1e-15 {
		t.Errorf("stops %v", m)
	}
	if c := v.ActChance(); c.Value != .5 || c.SE() != .25 {
		t.Errorf("act %v, standard error %v", c, c.SE())
	}
}

// simulate walks a plan through visits of fields from one population. It is an
// independent second route to [plans.Evaluate].
func simulate(ctx context.Context, s *plans.StagePlan, pop sampling.Population, o Options) (Visits, error) {
	g := newGuide(stopChances(s.Table, pop, s.Table.Units))
	parts := make([]Visits, blockCount(o))
	plants := s.Plants()
	stopMinutes := s.Minutes(1, float64(plants))
	err := inBlocks(ctx, o, 0, func(b, n int, r *rand.Rand) {
		for range n {
			act, stops := visit(s.Table, g, r)
			parts[b].add(act, stops, stops*plants, float64(stops)*stopMinutes)
		}
	})
	return joined(parts), err
}

func visit(t plans.Table, g guide, r *rand.Rand) (act bool, stops int) {
	total := 0
	for j, leave := range t.Leave {
		total += g.draw(r)
		if total <= leave {
			return false, j + 1
		}
		if total >= t.Act[j] {
			return true, j + 1
		}
	}
	return true, len(t.Leave) // not reached: the last stop brings a verdict
}
