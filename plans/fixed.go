package plans

import (
	"math"

	"stopwise/sampling"
)

// fixed returns the plan that always walks the same number of stops, at most
// maximum, and then acts when the total is above one number: the fewest stops
// that keep both risks in all worlds. Whether a number of stops can keep them is
// not monotone in it (the risks move in steps); the smallest that can is taken.
// It reports false if there is none.
func (p *problem) fixed(maximum int) (Table, bool) {
	worlds := append(append([]sampling.Population{}, p.needless...), p.missed...)
	ones, sums := make([][]float64, len(worlds)), make([][]float64, len(worlds))
	for i, w := range worlds {
		ones[i], sums[i] = w.Stop(p.units).Probs(p.counts()), []float64{1}
	}
	for j := 1; j <= maximum; j++ {
		inParallel(len(worlds), func(i int) {
			sums[i] = sampling.Convolve(sums[i], ones[i])
			if !p.bounded && len(sums[i]) > p.top+1 {
				sums[i] = sums[i][:p.top+1]
			}
		})
		if j < p.minimum {
			continue
		}
		if c, worst := cutAt(sums, len(p.needless), p.alpha, p.beta); worst <= 1+riskSlack {
			return p.single(j, c), true
		}
	}
	return Table{}, false
}

// cutAt returns the number c at which leaving at c or less and acting above it
// has the smallest worst risk, as a multiple of the allowed one.
func cutAt(sums [][]float64, needless int, alpha, beta float64) (c int, worst float64) {
	act, leave := make([]float64, needless), make([]float64, len(sums)-needless)
	for i := range act {
		act[i] = 1
	}
	worst, c = 1/alpha, NeverLeave
	for s := range len(sums[0]) {
		ratio := 0.0
		for i := range act {
			act[i] -= sums[i][s]
			ratio = math.Max(ratio, act[i]/alpha)
		}
		for i := range leave {
			leave[i] += sums[needless+i][s]
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
	worlds := append(append([]sampling.Population{}, p.needless...), p.missed...)
	sums := make([][]float64, len(worlds))
	inParallel(len(worlds), func(i int) {
		one := worlds[i].Stop(p.units).Probs(p.counts())
		sums[i] = []float64{1}
		for range p.maximum {
			sums[i] = sampling.Convolve(sums[i], one)
			if !p.bounded && len(sums[i]) > p.top+1 {
				sums[i] = sums[i][:p.top+1]
			}
		}
	})
	_, worst := cutAt(sums, len(p.needless), p.alpha, p.beta)
	return worst
}

// SingleCut returns the table of a visit that always walks stops stops and acts
// when the share of units seen reaches share ("25% seen or more").
func SingleCut(units, stops int, share float64) Table {
	act := int(math.Ceil(share*float64(units*stops) - nearInteger))
	p := problem{units: units}
	return p.single(stops, act-1)
}
