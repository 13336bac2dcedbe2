package search

import "gonum.org/v1/gonum/floats"

// A score is what a design is judged by: weighted expected stops, and the exact
// risks of the limits looked at.
type score struct {
	effort float64
	risks  [maxLimits]float64
}

// limits returns the terms of the limits looked at.
func (e *engine) limits() []term { return e.terms[e.efforts:] }

// score returns the table's score. It fills arrive and ahead.
func (e *engine) score(t *Table) score {
	e.forward(t)
	e.backward(t, nil)
	var sc score
	for i := range e.terms {
		k := &e.terms[i]
		at := e.worlds[k.world].expect(k.value[:e.size(0)], 0, e.bounded)
		if i < e.efforts {
			sc.effort += k.weight * (1 + at)
		} else {
			sc.risks[i-e.efforts] = at
		}
	}
	return sc
}

// quick returns the table's score by going forwards only, through the totals at
// which the walk goes on: what ends at a stop needs no sum of its own for each total.
func (e *engine) quick(t *Table) score {
	var sc score
	stops := make([]float64, len(e.worlds))
	for i := range e.worlds {
		stops[i] = e.run(t, i, &sc)
	}
	for i := range e.efforts {
		sc.effort += e.terms[i].weight * stops[e.terms[i].world]
	}
	return sc
}

func (e *engine) run(t *Table, i int, sc *score) (stops float64) {
	k := &e.worlds[i]
	to, from := e.scratch[0], e.scratch[1]
	lo, hi := 0, 0 // totals at which the walk goes on
	from[0] = 1
	for j := range e.maximum {
		last := e.size(j) - 1
		if e.bounded {
			last = min(last, hi+len(k.probs)-1)
		}
		a, r := t.Leave[j], min(t.Act[j], last+1)
		walking, leave, act := k.ends(from[lo:hi+1], lo, a, r, last)
		stops += walking
		for _, x := range e.byWorld[i] {
			if x >= e.efforts {
				sc.risks[x-e.efforts] += e.terms[x].leave[j]*leave + e.terms[x].act[j]*act
			}
		}
		next, end := max(lo, a+1), r-1
		if next > end {
			break
		}
		k.goOn(to[next:end+1], next, from[lo:hi+1], lo, !e.bounded && end == last)
		lo, hi = next, end
		to, from = from, to
	}
	return stops
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

// goOn sets the chances of the totals from next on after one stop more; lump says that
// the last of them stands for all above.
func (k *world) goOn(to []float64, next int, from []float64, lo int, lump bool) {
	clear(to)
	apart := len(to)
	if lump {
		apart--
	}
	for i, f := range from {
		if f == 0 {
			continue
		}
		s := lo + i
		first, end := max(next, s), min(next+apart, s+len(k.probs))
		if first < end {
			floats.AddScaled(to[first-next:end-next], f, k.probs[first-s:end-s])
		}
		if lump {
			to[apart] += f * k.tails[next+apart-s]
		}
	}
}

// penalty is what a search pays, in stops, for a risk exceeded by as much as is
// allowed: far more than the usual saving. A search that has come to keep the risks
// goes on keeping them.
const penalty = 100

// total returns the effort plus the penalty for risks above what is allowed,
// the allowance being widened by a share.
func (e *engine) total(sc *score, widened float64) float64 {
	over := 0.0
	for i, k := range e.limits() {
		over += max(0, sc.risks[i]/k.allowed-1-widened)
	}
	return sc.effort + penalty*over
}

func (e *engine) keeps(sc *score) bool {
	for i := e.efforts; i < len(e.terms); i++ {
		if sc.risks[i-e.efforts] > e.terms[i].allowed {
			return false
		}
	}
	return true
}
