package plans

import (
	"testing"

	"stopwise/sampling"
)

func BenchmarkEvaluate(b *testing.B) {
	table := workedTable(b, 2)
	for b.Loop() {
		Evaluate(table, sampling.Infested{P: 0.225, Rho: 0.1})
	}
}

// 101 levels, in one core: .50 ms and 1,018 allocations before the terms, probabilities
// and outcomes of each level were kept in place, .38 and 718 after, side by side; .51 and
// 718 against .24 and 12, in a slower hour, since the sums of few states stay in registers
// and each level's distribution is written into the memory of the one before.
func BenchmarkCurve(b *testing.B) {
	s := shareStage(workedTable(b, 2), 0.15, 0.30, Range{Low: 0, High: 0.1})
	levels := make([]float64, 101)
	for i := range levels {
		levels[i] = float64(i) / 100
	}
	for b.Loop() {
		s.Curve(levels, s.As(0.1))
	}
}

func BenchmarkEvaluateInsects(b *testing.B) {
	l, err := CountLines(50, 125, 0.8, 0.1, 0.1)
	if err != nil {
		b.Fatal(err)
	}
	table := l.Table(40, 4, 20, false)
	for b.Loop() {
		Evaluate(table, sampling.Counts{Mean: 80, K: 0.8})
	}
}

func BenchmarkCheck(b *testing.B) {
	s := linesPlan(b, shippedProtocol(b)).Stages[0]
	counts := []Count{{Total: 3}, {Total: 4, Plants: 18}, {Total: 3}}
	for b.Loop() {
		if _, err := s.Check(counts); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadPlanAndCheck(b *testing.B) {
	text := planText(b, linesPlan(b, shippedProtocol(b)))
	for b.Loop() {
		plan, err := ReadPlan(text)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := plan.Stages[0].Check([]Count{{Total: 3}, {Total: 4, Plants: 18}}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDesignLines(b *testing.B) {
	p := shippedProtocol(b)
	for b.Loop() {
		if _, err := designLines(p); err != nil {
			b.Fatal(err)
		}
	}
}

// The risks of the shipped protocol's three stages balanced by cost, without the plan
// made for them in the end. The command, that plan included, took 20 user seconds with
// lines searched for anew for every pair of risks, 11.6 with their scores shared, 8.1
// with all pairs judged on one list of plans; the last two measured side by side, on a
// day on which the plan without balancing took 2.1.
func BenchmarkBalanceRisks(b *testing.B) {
	p := shippedProtocol(b)
	for b.Loop() {
		if _, _, err := BalanceRisks(b.Context(), p, DesignOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
