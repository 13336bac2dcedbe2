package search

import (
	"testing"

	"stopwise/plans/rule"
)

// What a catalogue answers keeps every limit exactly, needs no more than any other of
// its entries that does, and is none only where none does. The limits of plants less
// alike are not scored beforehand.
func TestCatalogue(t *testing.T) {
	p := shares(.15, .30, .10, .10, .1, 10, 1, 8)
	p.Limits = append(p.Limits, shares(.15, .30, .10, .10, .3, 10, 1, 8).Limits...)
	l, err := rule.BinomialLines(.15, .30, .01, .01)
	if err != nil {
		t.Fatal(err)
	}
	some, none := 0, 0
	for _, c := range []*Catalogue{p.LineCatalogue(l, l), p.FixedCatalogue()} {
		for _, allowed := range []float64{.001, .05, .1, .2, .3, .4} {
			q := *p
			q.Limits = nil
			for _, l := range p.Limits {
				l.Allowed = allowed
				q.Limits = append(q.Limits, l)
			}
			got, ok := c.Least(&q)
			if ok && !q.Keeps(got) {
				t.Errorf("risks of %g: %v does not keep them", allowed, got)
			}
			for _, x := range c.entries {
				u := x.t.Lengthened(q.Maximum)
				if q.Keeps(u) && (!ok || q.Stops(u) < q.Stops(got)-1e-9) {
					t.Errorf("risks of %g: %v keeps them and is better", allowed, u)
					break
				}
			}
			if ok {
				some++
			} else {
				none++
			}
		}
	}
	if some < 3 || none < 1 {
		t.Errorf("%d answers and %d without; the test shows too little", some, none)
	}
}
