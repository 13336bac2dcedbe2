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
