package plans

import (
	"math"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// fixed returns the plan that always walks the same number of stops, at most
// maximum, and then acts when the total is above one number: the fewest stops
// that keep both risks in all worlds. Whether a number of stops can keep them is
// not monotone in it (the risks move in steps); the smallest that can is taken.
// It reports false if there is none.
func (p *problem) fixed(maximum int) (Table, bool) {
	sums := p.newTotals()
	for j := 1; j <= maximum; j++ {
		sums.next(j, j >= p.minimum)
		if j < p.minimum {
			continue
		}
		if c, worst := cutAt(sums.probs, len(p.needless), p.alpha, p.beta); worst <= 1+riskSlack {
			return p.single(j, c), true
		}
	}
	return Table{}, false
}

// totals holds the distributions of the total after j stops in all the worlds
// where a risk must be kept.
type totals struct {
	p      *problem
	worlds []sampling.Population
	ones   [][]float64
	probs  [][]float64
}

func (p *problem) newTotals() *totals {
	t := &totals{p: p, worlds: append(append([]sampling.Population{}, p.needless...), p.missed...)}
	t.ones, t.probs = make([][]float64, len(t.worlds)), make([][]float64, len(t.worlds))
	for i, w := range t.worlds {
		t.probs[i] = []float64{1}
		if !t.additive(i) {
			t.ones[i] = w.Stop(p.units).Probs(p.counts())
		}
	}
	return t
}

func (t *totals) additive(i int) bool {
	_, ok := t.worlds[i].(sampling.Additive)
	return ok
}

// next moves on to the total after j stops; wanted says whether it will be looked
// at.
func (t *totals) next(j int, wanted bool) {
	inParallel(len(t.worlds), func(i int) {
		switch {
		case !t.additive(i):
			t.probs[i] = sampling.Convolve(t.probs[i], t.ones[i])
			if !t.p.bounded && len(t.probs[i]) > t.p.top+1 {
				t.probs[i] = t.probs[i][:t.p.top+1]
			}
		case wanted:
			all := t.p.upper.Stop(t.p.units * j)
			top := int(all.Mean() + 6*math.Sqrt(all.Variance()))
			t.probs[i] = t.worlds[i].Stop(t.p.units * j).Probs(top)
		}
	})
}

// cutAt returns the number c at which leaving at c or less and acting above it
// has the smallest worst risk, as a multiple of the allowed one.
func cutAt(sums [][]float64, needless int, alpha, beta float64) (c int, worst float64) {
	act, leave := make([]float64, needless), make([]float64, len(sums)-needless)
	for i := range act {
		act[i] = 1
	}
	worst, c = 1/alpha, NeverLeave
	longest := 0 // sums are cut at totals of their own
	for _, probs := range sums {
		longest = max(longest, len(probs))
	}
	at := func(i, s int) float64 {
		if s < len(sums[i]) {
			return sums[i][s]
		}
		return 0
	}
	for s := range longest {
		ratio := 0.0
		for i := range act {
			act[i] -= at(i, s)
			ratio = math.Max(ratio, act[i]/alpha)
		}
		for i := range leave {
			leave[i] += at(needless+i, s)
			ratio = math.Max(ratio, leave[i]/beta)
		}
		if ratio < worst {
			worst, c = ratio, s
		}
	}
	return c, worst
}

// single returns the table that decides at stop j only, at the number c.
func (p *problem) single(j, c int) Table {
	q := *p
	q.maximum = j
	t := q.allContinue()
	t.Leave[j-1], t.Act[j-1] = c, c+1
	return t
}

// affordable returns by how much both allowed risks would have to grow, as a
// factor, for a fixed plan of the maximum number of stops to keep them.
func (p *problem) affordable() float64 {
	sums := p.newTotals()
	for j := 1; j <= p.maximum; j++ {
		sums.next(j, j == p.maximum)
	}
	_, worst := cutAt(sums.probs, len(p.needless), p.alpha, p.beta)
	return worst
}

// SingleCut returns the table of a visit that always walks stops stops and acts
// when the share of units seen reaches share ("25% seen or more").
func SingleCut(units, stops int, share float64) Table {
	act := int(math.Ceil(share*float64(units*stops) - rule.NearInteger))
	p := problem{units: units}
	return p.single(stops, act-1)
}
