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
	var best LinePair
	merit := math.Inf(1)
	// The search is caught by steps of the integers, so it starts from several
	// slopes.
	for _, tilt := range []float64{0.9, 0.95, 1, 1.05, 1.1} {
		l, m := p.nearLines(e, at, LinePair{tilt * textbook.Slope, textbook.LeaveGap, textbook.ActGap}, stop)
		if m < merit {
			best, merit = l, m
		}
	}
	t, _ := at(best)
	return best, t, p.keeps(t)
}

// nearLines searches around a pair of lines, first over a grid of gaps and then
// by ever smaller steps, and returns the best pair with its merit.
func (p *problem) nearLines(e *engine, at func(LinePair) (Table, float64), from LinePair, stop func() bool) (LinePair, float64) {
	best, merit := from, math.Inf(1)
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
	const steps = 20
	for i := range steps * steps {
		if stop() {
			return best, merit
		}
		// From 0.6 to 6 times the gaps: clumping asks for wider ones.
		grow := func(i int) float64 { return 0.6 * math.Pow(10, float64(i)/(steps-1)) }
		consider(LinePair{from.Slope, from.LeaveGap * grow(i/steps), from.ActGap * grow(i%steps)})
	}
	for size := 0.08; size > 0.001 && !stop(); size /= 1.6 {
		for moved := true; moved && !stop(); {
			moved = false
			for i := range 27 {
				step := func(i int) float64 { return float64(i%3 - 1) }
				moved = consider(LinePair{
					best.Slope * (1 + 0.3*size*step(i)),
					best.LeaveGap * (1 + size*step(i/3)),
					best.ActGap * (1 + size*step(i/9)),
				}) || moved
			}
		}
	}
	return best, merit
}
