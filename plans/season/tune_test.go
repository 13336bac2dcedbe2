package season

import (
	"fmt"
	"testing"
	"time"

	"stopwise/sampling"
)

func scenario(classes int, oneTable bool) Problem {
	return Problem{
		Season: Season{LastDay: 49, Lead: 1, Stages: []Stage{{Lower: .08, Threshold: .14, Upper: .22, Effort: Effort{Stop: 2.5, Unit: .2}}}},
		Walks:  []Walk{{15, 1, 26}}, Worlds: []World{{func(p float64) sampling.Population { return sampling.Infested{P: p, Rho: .12} }}},
		Mix: Mix{.5, .3, .03, .2}, Growth: Growth{.004, .12, .12}, Promise: Promise{.15, .10, 3},
		Classes: classes, OneTable: oneTable, LongestInterval: 14,
	}
}

func TestTune(t *testing.T) {
	for _, c := range []struct {
		p  Problem
		at schedule
	}{{scenario(2, true), schedule{[3]int{10, 4, 0}, 0, 2}}, {scenario(2, false), schedule{[3]int{10, 3, 0}, 0, 1}}, {scenario(3, false), schedule{[3]int{12, 4, 2}, .06, 1}}} {
		if err := c.p.Check(); err != nil {
			t.Fatal(err)
		}
		t0 := time.Now()
		tn := newTuner(c.p, func() bool { return false })
		s := tn.tune(c.at, state{tables: c.p.firstTables(), prices: prices{300, 300}}, 25, 4, func(s state) {
			fmt.Printf("%.2f n %.4f l %.4f merit %.2f %v\n", s.minutes, s.needless, s.late, s.merit, s.prices)
		})
		for _, tb := range s.tables {
			fmt.Println(tb.Trimmed(), tb.Check())
		}
		fmt.Println(time.Since(t0))
	}
}
