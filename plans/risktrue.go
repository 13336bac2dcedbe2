package plans

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// priceRounds bounds the search for the prices of the two risks.
const priceRounds = 40

// A rough search does with fewer of both.
const roughRounds, roughPolished = 15, 2

// polished is how many of the tables found on the way are worked on further.
const polished = 8

// riskTrue searches for the table with the least weighted expected stops that
// keeps both risks exactly in every world of the problem. starts are tables to
// begin from beside those that the search finds, feasible or not; the result is
// never worse than a feasible one among them. It reports false if no table was
// found that keeps the risks.
func (p *problem) riskTrue(starts []Table, stop func() bool) (Table, bool) {
	q := *p
	rng := rand.New(rand.NewPCG(1, 1)) // the same design gives the same plan
	for range 6 {
		e := newEngine(&q)
		best, ok := Table{}, false
		bestEffort := math.Inf(1)
		consider := func(t Table) {
			if x := p.effort(t); x < bestEffort-leastGain && p.keeps(t) {
				best, bestEffort, ok = t, x, true
			}
		}
		// base is the best table so far, feasible or not, to be disturbed below.
		base, merit := q.allContinue(), math.Inf(1)
		weigh := func(t Table) {
			consider(t)
			if m := e.quick(&t).total(&q, 0); m < merit {
				base, merit = t, m
			}
		}
		found := append(e.priced(&q, stop), starts...)
		improved := make([]Table, len(found))
		inParallel(len(found), func(i int) { improved[i] = newEngine(&q).improve(found[i], &q, stop) })
		for _, t := range append(found, improved...) {
			weigh(t)
		}
		for range q.kicks() {
			if stop() {
				break
			}
			weigh(e.improve(e.kick(base, rng), &q, stop))
		}
		if ok {
			return best, true
		}
		// The risks are worst elsewhere in the clumping range: look there, and
		// ask for a little less than is allowed.
		if stop() || !e.quick(&base).keeps(&q) {
			return Table{}, false
		}
		n, m, nAt, mAt := p.risks(base)
		q.needlessAt, q.missedAt = nAt, mAt
		if n > p.alpha {
			q.alpha *= 0.995 * p.alpha / n
		}
		if m > p.beta {
			q.beta *= 0.995 * p.beta / m
		}
	}
	return Table{}, false
}

// priced adjusts the prices of the two risks until the tables that are best for
// them just keep the risks, and returns the most promising tables on the way.
func (e *engine) priced(p *problem, stop func() bool) []Table {
	type found struct {
		t     Table
		merit float64
	}
	var all []found
	pr := prices{2 / p.alpha, 2 / p.beta}
	pace := 0.8
	t := p.allContinue()
	rounds, keep := priceRounds, polished
	if p.rough {
		rounds, keep = roughRounds, roughPolished
	}
	for range rounds {
		if stop() {
			break
		}
		fresh := e.descend(p.allContinue(), pr)
		warm := e.descend(t, pr)
		t = fresh
		if e.cost(&warm, pr) < e.cost(&fresh, pr) {
			t = warm
		}
		sc := e.quick(&t)
		merit := sc.effort + 2*max(0, sc.needless/p.alpha-1) + 2*max(0, sc.missed/p.beta-1)
		if !slices.ContainsFunc(all, func(f found) bool { return f.t.Equal(t) }) {
			all = append(all, found{t, merit})
		}
		pr.needless *= math.Pow(clamp(sc.needless/p.alpha, 0.05, 20), pace)
		pr.missed *= math.Pow(clamp(sc.missed/p.beta, 0.05, 20), pace)
		pace *= 0.95
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(a.merit, b.merit) })
	var out []Table
	for _, f := range all[:min(len(all), keep)] {
		out = append(out, f.t)
	}
	return out
}

func (e *engine) cost(t *Table, pr prices) float64 {
	sc := e.quick(t)
	return sc.effort + pr.needless*sc.needless + pr.missed*sc.missed
}

func clamp(x, low, high float64) float64 { return math.Max(low, math.Min(high, x)) }

// kicks returns how many times the best table is disturbed and improved again:
// often where an evaluation is cheap and the numbers so few that the steps
// between tables are large, hardly ever in a full-sized plan.
func (p *problem) kicks() int {
	if p.rough {
		return 0
	}
	return min(100, 10000/(p.counts()*p.maximum*p.maximum))
}

// kick returns the table after a few random moves.
func (e *engine) kick(t Table, rng *rand.Rand) Table {
	for range 2 + rng.IntN(4) {
		ms := e.moves(&t)
		if u, ok := e.apply(t, ms[rng.IntN(len(ms))]); ok {
			t = u
		}
	}
	return t
}
