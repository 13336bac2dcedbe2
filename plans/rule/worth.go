package rule

import (
	"fmt"
	"math"

	"stopwise/sampling"
)

// A Worth says what is added to the running total for a stop's count. Under
// clumping the plain total wastes information: what a stop of x infested says for
// the upper against the lower bound is not linear in x. Its zero value is the
// identity: a stop is worth its count.
type Worth struct {
	// Cap, if above 0, is the most that a stop counts. The scout may stop looking
	// at a stop once so many are found.
	Cap int `json:"cap,omitempty"`
	// Points, if not nil, is the map of a stop's points.
	Points *Points `json:"points,omitempty"`
}

// Points is what a stop of x infested plants is worth, in whole points: by how
// much it speaks for the share Upper against the share Lower,
//
//	A [ln f1(x)/f0(x) - ln f1(0)/f0(0)]
//
// rounded, f0 and f1 being the beta-binomial chances of x at the two shares and
// one rho, and A such that a full stop with every plant infested is worth Top; a
// find is worth at least 1. It leans on the beta's shape: the same correlation from
// patches with nothing between makes a stop without a find say much less.
//
// A stop of fewer plants is worth A [ln f1'(x)/f0'(x) - ln f1(0)/f0(0)] with f' for
// so many plants, so that the numbers of a table for full stops hold for it as they
// are; it stays within 0 and Top. Of more plants, what would fall below 0 is 0.
type Points struct {
	Lower float64 `json:"lower"` // 0 < Lower < Upper < 1
	Upper float64 `json:"upper"`
	Rho   float64 `json:"rho"`   // 0 <= Rho < 1
	Units int     `json:"units"` // plants of a full stop
	Top   int     `json:"top"`   // points of a full stop with every plant infested, at least 1
}

// Check returns an error if the worth does not hold together.
func (w Worth) Check() error {
	switch p := w.Points; {
	case w.Cap < 0:
		return fmt.Errorf("rule: cap %d, must be above 0", w.Cap)
	case p == nil:
		return nil
	case w.Cap > 0:
		return fmt.Errorf("rule: a stop is worth either a capped count or points, not both")
	case !(p.Lower > 0 && p.Lower < p.Upper && p.Upper < 1):
		return fmt.Errorf("rule: points between shares of %g and %g, must be 0 < lower < upper < 1", p.Lower, p.Upper)
	case p.Units < 1 || p.Top < 1:
		return fmt.Errorf("rule: points for %d plants with a top of %d, both must be at least 1", p.Units, p.Top)
	default:
		return sampling.CheckRho(p.Rho)
	}
}

// Plain reports whether a stop is worth its count.
func (w Worth) Plain() bool { return w.Cap == 0 && w.Points == nil }

// Top returns the most that a stop of units units is worth.
func (w Worth) Top(units int) int {
	m := w.Map(units)
	return m[len(m)-1]
}

// Map returns what a stop of units units is worth by its count 0..units. It never
// falls.
func (w Worth) Map(units int) []int {
	m := make([]int, units+1)
	for x := range m {
		m[x] = x
		if w.Cap > 0 {
			m[x] = min(x, w.Cap)
		}
	}
	if w.Points != nil {
		w.Points.fill(m)
	}
	return m
}

// Value returns what a count at a stop of units units is worth.
func (w Worth) Value(count, units int) int {
	switch {
	case w.Points != nil:
		return w.Map(units)[min(count, units)]
	case w.Cap > 0:
		return min(count, w.Cap)
	}
	return count
}

// Values returns [Worth.Value] for stops of up to so many units, worked out once.
func (w Worth) Values(most int) func(count, units int) int {
	if w.Points == nil {
		return w.Value
	}
	maps := make([][]int, most+1)
	for units := range maps {
		maps[units] = w.Map(units)
	}
	return func(count, units int) int { return maps[units][min(count, units)] }
}

// fill sets the points of a stop of len(m)-1 plants.
func (p *Points) fill(m []int) {
	n := len(m) - 1
	scale := float64(p.Top) / p.evidence(p.Units, p.Units)
	less := p.nothing(n) - p.nothing(p.Units) // what is not seen speaks for neither
	for x := range m {
		least := min(x, 1)
		m[x] = max(least, int(math.Round(scale*(less+p.evidence(x, n)))))
	}
}

// nothing returns ln f1(0)/f0(0) for a stop of n plants.
func (p *Points) nothing(n int) float64 {
	sum, c := 0.0, 1-p.Rho
	for i := range n {
		more := float64(i) * p.Rho
		sum += math.Log((1-p.Upper)*c+more) - math.Log((1-p.Lower)*c+more)
	}
	return sum
}

// evidence returns ln f1(x)/f0(x) - ln f1(0)/f0(0) for a stop of n plants. The
// ratio of neighbouring chances gives it without their small values:
//
//	f(x+1)/f(x) = (n-x)/(x+1) (p(1-rho) + x rho)/((1-p)(1-rho) + (n-x-1) rho)
func (p *Points) evidence(x, n int) float64 {
	step := func(share float64, i int) float64 {
		c := 1 - p.Rho
		return math.Log(share*c+float64(i)*p.Rho) - math.Log((1-share)*c+float64(n-i-1)*p.Rho)
	}
	sum := 0.0
	for i := range x {
		sum += step(p.Upper, i) - step(p.Lower, i)
	}
	return sum
}

// Of returns the population whose stop totals are the worth of the stops of pop,
// which must be bounded unless the worth is plain.
func (w Worth) Of(pop sampling.Population) sampling.Population {
	if w.Plain() {
		return pop
	}
	if w.Points != nil {
		return pointed{pop, *w.Points}
	}
	return capped{pop, w.Cap}
}

// capped and pointed are comparable wherever their populations are: searches know
// equal worlds by that.
type capped struct {
	sampling.Population
	most int
}

type pointed struct {
	sampling.Population
	points Points
}

// Stop returns the distribution of the worth of units units.
func (c capped) Stop(units int) sampling.StopTotal {
	return gather(c.Population.Stop(units), Worth{Cap: c.most}.Map(units), units)
}

// Stop returns the distribution of the points of units units.
func (p pointed) Stop(units int) sampling.StopTotal {
	return gather(p.Population.Stop(units), Worth{Points: &p.points}.Map(units), units)
}

func gather(stop sampling.StopTotal, worth []int, units int) sampling.StopTotal {
	d := make(sampling.Discrete, worth[units]+1)
	for x, p := range stop.Probs(units) {
		d[worth[x]] += p
	}
	return d
}

// Examined returns how many units are examined on average at a stop of units units
// where looking ends once as many as the cap are found: the sum over i below units
// of the chance that fewer are found among i. Without a cap it is units. The units
// of a stop must be exchangeable.
func (w Worth) Examined(pop sampling.Population, units int) float64 {
	if w.Cap == 0 || w.Cap > units {
		return float64(units)
	}
	sum := float64(min(w.Cap, units))
	for i := w.Cap; i < units; i++ {
		sum += 1 - pop.Stop(i).Tails(w.Cap)[w.Cap]
	}
	return sum
}

// Examined returns how many units are examined on average at a stop of units units of
// a population, which may be that of a [Worth].
func Examined(pop sampling.Population, units int) float64 {
	if c, ok := pop.(capped); ok {
		return Worth{Cap: c.most}.Examined(c.Population, units)
	}
	return float64(units)
}

// At returns the numbers that a table's stop (from 1) has after units units in all.
// Points are worth the same however many units were seen, so that they are the
// table's own; else they are [Table.At].
func (w Worth) At(t Table, stop, units int) (leave, act int) {
	if w.Points != nil {
		stop = min(stop, t.Stops())
		return t.Leave[stop-1], t.Act[stop-1]
	}
	return t.At(stop, units)
}

// Path is [Table.Path] with the numbers of [Worth.At].
func (w Worth) Path(t Table, seen []int) []Step {
	steps := t.Path(seen)
	if w.Points != nil {
		for j := range steps {
			steps[j].Leave, steps[j].Act = w.At(t, j+1, 0)
		}
	}
	return steps
}

// Shown returns how much of the pest so many stops show: the share or mean seen for
// plain counts, and else the worth per stop.
func (w Worth) Shown(stops, units, total int) float64 {
	if w.Plain() {
		return float64(total) / float64(units)
	}
	return PerStop(stops, units, total)
}

// Order returns how much of the pest an end point shows (see [Visit]): nil, the share
// or mean seen, for plain counts, and else the worth per stop.
func (w Worth) Order() func(stop, units, total int) float64 {
	if w.Plain() {
		return nil
	}
	return PerStop
}
