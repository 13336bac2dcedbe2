package plans

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// walkOut evaluates a table by a recursion over every count of every stop, which
// shares no code with the evaluation or the search.
func walkOut(t Table, field sampling.Population) (act, leave float64) {
	one := field.Stop(t.Units).Probs(t.Units)
	memo := map[[2]int][2]float64{}
	var from func(stop, total int) [2]float64
	from = func(stop, total int) [2]float64 {
		if known, ok := memo[[2]int{stop, total}]; ok {
			return known
		}
		var sum [2]float64
		for x, p := range one {
			s := total + x
			switch {
			case s <= t.Leave[stop]:
				sum[1] += p
			case s >= t.Act[stop]:
				sum[0] += p
			default:
				rest := from(stop+1, s)
				sum[0] += p * rest[0]
				sum[1] += p * rest[1]
			}
		}
		memo[[2]int{stop, total}] = sum
		return sum
	}
	end := from(0, 0)
	return end[0], end[1]
}

func drawProtocol(t *rapid.T) Protocol {
	lower := rapid.Float64Range(0.03, 0.4).Draw(t, "lower")
	upper := lower + rapid.Float64Range(0.1, 0.4).Draw(t, "gap")
	low := rapid.Float64Range(0, 0.2).Draw(t, "rho")
	minimum := rapid.IntRange(1, 4).Draw(t, "minimum")
	return Protocol{
		Stages: Everywhere(Stage{Unit: SampleUnit{Leaves: 1}, Stop: StopRules{
			Plants: rapid.IntRange(2, 8).Draw(t, "plants"), Minimum: minimum,
			Maximum: minimum + rapid.IntRange(0, 5).Draw(t, "more"), WalkMinutes: 3, PlantMinutes: 0.25,
		}, Clumping: Clumping{Rho: &Range{Low: low, High: low + rapid.Float64Range(0, 0.2).Draw(t, "width")}}}, []Stage{{
			Measure: ShareInfested, Lower: lower, Threshold: (lower + upper) / 2, Upper: upper,
			NeedlessRisk: rapid.Float64Range(0.02, 0.3).Draw(t, "alpha"), MissedRisk: rapid.Float64Range(0.02, 0.3).Draw(t, "beta"),
		}}...),
	}
}

// Whatever is asked, a designed plan keeps both risks over the whole clumping
// range by an independent evaluation, gives no verdict before the minimum, is not
// worse than the best lines or the fixed plan, and lies above the bound.
func TestDesignKeepsItsPromise(t *testing.T) {
	draw := rapid.Custom(drawProtocol)
	seeds := 10
	if *all {
		seeds = 30
	}
	for seed := range seeds {
		p := draw.Example(seed)
		plan, err := Design(context.Background(), p, DesignOptions{Bound: seed%5 == 0})
		var infeasible *Infeasible
		if errors.As(err, &infeasible) {
			if infeasible.Needed != 0 && infeasible.Needed <= p.Stages[0].Stop.Maximum {
				t.Fatalf("%v: the stops allowed would do", err)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		s := plan.Stages[0]
		if s.Table.Stops() > p.Stages[0].Stop.Maximum || s.Table.First() < p.Stages[0].Stop.Minimum {
			t.Fatalf("verdicts from stop %d to %d, allowed %d to %d", s.Table.First(), s.Table.Stops(), p.Stages[0].Stop.Minimum, p.Stages[0].Stop.Maximum)
		}
		for _, rho := range p.Stages[0].Clumping.Rho.Grid(clumpGrid) {
			act, _ := walkOut(s.Table, sampling.Infested{P: s.Lower, Rho: rho})
			_, leave := walkOut(s.Table, sampling.Infested{P: s.Upper, Rho: rho})
			if act > s.NeedlessRisk+1e-12 || leave > s.MissedRisk+1e-12 {
				t.Fatalf("rho %g: risks %g and %g, allowed %g and %g; %+v", rho, act, leave, s.NeedlessRisk, s.MissedRisk, s.Table)
			}
		}
		if s.NoPlanBelow > s.Weighted+1e-9 {
			t.Fatalf("averages %g stops, below the bound %g", s.Weighted, s.NoPlanBelow)
		}
		for _, m := range []Method{RiskTrueLines, Fixed} {
			other, err := Design(context.Background(), p, DesignOptions{Method: m})
			if err == nil && other.Stages[0].Weighted < s.Weighted-1e-9 {
				t.Fatalf("%s averages %g stops, risk-true %g", m, other.Stages[0].Weighted, s.Weighted)
			}
		}
	}
}

func TestDesignIsReproducible(t *testing.T) {
	p := shippedProtocol(t)
	p.Stages = p.Stages[1:2]
	p.Stages[0].Stop.Maximum = 10
	first, err := Design(context.Background(), p, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	second, err := Design(context.Background(), p, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if !first.Stages[0].Table.Equal(second.Stages[0].Table) {
		t.Error("two designs of one protocol differ")
	}
}

func TestDesignCanBeInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	for _, m := range Methods {
		if plan, err := Design(ctx, shippedProtocol(t), DesignOptions{Method: m}); !errors.Is(err, context.Canceled) || plan != nil {
			t.Errorf("%s: %v", m, err)
		}
	}
}

func TestInfeasibleSaysWhatWouldDo(t *testing.T) {
	p := shippedProtocol(t)
	p.Stages = p.Stages[:1]
	p = p.Each(func(s *Stage) { s.Stop.Maximum = 6 })
	_, err := Design(context.Background(), p, DesignOptions{})
	var e *Infeasible
	if !errors.As(err, &e) {
		t.Fatalf("got %v", err)
	}
	if e.Maximum != 6 || e.Needed <= 6 || e.NeedlessRisk <= p.Stages[0].NeedlessRisk || e.Looked != searchLimit {
		t.Errorf("%+v", *e)
	}
	// What it says would do, does; one stop less does not.
	p = p.Each(func(s *Stage) { s.Stop.Maximum = e.Needed })
	if _, err := Design(context.Background(), p, DesignOptions{}); err != nil {
		t.Errorf("with %d stops: %v", e.Needed, err)
	}
	p = p.Each(func(s *Stage) { s.Stop.Maximum = e.Needed - 1 })
	if _, err := Design(context.Background(), p, DesignOptions{}); err == nil {
		t.Errorf("a plan with %d stops exists", p.Stages[0].Stop.Maximum)
	}
	p = p.Each(func(s *Stage) { s.Stop.Maximum = 6 })
	p.Stages[0].NeedlessRisk, p.Stages[0].MissedRisk = e.NeedlessRisk+.001, e.MissedRisk+.001
	if _, err := Design(context.Background(), p, DesignOptions{}); err != nil {
		t.Errorf("with the risks that 6 stops could keep: %v", err)
	}
}

// Weights move the effort to where it is asked for.
func TestWeights(t *testing.T) {
	p := shippedProtocol(t)
	p.Stages = p.Stages[1:2]
	p.Stages[0].Stop.Maximum = 10
	stopsAt := func(w [3]float64) (lower, upper float64) {
		plan, err := Design(context.Background(), p, DesignOptions{Weights: w})
		if err != nil {
			t.Fatal(err)
		}
		s := plan.Stages[0]
		return s.Evaluate(s.Clumped(s.Lower)).ExpectedStops, s.Evaluate(s.Clumped(s.Upper)).ExpectedStops
	}
	lowerFirst, _ := stopsAt([3]float64{1, 0, 0})
	_, upperFirst := stopsAt([3]float64{0, 0, 1})
	evenLower, evenUpper := stopsAt([3]float64{})
	if lowerFirst >= evenLower || upperFirst >= evenUpper {
		t.Errorf("stops at the lower bound %g (even weights %g), at the upper bound %g (even weights %g)", lowerFirst, evenLower, upperFirst, evenUpper)
	}
}

// The best number of plants takes fewer minutes than its neighbours, and the
// formula of Cochran (1977, 10.6), sqrt(walk/plant (1-rho)/rho), lies near it.
func TestBestPlants(t *testing.T) {
	p := shippedProtocol(t)
	p.Stages = p.Stages[1:2]
	p.Stages[0].Stop.Maximum = 10
	best, trials, err := BestPlants(context.Background(), p, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	minutes := map[int]float64{}
	for _, x := range trials {
		if x.Feasible {
			minutes[x.Plants] = x.Minutes
		}
	}
	for _, near := range []int{best - 1, best + 1} {
		if m, ok := minutes[near]; !ok || m < minutes[best] {
			t.Errorf("%d plants take %g minutes, %d plants %g", best, minutes[best], near, m)
		}
	}
	rho := p.Stages[0].Clumping.Rho.High
	formula := math.Sqrt(p.Stages[0].Stop.WalkMinutes / p.Stages[0].Stop.PlantMinutes * (1 - rho) / rho)
	if float64(best) < formula/2 || float64(best) > 2*formula {
		t.Errorf("best %d plants, formula %.1f", best, formula)
	}
}

// A new method is compared with the others; Iwao's curves promise no risks.
func TestEveryMethodIsCompared(t *testing.T) {
	for _, m := range Methods {
		if slices.Contains(Compared, m) == (m == IwaoCurves) {
			t.Errorf("%s: compared is %t", m, slices.Contains(Compared, m))
		}
	}
}
