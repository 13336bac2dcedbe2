package search

import (
	"math"
	"math/rand/v2"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
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

// Lines that were once denied: bounds 20 and 40%, 20 plants a stop, from 4 to 30 stops,
// rho .083 to .153, risks of 10%. With .28 n - 4 and .28 n + 6 the risks are 9.58 and
// 9.40%, and 4.917 stops are walked on average (computed independently outside the
// project); the search finds lines that are no worse.
func TestLinesAreNotDenied(t *testing.T) {
	p := &Problem{Units: 20, Minimum: 4, Maximum: 30, Bounded: true}
	for _, level := range []float64{.2, .3, .4} {
		p.Effort = append(p.Effort, Weighted{sampling.Infested{P: level, Rho: .153}, 1. / 3})
	}
	for i := range 9 {
		rho := .083 + .07*float64(i)/8
		p.Limits = append(p.Limits, Needless(sampling.Infested{P: .2, Rho: rho}, .1, nil), Missed(sampling.Infested{P: .4, Rho: rho}, .1, nil))
	}
	known := rule.LinePair{Slope: .28, LeaveGap: 4, ActGap: 6}.Table(p.Units, p.Minimum, p.Maximum, true)
	last := len(p.Limits) - 2
	if needless, missed, stops := p.Limits[last].Risk(known), p.Limits[last+1].Risk(known), p.Stops(known); !p.Keeps(known) ||
		math.Abs(needless-.0958) > 5e-5 || math.Abs(missed-.0940) > 5e-5 || math.Abs(stops-4.917) > 5e-4 {
		t.Errorf("the lines known risk %.4f and %.4f in %.4f stops", needless, missed, stops)
	}
	textbook, ok := p.Textbook()
	if !ok {
		t.Fatal("no textbook lines")
	}
	l, table, ok := p.Lines(textbook)
	if !ok || !p.Keeps(table) || p.Stops(table) > 4.9175 {
		t.Errorf("%v: lines %+v, %.4f stops", ok, l, p.Stops(table))
	}
}
