package plans

import (
	"slices"

	"gonum.org/v1/gonum/floats"

	"stopwise/sampling"
)

// An engine evaluates one table after another for the same problem, forwards
// (the chance of arriving at each state) and backwards (what is still to come
// from it), in the worlds that a design looks at. A state is a stop j (from 0)
// and a running total s.
type engine struct {
	units, minimum, maximum int
	bounded                 bool
	top                     int // largest total told apart; the last state stands for all above
	worlds                  [worldCount]kernel
	weights                 [3]float64

	arrive  [worldCount][][]float64 // [world][stop][total]: chance of arriving
	ahead   [worldCount][][]float64 // [world][stop][total]: what is to come if the walk goes on
	free    [worldCount][][]float64 // arrive, if no walk ended early
	twin    [worldCount]int         // the first world that is the same
	scratch [2][]float64
	value   [worldCount][]float64 // of the stop after, while going backwards
}

// The worlds of a design: three that the effort is averaged over and the two in
// which the risks are kept. ahead holds expected further stops in the first
// three, the chance of act in the fourth and of leave in the fifth.
const (
	atLower = iota
	atMiddle
	atUpper
	needlessWorld
	missedWorld
	worldCount
)

type kernel struct{ probs, tails []float64 }

func newEngine(p *problem) *engine {
	e := &engine{units: p.units, minimum: p.minimum, maximum: p.maximum, bounded: p.bounded, weights: p.weights}
	e.top = p.units * p.maximum
	if !p.bounded {
		e.top = p.top
	}
	pops := [worldCount]sampling.Population{p.lower, p.middle, p.upper, p.needless[p.needlessAt], p.missed[p.missedAt]}
	for i, pop := range pops {
		e.twin[i] = slices.Index(pops[:], pop)
		n := e.top
		if p.bounded {
			n = p.units
		}
		stop := pop.Stop(p.units)
		e.worlds[i] = kernel{stop.Probs(n), stop.Tails(n)}
	}
	for i := range e.worlds {
		e.arrive[i] = make([][]float64, e.maximum)
		e.ahead[i] = make([][]float64, e.maximum)
		for j := range e.maximum {
			e.arrive[i][j] = make([]float64, e.size(j))
			e.ahead[i][j] = make([]float64, e.size(j))
		}
		e.value[i] = make([]float64, e.top+1)
	}
	e.scratch = [2][]float64{make([]float64, e.top+1), make([]float64, e.top+1)}
	e.forward(nil)
	for i := range e.worlds {
		for _, chances := range e.arrive[i] {
			e.free[i] = append(e.free[i], append([]float64(nil), chances...))
		}
	}
	return e
}

// size returns how many totals there are at a stop.
func (e *engine) size(j int) int {
	if e.bounded {
		return e.units*(j+1) + 1
	}
	return e.top + 1
}

// forward fills arrive for a table. With a nil table the walk never ends early.
func (e *engine) forward(t *Table) {
	for i := range e.worlds {
		k := e.worlds[i]
		for j := range e.maximum {
			to := e.arrive[i][j]
			clear(to)
			if j == 0 {
				copy(to, k.probs)
				if !e.bounded {
					to[e.top] = k.tails[e.top]
				}
				continue
			}
			from := e.arrive[i][j-1]
			lo, hi := 0, len(from)-1
			if t != nil {
				lo, hi = t.Leave[j-1]+1, min(hi, t.Act[j-1]-1)
			}
			for s := lo; s <= hi; s++ {
				if from[s] != 0 {
					k.spread(to, s, from[s], e.bounded)
				}
			}
		}
	}
}

// spread adds mass times the stop's distribution to the totals from s on.
func (k kernel) spread(to []float64, s int, mass float64, bounded bool) {
	if bounded {
		floats.AddScaled(to[s:s+len(k.probs)], mass, k.probs)
		return
	}
	last := len(to) - 1
	floats.AddScaled(to[s:last], mass, k.probs[:last-s])
	to[last] += mass * k.tails[last-s]
}

// expect returns the expectation of value after one stop more from total s.
func (k kernel) expect(value []float64, s int, bounded bool) float64 {
	if bounded {
		return floats.Dot(k.probs, value[s:s+len(k.probs)])
	}
	last := len(value) - 1
	return floats.Dot(k.probs[:last-s], value[s:last]) + k.tails[last-s]*value[last]
}

// backward fills ahead for a table, calling choose at each stop, from the last,
// once ahead is known there; choose may set the table's numbers at that stop.
func (e *engine) backward(t *Table, choose func(j int)) {
	for j := e.maximum - 1; j >= 0; j-- {
		for i := range e.worlds {
			e.look(i, j)
		}
		if choose != nil {
			choose(j)
		}
		for i := range e.worlds {
			e.settle(i, j, t)
		}
	}
}

// look sets ahead at stop j from the values at the stop after.
func (e *engine) look(i, j int) {
	ahead := e.ahead[i][j]
	if j == e.maximum-1 {
		clear(ahead)
		return
	}
	next := e.value[i][:e.size(j+1)]
	step := 0.0
	if i <= atUpper {
		step = 1
	}
	for s := range ahead {
		ahead[s] = step + e.worlds[i].expect(next, s, e.bounded)
	}
}

// settle sets the value of every total at stop j: what is to come, the table's
// verdict included.
func (e *engine) settle(i, j int, t *Table) {
	value := e.value[i][:e.size(j)]
	a, r := t.Leave[j], min(t.Act[j], len(value))
	onLeave, onAct := 0.0, 0.0
	switch i {
	case needlessWorld:
		onAct = 1
	case missedWorld:
		onLeave = 1
	}
	for s := 0; s <= a; s++ {
		value[s] = onLeave
	}
	copy(value[a+1:r], e.ahead[i][j][a+1:r])
	for s := r; s < len(value); s++ {
		value[s] = onAct
	}
}

// A score is what a design is judged by.
type score struct {
	effort           float64 // weighted expected stops
	needless, missed float64 // exact risks in the two risk worlds
}

// score returns the table's score. It fills arrive and ahead.
func (e *engine) score(t *Table) score {
	e.forward(t)
	e.backward(t, nil)
	var at [worldCount]float64
	for i := range e.worlds {
		at[i] = e.worlds[i].expect(e.value[i][:e.size(0)], 0, e.bounded)
	}
	sc := score{needless: at[needlessWorld], missed: at[missedWorld]}
	for i, w := range e.weights {
		sc.effort += w * (1 + at[i])
	}
	return sc
}

// quick returns the table's score by going forwards only, through the totals at
// which the walk goes on.
func (e *engine) quick(t *Table) score {
	var stops, leave, act [worldCount]float64
	for i := range e.worlds {
		if e.twin[i] == i {
			stops[i], leave[i], act[i] = e.run(t, i)
		}
	}
	sc := score{needless: act[e.twin[needlessWorld]], missed: leave[e.twin[missedWorld]]}
	for i, w := range e.weights {
		sc.effort += w * stops[e.twin[i]]
	}
	return sc
}

func (e *engine) run(t *Table, i int) (stops, leave, act float64) {
	k := e.worlds[i]
	to, from := e.scratch[0], e.scratch[1]
	lo, hi := 0, 0 // totals at which the walk goes on
	from[0] = 1
	for j := range e.maximum {
		n := e.size(j)
		last := min(n-1, hi+len(k.probs)-1)
		if !e.bounded {
			last = n - 1
		}
		clear(to[lo : last+1])
		for s := lo; s <= hi; s++ {
			if from[s] != 0 {
				stops += from[s]
				k.spread(to[:n], s, from[s], e.bounded)
			}
		}
		a, r := t.Leave[j], min(t.Act[j], last+1)
		for s := lo; s <= min(a, last); s++ {
			leave += to[s]
		}
		for s := max(r, lo); s <= last; s++ {
			act += to[s]
		}
		lo, hi = max(lo, a+1), r-1
		if lo > hi {
			break
		}
		to, from = from, to
	}
	return stops, leave, act
}
