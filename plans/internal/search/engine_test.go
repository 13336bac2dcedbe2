package search

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// The search's ways to judge a table agree with the evaluation that the
// results are judged by, and what it thinks of a single move is exactly what the
// move does.
func TestEngineAgainstEvaluation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p0 := rapid.Float64Range(0.05, 0.3).Draw(t, "lower")
		p1 := p0 + rapid.Float64Range(0.1, 0.3).Draw(t, "gap")
		rho := rapid.Float64Range(0, 0.3).Draw(t, "rho")
		minimum := rapid.IntRange(1, 3).Draw(t, "minimum")
		p := shares(p0, p1, 0.1, 0.1, rho, rapid.IntRange(2, 8).Draw(t, "plants"), minimum, minimum+rapid.IntRange(1, 5).Draw(t, "more"))
		// Risks are kept in other worlds than those the effort is averaged over, and
		// a further sign may be asked for.
		seen := func(stop int) float64 { return 1 - math.Pow(0.6, float64(stop)) }
		p.Limits[0] = Needless(sampling.Infested{P: p0, Rho: rho / 2}, 0.1, seen)
		p.Limits = append(p.Limits, Missed(sampling.Infested{P: p1, Rho: rho / 3}, 0.1, seen))
		for i, w := range []float64{0.5, 0.3, 0.2} {
			p.Effort[i].Weight = w
		}
		lines, err := rule.BinomialLines(p0, p1, 0.1, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		e, table := newEngine(p, []int{0, 1, 2}), lines.Table(p.Units, p.Minimum, p.Maximum, true)
		exact := func(u Table) score {
			sc := score{effort: p.Stops(u)}
			for i, l := range p.Limits {
				sc.risks[i] = l.Risk(u)
			}
			return sc
		}
		same := func(what string, got, want score) {
			off := math.Abs(got.effort-want.effort) > 1e-11
			for i := range p.Limits {
				off = off || math.Abs(got.risks[i]-want.risks[i]) > 1e-12
			}
			if off {
				t.Fatalf("%s: %+v, evaluated %+v; %+v", what, got, want, table)
			}
		}
		now := exact(table)
		same("quick", e.quick(&table), now)
		same("score", e.score(&table), now)
		ms, most := e.moves(&table), e.total(&now, 0)
		e.mark(&table)
		var moved []Table
		for _, m := range ms {
			u, ok := e.apply(table, m)
			if !ok {
				continue
			}
			want := exact(u)
			same("a move", now.plus(&m.delta, len(p.Limits)), want)
			sc, _ := e.better(&u, m.stop, math.Inf(1), math.Inf(1))
			same("from the stop moved on", sc, want)
			if _, ok := e.better(&u, m.stop, most, math.Inf(1)); !ok && e.total(&want, 0) < most-rounding {
				t.Fatalf("given up for %g, is %g", most, e.total(&want, 0))
			}
			moved = append(moved, u)
		}
		// What is known of the table before is right for the next.
		for _, u := range moved {
			same("score after another table", e.score(&u), exact(u))
			e.mark(&u)
			sc, _ := e.better(&u, p.Maximum-1, math.Inf(1), math.Inf(1))
			same("from the last stop on, after another table", sc, exact(u))
		}
	})
}

// plus returns the sum of two scores of n limits.
func (sc score) plus(d *score, n int) score {
	sc.effort += d.effort
	for i := range n {
		sc.risks[i] += d.risks[i]
	}
	return sc
}
