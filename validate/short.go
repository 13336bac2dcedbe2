package validate

import (
	"context"
	"math/rand/v2"

	"stopwise/plans"
	"stopwise/sampling"
)

// Streams of random numbers, so that no two kinds of simulation share any.
const (
	shortStream    = 1 << 8
	resampleStream = 1 << 16
	scoutStream    = 1 << 22
	stairStream    = 1 << 23
	walkStream     = 1 << 24
	layoutStream   = 1 << 25
	plotStream     = 1 << 26
	sampleStream   = 1 << 27
	routeStream    = 1 << 4 // between the routes of a pattern
)

// walkShort simulates visits whose stops have low to all of the planned plants.
func walkShort(ctx context.Context, s *plans.StagePlan, world plans.World, low int, o Options, stream uint64) (Visits, error) {
	pop, look := world.Population(), newLook(s, world.Level)
	rule := newCounter(s, pop)
	draws, units := make([]guide, rule.planned+1), make([]int, rule.planned+1)
	for plants := low; plants <= rule.planned; plants++ {
		// Between two numbers of the table the act number can be a little above
		// all of them: no total is lumped together.
		units[plants] = s.Units(plants)
		draws[plants] = newGuide(uncut(s, pop.Stop(units[plants])))
	}
	parts := make([]Visits, blockCount(o))
	err := inBlocks(ctx, o, stream, func(b, n int, r *rand.Rand) {
		for range n {
			var w tally
			for {
				plants := low + r.IntN(rule.planned-low+1)
				if act, done := w.stop(rule, draws[plants].draw(r), plants, units[plants], r); done {
					parts[b].add(act && look.allows(w.stops, r), w.stops, w.plants, s.Minutes(float64(w.stops), float64(w.plants)))
					break
				}
			}
		}
	})
	return look.told(joined(parts)), err
}

// uncut returns the chances of a stop's total; for one without a largest value,
// up to where more makes no difference. Where looking ends at a cap, or points are
// counted, that is where hardly any stop has more.
func uncut(s *plans.StagePlan, stop sampling.StopTotal) []float64 {
	if top := stop.Max(); top != sampling.Unbounded {
		return stop.Probs(top)
	}
	if !s.Worth.Plain() {
		return almostAll(stop)
	}
	n := 1
	for _, a := range s.Table.Act {
		if a != plans.NeverAct {
			n = max(n, 2*a+2*s.Table.Units)
		}
	}
	p := stop.Probs(n)
	p[n] = stop.Tails(n)[n]
	return p
}

// A tally is a visit on the way.
type tally struct{ stops, plants, units, total int }

// stop adds a stop and returns the verdict, if there is one.
func (w *tally) stop(c counter, found, plants, units int, r *rand.Rand) (act, done bool) {
	looked, ended := c.looked(found, plants, r)
	if ended {
		units = c.Table.Units // it counts as a full stop
	}
	w.stops++
	w.plants += looked
	w.units += units
	w.total += c.value(found, units)
	leave, actAt := c.Table.Leave[w.stops-1], c.Table.Act[w.stops-1]
	if w.units != w.stops*c.Table.Units {
		leave, actAt = c.Worth.At(c.Table, w.stops, w.units)
	}
	return w.total >= actAt, w.total >= actAt || w.total <= leave
}
