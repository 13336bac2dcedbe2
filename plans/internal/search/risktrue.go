package search

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"stopwise/plans/internal/parallel"
)

// priceRounds bounds the search for the prices of the risks.
const priceRounds = 40

// A rough search does with fewer of both.
const roughRounds, roughPolished = 15, 2

// unlikelyPolished is how many are worked on where hardly any table can keep the
// limits.
const unlikelyPolished = 2

// polished is how many of the tables found on the way are worked on further.
const polished = 8

// promising is the penalty, in stops, up to which a table is close enough to keeping
// the risks to go on from it.
const promising = 0.2 * penalty

// riskTrue searches for the table with the least weighted expected stops that
// keeps every limit exactly. starts are tables to begin from beside those that the
// search finds, feasible or not; the result is never worse than a feasible one
// among them. It reports false if no table was found that keeps the limits.
func (p *Problem) riskTrue(starts []Table) (Table, bool) {
	rng := rand.New(rand.NewPCG(1, 1)) // the same design gives the same plan
	active := p.likely()
	best, ok := Table{}, false
	bestEffort := math.Inf(1)
	for {
		e := newEngine(p, active)
		consider := func(t Table) {
			if x := p.Stops(t); x < bestEffort-leastGain && p.Keeps(t) {
				best, bestEffort, ok = t, x, true
			}
		}
		// base is the best table so far, feasible or not, to be disturbed below.
		base, merit := p.allContinue(), math.Inf(1)
		weigh := func(t Table) {
			consider(t)
			sc := e.quick(&t)
			if m := e.total(&sc, 0); m < merit {
				base, merit = t, m
			}
		}
		found := append(e.priced(p), starts...)
		improved := make([]Table, len(found))
		parallel.Each(len(found), func(i int) {
			f := newEngine(p, active)
			copy(f.guide, e.guide)
			improved[i] = f.improve(found[i], p)
		})
		for _, t := range append(found, improved...) {
			weigh(t)
		}
		if sc := e.quick(&base); merit-sc.effort < promising {
			for range p.kicks() {
				if p.stopped() {
					break
				}
				weigh(e.improve(e.kick(base, rng), p))
			}
		}
		// A limit that was not looked at may be the one that binds: where the best
		// table breaks it, look at it too.
		more := slices.DeleteFunc(p.worst(base), func(i int) bool { return slices.Contains(active, i) })
		if p.stopped() || len(more) == 0 || len(active)+len(more) > maxLimits {
			return best, ok
		}
		active = append(active, more...)
		slices.Sort(active)
		starts = append(starts, base)
	}
}

// priced adjusts the prices of the risks until the tables that are best for
// them just keep the risks, and returns the most promising tables on the way.
func (e *engine) priced(p *Problem) []Table {
	type found struct {
		t      Table
		merit  float64
		prices []float64
	}
	var all []found
	limits := e.limits()
	prices := slices.Clone(e.guide)
	pace := 0.8
	t := p.allContinue()
	rounds, keep := priceRounds, polished
	switch {
	case p.Rough:
		rounds, keep = roughRounds, roughPolished
	case p.unlikely:
		keep = unlikelyPolished
	}
	for range rounds {
		if p.stopped() {
			break
		}
		fresh := e.descend(p.allContinue(), prices)
		warm := e.descend(t, prices)
		t = fresh
		if e.cost(&warm, prices) < e.cost(&fresh, prices) {
			t = warm
		}
		sc := e.quick(&t)
		merit := sc.effort
		for i, k := range limits {
			merit += 2 * max(0, sc.risks[i]/k.allowed-1)
		}
		if !slices.ContainsFunc(all, func(f found) bool { return f.t.Equal(t) }) {
			all = append(all, found{t, merit, slices.Clone(prices)})
		}
		for i, k := range limits {
			prices[i] *= math.Pow(clamp(sc.risks[i]/k.allowed, 0.05, 20), pace)
		}
		pace *= 0.95
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(a.merit, b.merit) })
	var out []Table
	for _, f := range all[:min(len(all), keep)] {
		out = append(out, f.t)
	}
	if len(all) > 0 {
		e.guide = all[0].prices
	}
	return out
}

func (e *engine) cost(t *Table, prices []float64) float64 {
	sc := e.quick(t)
	c := sc.effort
	for i, x := range prices {
		c += x * sc.risks[i]
	}
	return c
}

func clamp(x, low, high float64) float64 { return math.Max(low, math.Min(high, x)) }

// kicks returns how many times the best table is disturbed and improved again:
// often where an evaluation is cheap and the numbers so few that the steps
// between tables are large, hardly ever in a full-sized plan.
func (p *Problem) kicks() int {
	if p.Rough {
		return 0
	}
	return min(100, 10000/(p.counts()*p.Maximum*p.Maximum))
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
