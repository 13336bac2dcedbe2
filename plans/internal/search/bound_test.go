package search

import (
	"math"
	"testing"
)

// Bounds with unequal risks, found outside the project: with the two risks
// exchanged they would be others.
func TestLowerBoundUnequalRisks(t *testing.T) {
	for _, c := range []struct{ p0, pm, p1, alpha, beta, want float64 }{
		{.10, .17, .25, .10, .05, 5.711},
		{.08, .14, .22, .10, .05, 5.585},
		{.15, .22, .30, .10, .10, 5.815},
	} {
		p := heldUnder(c.p0, c.pm, c.p1, c.alpha, c.beta)
		p.Maximum = 30
		if got := p.LowerBound(); math.Abs(got-c.want) > .006 {
			t.Errorf("%+v: bound %.4f", c, got)
		}
	}
}
