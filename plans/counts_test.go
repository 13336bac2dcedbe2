package plans

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"stopwise/sampling"
)

// onlyPopulation hides that counts add up, so that every stop is walked.
type onlyPopulation struct{ sampling.Population }

// Leading stops without a verdict are pooled for counts; stop by stop the result
// must be the same.
func TestPoolingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		field := sampling.Counts{Mean: rapid.Float64Range(0.1, 4).Draw(t, "mean"), K: rapid.Float64Range(0.2, 5).Draw(t, "k")}
		table := Table{
			Units: rapid.IntRange(1, 6).Draw(t, "units"),
			Leave: []int{NeverLeave, NeverLeave, 6, 12, 20},
			Act:   []int{NeverAct, NeverAct, 25, 28, 21},
		}
		table.Act[3] = 21
		table.Act[2] = 21
		a, b := Evaluate(table, field), Evaluate(table, onlyPopulation{field})
		if math.Abs(a.Leave-b.Leave) > 1e-12 || math.Abs(a.Act-b.Act) > 1e-12 || math.Abs(a.ExpectedStops-b.ExpectedStops) > 1e-11 {
			t.Fatalf("pooled %+v, stop by stop %+v", a, b)
		}
	})
}

// The fast Fourier transform must give what the sums give, to 1e-10 and better.
func TestConvolveFFT(t *testing.T) {
	stop := sampling.Counts{Mean: 60, K: 0.8}.Stop(40)
	a := stop.Probs(9000)
	b := sampling.Counts{Mean: 75, K: 0.8}.Stop(20).Probs(5000)
	exact, fast := sampling.Convolve(a, b), sampling.ConvolveFFT(a, b)
	if len(exact) != len(fast) {
		t.Fatalf("%d values, want %d", len(fast), len(exact))
	}
	for x := range exact {
		if math.Abs(exact[x]-fast[x]) > 1e-14 {
			t.Fatalf("at %d: %g, want %g", x, fast[x], exact[x])
		}
	}
}

func countProtocol() Protocol {
	return Protocol{
		Stages: Everywhere(Stage{Unit: SampleUnit{Leaves: 2}, Stop: StopRules{Plants: 10, Minimum: 2, Maximum: 12, WalkMinutes: 3, PlantMinutes: 1}, Clumping: Clumping{K: &Range{Low: 0.6, High: 1}, CountRho: &Range{}}}, []Stage{{
			Name: "leafing", Measure: MeanPerLeaf, Lower: 50, Threshold: 70, Upper: 100,
			NeedlessRisk: 0.10, MissedRisk: 0.05,
		}}...),
	}
}

// Count plans keep their promise under a simulation that shares nothing with the
// evaluation but the decision table: counts are drawn as gamma-mixed Poissons. The
// risk-true plan walks least.
func TestCountDesignAgainstSimulation(t *testing.T) {
	compared, err := Compare(context.Background(), countProtocol(), DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	stops := map[Method]float64{}
	for _, s := range compared[0].Plans {
		m := s.Method
		if m == Lines {
			continue // promises nothing
		}
		stops[m] = s.Weighted
		if !s.Keeps() {
			t.Errorf("%s: risks %v and %v are not kept", m, s.WorstNeedless(), s.WorstMissed())
		}
		const visits = 4000
		src := rand.NewPCG(3, 3)
		acts := 0
		for range visits {
			total := 0
			for j := 1; j <= s.Table.Stops(); j++ {
				for range s.Table.Units {
					mean := distuv.Gamma{Alpha: 0.6, Beta: 0.6 / 50, Src: src}.Rand()
					total += int(distuv.Poisson{Lambda: mean, Src: src}.Rand())
				}
				if v := s.Table.Verdict(j, total); v != Continue {
					if v == Act {
						acts++
					}
					break
				}
			}
		}
		exact := s.Evaluate(s.World(50, 0.6)).Act
		got, se := float64(acts)/visits, math.Sqrt(exact*(1-exact)/visits)
		if math.Abs(got-exact) > 5*se {
			t.Errorf("%s: acts in %.4f of simulated visits, exactly %.4f (standard error %.4f)", m, got, exact, se)
		}
	}
	if len(stops) != 3 || stops[RiskTrue] > stops[RiskTrueLines]+1e-9 || stops[RiskTrue] > stops[Fixed]+1e-9 {
		t.Errorf("risk-true is not the best: %v", stops)
	}
}

// Iwao's curves against the formula worked by hand (Iwao 1975): threshold 70,
// 20 leaves a stop, k 1, both risks 10%: variance per leaf 70 + 70^2 = 4970,
// z 1.2816 (published normal quantile), so after 2 stops 40*70 -+ 1.2816 *
// sqrt(40*4970) = 2800 -+ 571.4.
func TestIwaoCurves(t *testing.T) {
	p := countProtocol()
	p = p.Each(func(s *Stage) { s.Clumping.K = &Range{Low: 1, High: 1} })
	p.Stages[0].MissedRisk = 0.10
	plan, err := Design(context.Background(), p, DesignOptions{Method: IwaoCurves})
	if err != nil {
		t.Fatal(err)
	}
	table := plan.Stages[0].Table
	if table.Leave[0] != NeverLeave || table.Act[0] != NeverAct {
		t.Errorf("a verdict before the minimum of stops: %v", table)
	}
	if table.Leave[1] != 2228 || table.Act[1] != 3372 {
		t.Errorf("stop 2: leave %d, act %d, want 2228 and 3372", table.Leave[1], table.Act[1])
	}
	if n := table.Stops(); table.Leave[n-1] != 70*20*12 {
		t.Errorf("last stop: leave %d, want %d", table.Leave[n-1], 70*20*12)
	}
}

// The variance laws meet the Poisson where they must: Iwao at A = 0, B = 1,
// Taylor at a = b = 1.
func TestLawsMeetPoisson(t *testing.T) {
	for _, mean := range []float64{0.5, 3, 50} {
		if k := (Iwao{A: 0, B: 1}).K(mean); !math.IsInf(k, 1) {
			t.Errorf("Iwao A = 0, B = 1 at %g: k %g", mean, k)
		}
		if k := (Taylor{A: 1, B: 1}).K(mean); !math.IsInf(k, 1) {
			t.Errorf("Taylor a = b = 1 at %g: k %g", mean, k)
		}
		// Iwao's A = 0 is a negative binomial with k = 1/(B-1) at every mean.
		if k := (Iwao{A: 0, B: 1.5}).K(mean); math.Abs(k-2) > 1e-12 {
			t.Errorf("Iwao A = 0, B = 1.5 at %g: k %g, want 2", mean, k)
		}
	}
}
