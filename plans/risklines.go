package plans

import "math"

// riskLines returns the pair of parallel lines whose table keeps both risks in
// all worlds with the least weighted expected stops, of those that a search over
// a grid of gaps and slopes around the textbook lines finds, and its table. It
// reports false if the search finds none.
func (p *problem) riskLines(textbook LinePair, stop func() bool) (LinePair, Table, bool) {
	e := newEngine(p)
	at := func(l LinePair) (Table, float64) {
		t := l.Table(p.units, p.minimum, p.maximum, p.bounded)
		if t.Check() != nil {
			return t, math.Inf(1)
		}
		return t, e.quick(&t).total(p, 0)
	}
	best, merit := textbook, math.Inf(1)
	consider := func(l LinePair) bool {
		if !(l.LeaveGap > 0 && l.ActGap > 0 && l.Slope > 0) {
			return false
		}
		t, m := at(l)
		if m < merit-leastGain && (!e.quick(&t).keeps(p) || p.keeps(t)) {
			best, merit = l, m
			return true
		}
		return false
	}
	const steps = 24
	for i := range steps {
		for j := range steps {
			if stop() {
				break
			}
			// From 0.6 to 6 times the textbook gaps: clumping asks for wider ones.
			grow := func(i int) float64 { return 0.6 * math.Pow(10, float64(i)/(steps-1)) }
			for _, tilt := range []float64{0.95, 1, 1.05} {
				consider(LinePair{tilt * textbook.Slope, textbook.LeaveGap * grow(i), textbook.ActGap * grow(j)})
			}
		}
	}
	for size := 0.08; size > 0.001 && !stop(); size /= 1.6 {
		for moved := true; moved && !stop(); {
			moved = false
			for _, ds := range []float64{-1, 0, 1} {
				for _, dl := range []float64{-1, 0, 1} {
					for _, da := range []float64{-1, 0, 1} {
						moved = consider(LinePair{
							best.Slope * (1 + 0.3*size*ds),
							best.LeaveGap * (1 + size*dl),
							best.ActGap * (1 + size*da),
						}) || moved
					}
				}
			}
		}
	}
	t, _ := at(best)
	return best, t, p.keeps(t)
}
