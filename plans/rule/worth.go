package rule

import (
	"fmt"
	"math"
	"slices"

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
	// Step is, where insects are counted, how many units are looked at together until
	// the cap is reached, such as the leaves of a plant; 0 where units count for one at
	// the most and are looked at one by one.
	Step int `json:"step,omitempty"`
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
// Of counts of insects it is what they say for the mean Upper against the mean Lower,
// see [Insects]: then Full insects or more at a full stop are worth Top.
//
// A stop of fewer plants is worth A [ln f1'(x)/f0'(x) - ln f1(0)/f0(0)] with f' for
// so many plants, so that the numbers of a table for full stops hold for it as they
// are; it stays within 0 and Top. Of more plants, what would fall below 0 is 0.
type Points struct {
	Lower float64 `json:"lower"` // 0 < Lower < Upper; below 1 for shares
	Upper float64 `json:"upper"`
	Rho   float64 `json:"rho"`   // 0 <= Rho < 1
	Units int     `json:"units"` // plants, or leaves, of a full stop
	Top   int     `json:"top"`   // points of a full stop with every plant infested, at least 1
	// Insects is set where insects are counted.
	Insects Insects `json:"insects,omitzero"`
}

// Check returns an error if the worth does not hold together.
func (w Worth) Check() error {
	switch p := w.Points; {
	case w.Cap < 0 || w.Step < 0:
		return fmt.Errorf("rule: cap %d by steps of %d units, must be above 0", w.Cap, w.Step)
	case p == nil:
		return nil
	case w.Cap > 0:
		return fmt.Errorf("rule: a stop is worth either a capped count or points, not both")
	case !p.Insects.none():
		return p.checkInsects()
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

// Top returns the most that a stop of units units is worth. It is not for plain counts
// of insects.
func (w Worth) Top(units int) int {
	switch {
	case w.OfInsects():
		return len(w.Points.edges(units))
	case w.Step > 0:
		return w.Cap
	}
	m := w.Map(units)
	return m[len(m)-1]
}

// OfInsects reports whether the points are of counts of insects.
func (w Worth) OfInsects() bool { return w.Points != nil && !w.Points.Insects.none() }

// Map returns what a stop of units units is worth by its count 0..units. It never
// falls. It is for stops whose units count for one at the most; see [Worth.Runs].
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
	case w.OfInsects():
		return worthOf(w.Points.edges(units), count)
	case w.Points != nil:
		return w.Map(units)[min(count, units)]
	case w.Cap > 0:
		return min(count, w.Cap)
	}
	return count
}

// Least returns the least count at a stop of units units that is worth so much, where
// any is: up to [Worth.Top] for points, up to the cap, and any number for plain counts.
func (w Worth) Least(worth, units int) int {
	switch {
	case worth <= 0:
		return 0
	case w.OfInsects():
		return w.Points.edges(units)[worth-1]
	case w.Points != nil:
		return slices.IndexFunc(w.Map(units), func(x int) bool { return x >= worth })
	}
	return worth
}

// Values returns [Worth.Value] for stops of up to so many units, worked out once.
func (w Worth) Values(most int) func(count, units int) int {
	if w.Points == nil {
		return w.Value
	}
	maps := make([][]int, most+1)
	if w.OfInsects() {
		for units := range maps {
			maps[units] = w.Points.edges(units)
		}
		return func(count, units int) int { return worthOf(maps[units], count) }
	}
	for units := range maps {
		maps[units] = w.Map(units)
	}
	return func(count, units int) int { return maps[units][min(count, units)] }
}

// fill sets the points of a stop of len(m)-1 plants.
func (p *Points) fill(m []int) {
	n := len(m) - 1
	says := p.evidence(n)
	full, less := says, 0.0
	if n != p.Units {
		full = p.evidence(p.Units)
		less = p.nothing(n) - p.nothing(p.Units) // what is not seen speaks for neither
	}
	scale := float64(p.Top) / full[p.Units]
	for x := range m {
		least := min(x, 1)
		m[x] = max(least, int(math.Round(scale*(less+says[x]))))
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

// evidence returns ln f1(x)/f0(x) - ln f1(0)/f0(0) for x = 0..n of a stop of n plants. The
// ratio of neighbouring chances gives it without their small values:
//
//	f(x+1)/f(x) = (n-x)/(x+1) (p(1-rho) + x rho)/((1-p)(1-rho) + (n-x-1) rho)
func (p *Points) evidence(n int) []float64 {
	step := func(share float64, i int) float64 {
		c := 1 - p.Rho
		return math.Log(share*c+float64(i)*p.Rho) - math.Log((1-share)*c+float64(n-i-1)*p.Rho)
	}
	says := make([]float64, n+1)
	for i := range n {
		says[i+1] = says[i] + (step(p.Upper, i) - step(p.Lower, i))
	}
	return says
}

// Of returns the population whose stop totals are the worth of the stops of pop.
func (w Worth) Of(pop sampling.Population) sampling.Population {
	if w.Plain() {
		return pop
	}
	if w.Points != nil {
		return pointed{pop, *w.Points}
	}
	return capped{pop, w.Cap, max(1, w.Step)}
}

// capped and pointed are comparable wherever their populations are: searches know
// equal worlds by that.
type capped struct {
	sampling.Population
	most, step int
}

type pointed struct {
	sampling.Population
	points Points
}

// Stop returns the distribution of the worth of units units.
func (c capped) Stop(units int) sampling.StopTotal {
	if stop := c.Population.Stop(units); stop.Max() == sampling.Unbounded {
		d := sampling.Discrete(stop.Probs(c.most))
		d[c.most] = stop.Tails(c.most)[c.most]
		return d
	}
	return gather(c.Population.Stop(units), Worth{Cap: c.most}.Map(units), units)
}

// Stop returns the distribution of the points of units units.
func (p pointed) Stop(units int) sampling.StopTotal {
	if !p.points.Insects.none() {
		return binned(p.Population.Stop(units), p.points.edges(units))
	}
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
// of the chance that fewer are found among i, i by [Worth.Step]. Without a cap it is
// units. The units of a stop must be exchangeable.
func (w Worth) Examined(pop sampling.Population, units int) float64 {
	step := max(1, w.Step)
	from := step // the first units are looked at always
	if pop.Stop(units).Max() != sampling.Unbounded {
		if w.Cap > units {
			return float64(units)
		}
		from = (w.Cap + step - 1) / step * step // fewer units cannot hold so many
	}
	if w.Cap == 0 {
		return float64(units)
	}
	sum := float64(min(from, units))
	for i := from; i < units; i += step {
		sum += float64(min(step, units-i)) * (1 - pop.Stop(i).Tails(w.Cap)[w.Cap])
	}
	return sum
}

// Examined returns how many units are examined on average at a stop of units units of
// a population, which may be that of a [Worth].
func Examined(pop sampling.Population, units int) float64 {
	if c, ok := pop.(capped); ok {
		return Worth{Cap: c.most, Step: c.step}.Examined(c.Population, units)
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
