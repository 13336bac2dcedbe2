package rule

import (
	"gonum.org/v1/gonum/floats"

	"stopwise/sampling"
)

// An Outcome is how a visit can end at one stop.
type Outcome struct {
	Leave float64 // chance that it ends there with leave
	Act   float64 // chance that it ends there with act
}

// An Evaluation is what a plan does in one field situation. It is exact: no
// simulation and no approximation; the chances sum to 1 to about 1e-13.
type Evaluation struct {
	Leave         float64   // chance of the verdict leave (the OC)
	Act           float64   // chance of the verdict act
	Stops         []Outcome // by stop, from the first one walked
	ExpectedStops float64   // the average sample number, in stops
	ExpectedUnits float64   // examined, in sample units
}

// StopsWithin returns the smallest number of stops that suffices with chance at
// least q: the 90th percentile for q = 0.9.
func (e Evaluation) StopsWithin(q float64) int {
	sum := 0.0
	for j, o := range e.Stops {
		sum += o.Leave + o.Act
		if sum >= q-1e-12 {
			return j + 1
		}
	}
	return len(e.Stops)
}

// Evaluate returns what the table does in a population, by carrying the chance
// of every running total from stop to stop (the direct method of Aroian, L.A.
// 1968, Sequential analysis, direct method. Technometrics 10: 125-132). It takes
// about stops^2 * units^2 steps at the most.
func Evaluate(t Table, pop sampling.Population) Evaluation {
	return Follow(t.Steps(), 0, pop)
}

// An Evaluator evaluates one table in many populations, as [Evaluate] does, with
// the memory of one. It serves one goroutine at a time.
type Evaluator struct {
	steps []Step
	tops  []int
	stops []Outcome
	w     walk
}

// NewEvaluator returns an evaluator of a table.
func NewEvaluator(t Table) *Evaluator {
	e := &Evaluator{steps: t.Steps()}
	e.tops, e.w.reach = limits(e.steps, 0)
	return e
}

// In returns what the table does in a population. Its Stops hold until the next call.
func (e *Evaluator) In(pop sampling.Population) Evaluation {
	e.w.pop, e.w.base, e.w.units = pop, 0, 0
	e.w.chance = append(e.w.chance[:0], 1)
	e.stops = zeros(e.stops, len(e.steps))
	return e.w.follow(e.steps, e.tops, e.stops)
}

// A Step is the rule at one stop of a walk: the units seen there, and the leave and
// act numbers for the total after it.
type Step struct{ Units, Leave, Act int }

// Steps returns the steps of a walk with the planned number of units at each stop.
func (t Table) Steps() []Step {
	s := make([]Step, t.Stops())
	for j := range s {
		s[j] = Step{t.Units, t.Leave[j], t.Act[j]}
	}
	return s
}

// Follow evaluates a walk over steps that starts from a running total, exactly, as
// [Evaluate] does.
func Follow(steps []Step, start int, pop sampling.Population) Evaluation {
	tops, reach := limits(steps, start)
	w := walk{pop: pop, reach: reach, base: start, chance: []float64{1}}
	return w.follow(steps, tops, make([]Outcome, len(steps)))
}

// follow evaluates the walk over steps and sets the outcomes of its stops.
func (w *walk) follow(steps []Step, tops []int, stops []Outcome) Evaluation {
	e := Evaluation{Stops: stops}
	units, size, examined := 0.0, 0, 0.0
	w.over(steps, func(j int, s Step) {
		if s.Units != size {
			size, examined = s.Units, Examined(w.pop, s.Units)
		}
		units += examined
		o := w.visit(s, tops[j])
		e.Stops[j] = o
		e.Leave += o.Leave
		e.Act += o.Act
		e.ExpectedStops += float64(j+1) * (o.Leave + o.Act)
		e.ExpectedUnits += units * (o.Leave + o.Act)
	})
	return e
}

// over calls visit at the steps in turn until no walk goes on. Where no verdict is
// possible yet and totals add up, steps are walked as one stop with the next.
func (w *walk) over(steps []Step, visit func(j int, s Step)) {
	pooled := 0
	_, additive := w.pop.(sampling.Additive)
	waiting := additive
	for j, s := range steps {
		if waiting = waiting && s.Leave == NeverLeave && s.Act == NeverAct; waiting {
			pooled += s.Units
			continue
		}
		s.Units += pooled
		pooled = 0
		visit(j, s)
		if len(w.chance) == 0 {
			return
		}
	}
}

// limits returns for each step the largest total that must be told apart in walks
// that go on after it: one more than that would bring act at once. Where the
// step itself cannot bring act, all totals from the act number of the next step
// that can are as good as one, since all of them end there with act. reach is the
// largest total of a single stop that must be told apart.
func limits(steps []Step, start int) (tops []int, reach int) {
	tops = make([]int, len(steps))
	next := start
	for j := len(steps) - 1; j >= 0; j-- {
		if s := steps[j]; s.Act != NeverAct {
			tops[j], next = s.Act-1, s.Act
		} else {
			next = max(next, s.Leave+1)
			tops[j] = next
		}
	}
	base := start
	for j, s := range steps {
		reach = max(reach, tops[j]+1-base)
		base = max(base, s.Leave+1)
	}
	return tops, reach
}

// A walk carries the chances of the running totals at which it goes on:
// chance[i] belongs to the total base+i. After a step that cannot bring act the
// last of them stands for its total and all above.
type walk struct {
	pop    sampling.Population
	reach  int
	base   int
	chance []float64
	spare  []float64 // the memory of chances that are no longer needed

	units               int // the stop size that the distributions below are for
	probs, tails, heads []float64
	all                 []float64 // probabilities of all totals; nil where they end above probs
	sums                []float64 // memory of tails
	padded              []float64 // probs between zeros, narrow of them before it
}

// narrow is the number of states up to which their sums with a stop's probabilities
// are formed total by total, eight at once in registers. The order in which terms are
// added is the same as state by state.
const narrow = 64

// distribution sets probs[x] = P(X = x) and heads[x] = P(X < x) of a stop of units
// units, as far as the walk can need them.
func (w *walk) distribution(units int) {
	if w.units == units {
		return
	}
	w.units, w.tails = units, nil
	if f, fills := w.pop.(sampling.Filler); fills {
		w.pad(units + 2)
		w.all = w.probs[:units+1]
		f.Fill(w.all)
		w.probs = w.probs[:min(w.reach, units+1)+1]
	} else {
		stop := w.pop.Stop(units)
		n, most := w.reach, stop.Max()
		if most != sampling.Unbounded {
			n = min(n, most+1)
		}
		probs := stop.Probs(n)
		w.pad(len(probs))
		copy(w.probs, probs)
		w.all = nil
		if most != sampling.Unbounded && len(probs) > most {
			w.all = w.probs
		}
	}
	w.heads = zeros(w.heads, len(w.probs)+1)
	for x, p := range w.probs {
		w.heads[x+1] = w.heads[x] + p
	}
}

// pad makes room for n probabilities between zeros.
func (w *walk) pad(n int) {
	w.padded = zeros(w.padded, narrow+n+narrow+8)
	w.probs = w.padded[narrow : narrow+n]
}

// visit takes one more stop and returns the chances that the walk ends there.
func (w *walk) visit(s Step, top int) Outcome {
	w.distribution(s.Units)
	var o Outcome
	base := max(w.base, s.Leave+1)
	gone := base - w.base
	for i, f := range w.chance[:min(gone, len(w.chance))] {
		o.Leave += f * w.below(gone-i)
	}
	top = min(top, w.base+len(w.chance)-1+len(w.probs)-1)
	lump := s.Act == NeverAct // the top state takes all that is above
	if lump {
		top = max(top, base)
	}
	next := room(w.spare, max(0, top-base+1)+8)
	next = next[:len(next)-8]
	fast := len(w.chance) > sampling.FFTFrom && len(next) > sampling.FFTFrom
	hi := top // the last total that is told apart
	if lump {
		hi--
	}
	switch {
	case len(w.chance) <= narrow:
		w.sumNarrow(next, hi-base+1, gone)
	case fast:
		sums := sampling.ConvolveFFT(w.chance, w.probs[:min(len(w.probs), hi-w.base+1)])
		clear(next)
		copy(next[:max(0, hi-base+1)], sums[gone:])
	default:
		w.sumWide(next, base, hi)
	}
	// above is the least total that is lumped, or brings act.
	above, over := s.Act, 0.0
	if lump {
		above = top
	}
	// From the states of these places on a single stop can reach it, or they have.
	can, has := max(0, above-w.base-len(w.probs)+1), max(0, above-w.base)
	if can < min(has, len(w.chance)) {
		w.sumTails()
		for i, f := range w.chance[can:min(has, len(w.chance))] {
			over += f * w.tails[above-w.base-can-i]
		}
	}
	for _, f := range w.chance[min(has, len(w.chance)):] {
		over += f
	}
	if lump {
		next[top-base] = over
	} else {
		o.Act = over
	}
	w.base, w.chance, w.spare = base, next, w.chance
	return o
}

// sumNarrow sets the first n chances of the next totals, the first of which is gone
// above that of the states.
func (w *walk) sumNarrow(next []float64, n, gone int) {
	for k := 0; k < n; k += 8 {
		var a, b, c, d, e, f, g, h float64
		// The states from which a stop can come to any of the eight.
		first := max(0, gone+k-len(w.probs)+1)
		at := narrow + gone + k - first
		for i, x := range w.chance[min(first, len(w.chance)):min(gone+k+8, len(w.chance))] {
			p := w.padded[at-i : at-i+8 : at-i+8]
			a += x * p[0]
			b += x * p[1]
			c += x * p[2]
			d += x * p[3]
			e += x * p[4]
			f += x * p[5]
			g += x * p[6]
			h += x * p[7]
		}
		out := next[k : k+8 : k+8]
		out[0], out[1], out[2], out[3], out[4], out[5], out[6], out[7] = a, b, c, d, e, f, g, h
	}
}

// sumWide is the same state by state, for the totals from base to hi: each adds a run
// of the stop's probabilities.
func (w *walk) sumWide(next []float64, base, hi int) {
	clear(next)
	for i, f := range w.chance {
		at := w.base + i
		lo, hi := max(base, at), min(hi, at+len(w.probs)-1)
		if f != 0 && lo <= hi {
			floats.AddScaled(next[lo-base:hi-base+1], f, w.probs[lo-at:hi-at+1])
		}
	}
}

// room returns n of anything, in the memory of x where that is enough.
func room[T any](x []T, n int) []T {
	if cap(x) < n {
		return make([]T, n)
	}
	return x[:n]
}

// zeros returns n zeros likewise.
func zeros[T any](x []T, n int) []T {
	x = room(x, n)
	clear(x)
	return x
}

// sumTails sets tails[x] = P(X >= x) for x < len(probs).
func (w *walk) sumTails() {
	switch {
	case w.tails != nil:
	case w.all != nil:
		// All that a stop can show is there already: its sums from the upper end.
		w.sums = zeros(w.sums, max(len(w.all), len(w.probs)))
		sum := 0.0
		for x := len(w.all) - 1; x >= 0; x-- {
			sum += w.all[x]
			w.sums[x] = sum
		}
		w.tails = w.sums
	default:
		w.tails = w.pop.Stop(w.units).Tails(len(w.probs) - 1)
	}
}

// below returns P(X < x).
func (w *walk) below(x int) float64 {
	return w.heads[max(0, min(x, len(w.heads)-1))]
}
