package search

import (
	"slices"

	"gonum.org/v1/gonum/floats"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// An engine evaluates one table after another for the same problem, forwards
// (the chance of arriving at each state) and backwards (what is still to come
// from it). A state is a stop j (from 0) and a running total s. A world is a
// distribution of the counts; a term is what is expected in one: the stops of the
// worlds that effort is averaged over, then the risks of the limits looked at.
type engine struct {
	units, minimum, maximum int
	each                    int // the most that a stop adds
	bounded                 bool
	top                     int // largest total told apart; the last state stands for all above
	worlds                  []world
	terms                   []term
	efforts                 int // the first terms
	byWorld                 [][]int
	order                   []int // of the worlds: those of limits lately broken first
	scratch                 [2][]float64
	likely                  [][2]int     // by stop, the first and the last total that a walk without an end can well have
	arrived, looked         Table        // that arrive and ahead are filled for
	costs                   [3][]float64 // of leaving, acting and walking on, by total
	guide                   []float64    // prices of the limits lately found to be about right
}

type world struct {
	pop          sampling.Population
	probs, tails []float64
	heads        []float64   // P(X <= x)
	arrive, free [][]float64 // [stop][total]: chance of arriving; and if no walk ended early
	chance       []float64   // of the stop that numbers are chosen for
	padded       []float64   // probs between zeros, a block of them on either side, where they are few
	marks        []mark      // of the table that moves are made from, by stop
	stops        float64     // expected, of the table last walked through
}

// A mark is how walks come to a stop: the first total and the chances of it and those
// above, and the stops and the risks so far.
type mark struct {
	lo    int
	from  []float64
	stops float64
	risks [maxLimits]float64
}

type term struct {
	world      int
	weight     float64     // of an effort
	allowed    float64     // of a limit
	act, leave []float64   // cost of the verdict by stop
	ahead      [][]float64 // [stop][total]: what is to come if the walk goes on
	value      []float64   // of the stop after, while going backwards
}

// narrow is up to how many counts a stop has few.
const narrow = 64

// maxLimits bounds the limits looked at together.
const maxLimits = 12

func newEngine(p *Problem, active []int) *engine {
	e := &engine{units: p.Units, each: p.counts(), minimum: p.Minimum, maximum: p.Maximum, bounded: p.Bounded, efforts: len(p.Effort)}
	e.top = p.counts() * p.Maximum
	if !p.Bounded {
		e.top = p.Top
	}
	for _, w := range p.Effort {
		e.terms = append(e.terms, term{world: e.world(w.Population), weight: w.Weight})
	}
	for _, i := range active {
		l := p.Limits[i]
		t := term{world: e.world(l.Population), allowed: l.Allowed}
		for j := 1; j <= e.maximum; j++ {
			t.act = append(t.act, l.cost(rule.Act, j))
			t.leave = append(t.leave, l.cost(rule.Leave, j))
		}
		e.terms = append(e.terms, t)
		e.guide = append(e.guide, 2/l.Allowed)
	}
	e.byWorld = make([][]int, len(e.worlds))
	for i := range e.terms {
		t := &e.terms[i]
		t.ahead, t.value = e.states(), make([]float64, e.top+1)
		e.byWorld[t.world] = append(e.byWorld[t.world], i)
	}
	for i := range e.worlds {
		w := &e.worlds[i]
		w.arrive, w.free, w.chance = e.states(), e.states(), make([]float64, e.top+1)
		w.marks = make([]mark, e.maximum)
		e.order = append(e.order, i)
	}
	e.scratch = [2][]float64{make([]float64, e.top+1+block), make([]float64, e.top+1+block)}
	for i := range e.costs {
		e.costs[i] = make([]float64, e.top+1)
	}
	for j := range e.maximum {
		e.likely = append(e.likely, [2]int{0, e.size(j) - 1})
	}
	e.forward(nil)
	for i := range e.worlds {
		w := &e.worlds[i]
		w.arrive, w.free = w.free, w.arrive
	}
	for j := range e.maximum {
		e.likely[j] = e.likelyAt(j)
	}
	return e
}

// hardly is the chance below which a total is not looked at: sums of others have no digit
// that it would change.
const hardly = 1e-30

// likelyAt returns the first and the last total after stop j that are not too unlikely
// in all worlds.
func (e *engine) likelyAt(j int) [2]int {
	lo, hi := e.size(j), -1
	for i := range e.worlds {
		free := e.worlds[i].free[j]
		for s := 0; s < lo; s++ {
			if free[s] > hardly {
				lo = s
			}
		}
		for s := len(free) - 1; s > hi; s-- {
			if free[s] > hardly {
				hi = s
			}
		}
	}
	return [2]int{lo, hi}
}

// world returns the index of a population among the engine's worlds.
func (e *engine) world(pop sampling.Population) int {
	if i := slices.IndexFunc(e.worlds, func(w world) bool { return w.pop == pop }); i >= 0 {
		return i
	}
	n, stop := e.top, pop.Stop(e.units)
	if e.bounded {
		n = e.each
	}
	w := world{pop: pop, probs: stop.Probs(n), tails: stop.Tails(n)}
	w.heads = floats.CumSum(make([]float64, n+1), w.probs)
	if e.bounded && n <= narrow {
		w.padded = make([]float64, block+len(w.probs)+block)
		copy(w.padded[block:], w.probs)
	}
	e.worlds = append(e.worlds, w)
	return len(e.worlds) - 1
}

func (e *engine) states() [][]float64 {
	s := make([][]float64, e.maximum)
	for j := range s {
		s[j] = make([]float64, e.size(j))
	}
	return s
}

// size returns how many totals there are at a stop.
func (e *engine) size(j int) int {
	if e.bounded {
		return e.each*(j+1) + 1
	}
	return e.top + 1
}

// open returns the totals at which a walk goes on after stop j.
func (e *engine) open(t *Table, j int) (lo, hi int) {
	lo, hi = e.likely[j][0], e.likely[j][1]
	if t == nil {
		return lo, hi
	}
	return max(lo, t.Leave[j]+1), min(hi, t.Act[j]-1)
}

// forward fills arrive for a table, as far as it is not filled for one with the same
// numbers up to there. With a nil table the walk never ends early.
func (e *engine) forward(t *Table) {
	first, free := 0, false
	if t != nil {
		for first < len(e.arrived.Leave) && same(t, &e.arrived, first) {
			first++
		}
		if len(e.arrived.Leave) > 0 {
			first++
		}
		take(&e.arrived, t)
		free = t.First() == e.maximum
	}
	for i := range e.worlds {
		k := &e.worlds[i]
		for j := first; j < e.maximum; j++ {
			to := k.arrive[j]
			if free {
				copy(to, k.free[j])
				continue
			}
			clear(to)
			if j == 0 {
				copy(to, k.probs)
				if !e.bounded {
					to[e.top] = k.tails[e.top]
				}
				continue
			}
			from := k.arrive[j-1]
			lo, hi := e.open(t, j-1)
			for s := lo; s <= hi; s++ {
				if from[s] != 0 {
					k.spread(to, s, from[s], e.bounded)
				}
			}
		}
	}
}

// same reports whether two tables have the same numbers at a stop.
func same(t, u *Table, j int) bool { return t.Leave[j] == u.Leave[j] && t.Act[j] == u.Act[j] }

// take sets a table to another in its own memory.
func take(to, t *Table) {
	to.Leave, to.Act = append(to.Leave[:0], t.Leave...), append(to.Act[:0], t.Act...)
}

// spread adds mass times the stop's distribution to the totals from s on.
func (k *world) spread(to []float64, s int, mass float64, bounded bool) {
	if bounded {
		floats.AddScaled(to[s:s+len(k.probs)], mass, k.probs)
		return
	}
	last := len(to) - 1
	floats.AddScaled(to[s:last], mass, k.probs[:last-s])
	to[last] += mass * k.tails[last-s]
}

// expect returns the expectation of value after one stop more from total s.
func (k *world) expect(value []float64, s int, bounded bool) float64 {
	if bounded {
		return floats.Dot(k.probs, value[s:s+len(k.probs)])
	}
	last := len(value) - 1
	return floats.Dot(k.probs[:last-s], value[s:last]) + k.tails[last-s]*value[last]
}

// backward fills ahead for a table, calling choose at each stop, from the last,
// once ahead is known there; choose may set the table's numbers at that stop. As long as
// the numbers are those that ahead is filled for there is nothing to do.
func (e *engine) backward(t *Table, choose func(j int)) {
	known := len(e.looked.Leave) > 0
	for j := e.maximum - 1; j >= 0; j-- {
		for i := range e.terms {
			if !known {
				e.look(i, j, t)
			}
		}
		if choose != nil {
			choose(j)
		}
		if known = known && same(t, &e.looked, j); known {
			continue
		}
		for i := range e.terms {
			e.settle(i, j, t)
		}
	}
	take(&e.looked, t)
}

// look sets ahead at stop j from the values at the stop after. Where the next
// verdict is certain there is nothing to sum.
func (e *engine) look(i, j int, t *Table) {
	k := &e.terms[i]
	ahead := k.ahead[j]
	if j == e.maximum-1 {
		clear(ahead)
		return
	}
	next, step := k.value[:e.size(j+1)], 0.0
	if i < e.efforts {
		step = 1
	}
	first, last := e.likely[j][0], e.likely[j][1]
	lo, hi := first, last
	if a := t.Leave[j+1]; e.bounded && a >= 0 {
		lo = max(lo, a-e.each+1)
	}
	if r := t.Act[j+1]; r <= hi {
		hi = r - 1
	}
	for s := first; s < min(lo, last+1); s++ {
		ahead[s] = step + next[0]
	}
	for s := lo; s <= hi; s++ {
		ahead[s] = step + e.worlds[k.world].expect(next, s, e.bounded)
	}
	for s := max(first, hi+1); s <= last; s++ {
		ahead[s] = step + next[len(next)-1]
	}
	// Totals that are hardly ever: no sum depends on them.
	for s := range first {
		ahead[s] = ahead[first]
	}
	for s := last + 1; s < len(ahead); s++ {
		ahead[s] = ahead[last]
	}
}

// settle sets the value of every total at stop j: what is to come, the table's
// verdict included.
func (e *engine) settle(i, j int, t *Table) {
	k := &e.terms[i]
	value := k.value[:e.size(j)]
	a, r := t.Leave[j], min(t.Act[j], len(value))
	onLeave, onAct := 0.0, 0.0
	if i >= e.efforts {
		onLeave, onAct = k.leave[j], k.act[j]
	}
	for s := 0; s <= a; s++ {
		value[s] = onLeave
	}
	copy(value[a+1:r], k.ahead[j][a+1:r])
	for s := r; s < len(value); s++ {
		value[s] = onAct
	}
}
