package search

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// quick returns the table's score by going forwards only, through the totals at
// which the walk goes on: what ends at a stop needs no sum of its own for each total.
func (e *engine) quick(t *Table) score {
	sc, _ := e.within(t, math.Inf(1), math.Inf(1))
	return sc
}

// before is where a walk stands before the first stop.
var before = [1]float64{1}

func (e *engine) sumEffort(sc score) score {
	for i := range e.efforts {
		sc.effort += e.terms[i].weight * e.worlds[e.terms[i].world].stops
	}
	return sc
}

// run walks in a world from stop j on, to which walks come with totals from lo on, with
// the chances from, and adds what ends there.
func (e *engine) run(t *Table, i, j, lo int, from []float64, sc *score) {
	k := &e.worlds[i]
	for ; j < e.maximum && len(from) > 0; j++ {
		next, end, last := e.finish(t, i, j, lo, from, sc)
		if next > end {
			return
		}
		to := e.scratch[j%2][next : end+1+block]
		k.goOn(to[:end+1-next], next, from, lo, !e.bounded && end == last)
		from, lo = to[:end+1-next], next
	}
}

// finish adds what ends at stop j, and returns the totals from next to end from which
// walks go on, and the last one told apart.
func (e *engine) finish(t *Table, i, j, lo int, from []float64, sc *score) (next, end, last int) {
	k := &e.worlds[i]
	last = e.size(j) - 1
	if e.bounded {
		last = min(last, lo+len(from)+e.each-1)
	}
	a, r := t.Leave[j], min(t.Act[j], last+1)
	walking, leave, act := k.ends(from, lo, a, r, last)
	k.stops += walking
	for _, x := range e.byWorld[i] {
		if x >= e.efforts {
			sc.risks[x-e.efforts] += e.terms[x].leave[j]*leave + e.terms[x].act[j]*act
		}
	}
	return max(lo, a+1), r - 1, last
}

// ends returns the chance of walking one stop more, and of ending there with leave, by
// totals up to a, and with act, from r on. from holds the chances of the totals before,
// from lo on; totals are told apart up to last.
func (k *world) ends(from []float64, lo, a, r, last int) (walking, leave, act float64) {
	for _, f := range from {
		walking += f
	}
	switch {
	case a >= last:
		leave = walking
	case a >= lo:
		for i, f := range from[:min(len(from), a-lo+1)] {
			leave += f * k.heads[min(a-lo-i, len(k.heads)-1)]
		}
	}
	if r <= last {
		for i := max(0, r-lo-len(k.tails)+1); i < len(from); i++ {
			act += from[i] * k.tails[max(0, r-lo-i)]
		}
	}
	return walking, leave, act
}

// block is how many totals goOn works out at once.
const block = 8

// goOn sets the chances of the totals from next on after one stop more; lump says that
// the last of them stands for all above. Of a stop with few counts it works out a block
// of totals at once, in registers, and may write that much beyond.
func (k *world) goOn(to []float64, next int, from []float64, lo int, lump bool) {
	apart := len(to)
	if lump {
		apart--
	}
	if k.padded != nil {
		k.blocks(to[:apart], next-lo, from)
	} else {
		clear(to)
		for i, f := range from {
			s := lo + i
			if first, end := max(next, s), min(next+apart, s+len(k.probs)); f != 0 && first < end {
				floats.AddScaled(to[first-next:end-next], f, k.probs[first-s:end-s])
			}
		}
	}
	if lump {
		to[apart] = 0
		for i, f := range from {
			to[apart] += f * k.tails[next+apart-lo-i]
		}
	}
}

// blocks sets the chances of totals, the first of which is so much above that of from.
func (k *world) blocks(to []float64, above int, from []float64) {
	for o := 0; o < len(to); o += block {
		var a, b, c, d, e, f, g, h float64
		first := max(0, above+o-len(k.probs)+1)
		at := block + above + o - first
		for i, x := range from[first:min(len(from), above+o+block)] {
			p := k.padded[at-i : at-i+block : at-i+block]
			a += x * p[0]
			b += x * p[1]
			c += x * p[2]
			d += x * p[3]
			e += x * p[4]
			f += x * p[5]
			g += x * p[6]
			h += x * p[7]
		}
		out := to[o : o+block : o+block]
		out[0], out[1], out[2], out[3], out[4], out[5], out[6], out[7] = a, b, c, d, e, f, g, h
	}
}

// mark remembers, of a table for which arrive is filled, how walks come to each stop and
// what has ended before it.
func (e *engine) mark(t *Table) {
	for i := range e.worlds {
		k := &e.worlds[i]
		k.stops = 0
		lo, from := 0, before[:]
		var sc score
		for j := range e.maximum {
			m := &k.marks[j]
			m.lo, m.from, m.stops, m.risks = lo, from, k.stops, sc.risks
			if len(from) > 0 {
				next, end, _ := e.finish(t, i, j, lo, from, &sc)
				lo, from = next, k.arrive[j][next:max(next, end+1)]
			}
		}
	}
}

// better scores a table that differs from the one last marked from a stop on only. It
// gives up and reports false as soon as effort and penalties are above most, or above
// broken where a limit is broken.
func (e *engine) better(t *Table, first int, most, broken float64) (sc score, ok bool) {
	return e.weigh(t, most, broken, func(i int, sc *score) {
		k := &e.worlds[i]
		m := &k.marks[first]
		k.stops = m.stops
		for _, x := range e.byWorld[i] {
			if x >= e.efforts {
				sc.risks[x-e.efforts] = m.risks[x-e.efforts]
			}
		}
		e.run(t, i, first, m.lo, m.from, sc)
	})
}

// weigh scores a table by what run adds in each world, and gives up as better does.
func (e *engine) weigh(t *Table, most, broken float64, run func(i int, sc *score)) (sc score, ok bool) {
	sum := 0.0
	for at, i := range e.order {
		run(i, &sc)
		for _, x := range e.byWorld[i] {
			k := &e.terms[x]
			if x < e.efforts {
				sum += k.weight * e.worlds[i].stops
			} else if over := sc.risks[x-e.efforts] - k.allowed; over > 0 {
				sum += penalty * over / k.allowed
				most = min(most, broken)
			}
		}
		if sum > most+rounding {
			// What was broken last is likely to be broken next.
			copy(e.order[1:at+1], e.order[:at])
			e.order[0] = i
			return sc, false
		}
	}
	return e.sumEffort(sc), true
}

// within is quick that gives up as better does.
func (e *engine) within(t *Table, most, broken float64) (sc score, ok bool) {
	return e.weigh(t, most, broken, func(i int, sc *score) {
		e.worlds[i].stops = 0
		e.run(t, i, 0, 0, before[:], sc)
	})
}
