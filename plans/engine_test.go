package plans

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// The search's three ways to judge a table agree with the evaluation that the
// results are judged by, and what it thinks of a single move is exactly what the
// move does.
func TestEngineAgainstEvaluation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p0 := rapid.Float64Range(0.05, 0.3).Draw(t, "lower")
		p1 := p0 + rapid.Float64Range(0.1, 0.3).Draw(t, "gap")
		rho := rapid.Float64Range(0, 0.3).Draw(t, "rho")
		minimum := rapid.IntRange(1, 3).Draw(t, "minimum")
		p := shares(p0, p1, 0.1, 0.1, rho, rapid.IntRange(2, 8).Draw(t, "plants"), minimum, minimum+rapid.IntRange(1, 5).Draw(t, "more"))
		// Risks are kept in other worlds than those the effort is averaged over.
		p.needless = []sampling.Population{sampling.Infested{P: p0, Rho: rho / 2}}
		p.weights = [3]float64{0.5, 0.3, 0.2}
		lines, err := BinomialLines(p0, p1, 0.1, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		e, table := newEngine(p), lines.Table(p.units, p.minimum, p.maximum, true)
		exact := func(u Table) score {
			return score{p.effort(u), Evaluate(u, p.needless[0]).Act, Evaluate(u, p.missed[0]).Leave}
		}
		same := func(what string, got, want score) {
			if math.Abs(got.effort-want.effort) > 1e-11 || math.Abs(got.needless-want.needless) > 1e-12 || math.Abs(got.missed-want.missed) > 1e-12 {
				t.Fatalf("%s: %+v, evaluated %+v; %+v", what, got, want, table)
			}
		}
		now := exact(table)
		same("quick", e.quick(&table), now)
		same("score", e.score(&table), now)
		for _, m := range e.moves(&table) {
			if u, ok := e.apply(table, m); ok {
				same("a move", now.plus(m.delta), exact(u))
			}
		}
	})
}
