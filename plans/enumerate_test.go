package plans

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A second route to every chance, which shares nothing with the first: it looks at
// one plant after the other. At a stop where i of t plants were infested the next
// one is with chance (p (1-rho) + i rho) / (1 - rho + t rho), Polya's urn, whose
// totals are beta-binomial.
type urn struct{ p, rho float64 }

// stop returns the chances of 0, ..., m infested plants at a stop by listing all
// 2^m sequences of plants.
func (u urn) stop(m int) []float64 {
	chances := make([]float64, m+1)
	var next func(seen, infested int, chance float64)
	next = func(seen, infested int, chance float64) {
		if seen == m {
			chances[infested] += chance
			return
		}
		yes := (u.p*(1-u.rho) + float64(infested)*u.rho) / (1 - u.rho + float64(seen)*u.rho)
		next(seen+1, infested+1, chance*yes)
		next(seen+1, infested, chance*(1-yes))
	}
	next(0, 0, 1)
	return chances
}

// A listing is what listing all sequences of counts gives.
type listing struct {
	leave, act   float64
	leaves, acts []float64 // by stop
	stops, units float64
}

// list follows every sequence of counts from stop j (from 0) on, with m plants at
// each stop and numbers(j) to decide after it.
func (u urn) list(j, total, stops int, plants func(j int) int, numbers func(j int) (leave, act int)) listing {
	l := listing{leaves: make([]float64, stops), acts: make([]float64, stops)}
	first := j
	var walk func(j, total, units int, chance float64)
	walk = func(j, total, units int, chance float64) {
		m := plants(j)
		leave, act := numbers(j)
		for x, p := range u.stop(m) {
			c, s, n := chance*p, total+x, units+m
			switch {
			case c == 0:
			case s <= leave:
				l.leave += c
				l.leaves[j] += c
			case s >= act:
				l.act += c
				l.acts[j] += c
			default:
				walk(j+1, s, n, c)
				continue
			}
			l.stops += c * float64(j+1-first)
			l.units += c * float64(n)
		}
	}
	walk(j, total, 0, 1)
	return l
}

func listWalks(t Table, u urn) listing {
	return u.list(0, 0, t.Stops(), func(int) int { return t.Units }, func(j int) (int, int) { return t.Leave[j], t.Act[j] })
}

func TestEvaluateAgreesWithListing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 4, 4)
		pop := drawPopulation(t)
		e, l := Evaluate(table, pop), listWalks(table, urn{pop.P, pop.Rho})
		if !near(e.Leave, l.leave, 1e-13) || !near(e.Act, l.act, 1e-13) || !near(e.ExpectedStops, l.stops, 1e-12) || !near(e.ExpectedUnits, l.units, 1e-11) {
			t.Fatalf("%+v\n%+v", e, l)
		}
		for j, o := range e.Stops {
			if !near(o.Leave, l.leaves[j], 1e-13) || !near(o.Act, l.acts[j], 1e-13) {
				t.Fatalf("stop %d: %+v, listed %g, %g", j+1, o, l.leaves[j], l.acts[j])
			}
		}
	})
}

// A walk with any numbers of units at its stops, from any total; also where a
// boundary falls between two stops, as it can when fewer plants are seen.
func TestFollowAgreesWithListing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pop := drawPopulation(t)
		n := rapid.IntRange(1, 4).Draw(t, "steps")
		start := rapid.IntRange(0, 6).Draw(t, "start")
		steps := make([]rule.Step, n)
		for j := range steps {
			s := rule.Step{Units: rapid.IntRange(1, 4).Draw(t, "units"), Leave: rapid.IntRange(NeverLeave, 12).Draw(t, "leave"), Act: NeverAct}
			if rapid.Bool().Draw(t, "canAct") {
				s.Act = s.Leave + rapid.IntRange(1, 5).Draw(t, "width")
			}
			steps[j] = s
		}
		steps[n-1].Act = steps[n-1].Leave + 1
		e := rule.Follow(steps, start, pop)
		l := urn{pop.P, pop.Rho}.list(0, start, n, func(j int) int { return steps[j].Units }, func(j int) (int, int) { return steps[j].Leave, steps[j].Act })
		if !near(e.Leave, l.leave, 1e-13) || !near(e.Act, l.act, 1e-13) || !near(e.ExpectedStops, l.stops, 1e-12) || !near(e.ExpectedUnits, l.units, 1e-11) {
			t.Fatalf("%+v\n%+v", e, l)
		}
		for j, o := range e.Stops {
			if !near(o.Leave, l.leaves[j], 1e-13) || !near(o.Act, l.acts[j], 1e-13) {
				t.Fatalf("stop %d: %+v, listed %g, %g", j+1, o, l.leaves[j], l.acts[j])
			}
		}
	})
}

// A simulated visit draws a share for each stop and then plant by plant, or a
// gamma level for each leaf and then a Poisson count, and keeps a running total.
func simulate(t Table, count func() int, visits int) (act, stops, seAct, seStops float64) {
	acted, sum, squares := 0.0, 0.0, 0.0
	for range visits {
		total := 0
		for j := 0; ; j++ {
			total += count()
			if total <= t.Leave[j] || total >= t.Act[j] {
				if total >= t.Act[j] {
					acted++
				}
				sum += float64(j + 1)
				squares += float64(j+1) * float64(j+1)
				break
			}
		}
	}
	n := float64(visits)
	act, stops = acted/n, sum/n
	return act, stops, math.Sqrt(act * (1 - act) / n), math.Sqrt((squares/n - stops*stops) / n)
}

func TestEvaluateAgreesWithSimulation(t *testing.T) {
	source := rand.NewPCG(2026, 3)
	random := rand.New(source)
	shares := workedTable(t, 2)
	lines, err := CountLines(2, 4, 1.2, 0.1, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	counts := lines.Table(5, 3, 15, false)
	for _, c := range []struct {
		name  string
		table Table
		pop   sampling.Population
		count func() int
	}{
		{"p .15 rho .1", shares, sampling.Infested{P: 0.15, Rho: 0.1}, clumpedPlants(0.15, 0.1, 20, random, source)},
		{"p .225 rho .1", shares, sampling.Infested{P: 0.225, Rho: 0.1}, clumpedPlants(0.225, 0.1, 20, random, source)},
		{"p .3 rho .3", shares, sampling.Infested{P: 0.3, Rho: 0.3}, clumpedPlants(0.3, 0.3, 20, random, source)},
		{"mean 2", counts, sampling.Counts{Mean: 2, K: 1.2}, clumpedInsects(2, 1.2, 5, source)},
		{"mean 3", counts, sampling.Counts{Mean: 3, K: 1.2}, clumpedInsects(3, 1.2, 5, source)},
	} {
		const visits = 100000
		act, stops, seAct, seStops := simulate(c.table, c.count, visits)
		e := Evaluate(c.table, c.pop)
		if !near(e.Act, act, 5*seAct) || !near(e.ExpectedStops, stops, 5*seStops) {
			t.Errorf("%s: exact %.5f, %.5f; %d simulated visits %.5f +- %.5f, %.5f +- %.5f", c.name, e.Act, e.ExpectedStops, visits, act, seAct, stops, seStops)
		}
		if seAct == 0 || seAct > 0.002 {
			t.Errorf("%s: the simulation tells too little: standard error %g", c.name, seAct)
		}
	}
}

func clumpedPlants(p, rho float64, m int, random *rand.Rand, source rand.Source) func() int {
	share := distuv.Beta{Alpha: p * (1 - rho) / rho, Beta: (1 - p) * (1 - rho) / rho, Src: source}
	return func() int {
		here, infested := share.Rand(), 0
		for range m {
			if random.Float64() < here {
				infested++
			}
		}
		return infested
	}
}

func clumpedInsects(mean, k float64, m int, source rand.Source) func() int {
	level := distuv.Gamma{Alpha: k, Beta: k / mean, Src: source}
	return func() int {
		insects := 0.0
		for range m {
			insects += distuv.Poisson{Lambda: level.Rand(), Src: source}.Rand()
		}
		return int(insects)
	}
}
