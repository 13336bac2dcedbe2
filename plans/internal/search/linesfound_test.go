package search

import (
	"math"
	"math/rand/v2"
	"testing"

	"stopwise/plans/rule"
)

// Where a grid of 60 x 60 gaps finds lines that keep the risks, so does the search:
// twenty problems drawn with about as many stops as a fixed plan needs. The grid
// is judged by the exact evaluation, not by the engine of the search.
func TestLinesThatExistAreFound(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	none := 0
	for range 20 {
		between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
		p0 := between(.05, .3)
		p := shares(p0, p0+between(.12, .3), between(.05, .15), between(.05, .15), between(.05, .2), 5+r.IntN(16), 1+r.IntN(4), 60)
		fixed, ok := p.Fixed(60)
		if !ok {
			continue
		}
		p.Maximum = max(p.Minimum, fixed.Stops()-1+r.IntN(3))
		last := len(p.Effort) - 1
		lower, upper := p.Effort[0].Population, p.Effort[last].Population
		textbook, ok := p.Textbook()
		if !ok {
			t.Fatal("no textbook lines")
		}
		if l, table, ok := p.Lines(textbook); ok {
			if rule.Evaluate(table, lower).Act > p.Limits[0].Allowed+RiskSlack || rule.Evaluate(table, upper).Leave > p.Limits[1].Allowed+RiskSlack {
				t.Errorf("lines %+v break the risks", l)
			}
			continue
		}
		none++
		for i := range 3600 {
			grow := func(i int) float64 { return math.Pow(3, 3*float64(i)/59-1) }
			l := rule.LinePair{Slope: textbook.Slope, LeaveGap: textbook.LeaveGap * grow(i/60), ActGap: textbook.ActGap * grow(i%60)}
			table := l.Table(p.Units, p.Minimum, p.Maximum, true)
			if table.Check() == nil && rule.Evaluate(table, lower).Act <= p.Limits[0].Allowed && rule.Evaluate(table, upper).Leave <= p.Limits[1].Allowed {
				t.Errorf("no lines found, but %+v keep the risks", l)
				break
			}
		}
	}
	if none == 0 {
		t.Error("lines were found for all: the grid was asked of none")
	}
}
