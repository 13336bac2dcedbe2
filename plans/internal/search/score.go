package search

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
// which the walk goes on.
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
		for _, x := range e.byWorld[i] {
			if x < e.efforts {
				continue
			}
			risk := &sc.risks[x-e.efforts]
			if c := e.terms[x].leave[j]; c != 0 {
				for s := lo; s <= min(a, last); s++ {
					*risk += c * to[s]
				}
			}
			if c := e.terms[x].act[j]; c != 0 {
				for s := max(r, lo); s <= last; s++ {
					*risk += c * to[s]
				}
			}
		}
		lo, hi = max(lo, a+1), r-1
		if lo > hi {
			break
		}
		to, from = from, to
	}
	return stops
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
