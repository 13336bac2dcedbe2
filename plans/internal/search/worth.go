package search

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// mostStates is up to how many things a stop of insects may be worth for a search to
// look at all of them; beyond that it goes by steps as for plain counts.
const mostStates = 60

// Counting returns the problem with stops that count what w says. The lower bound
// is that of the problem itself: no plan can know more than the full counts.
func (p *Problem) Counting(w rule.Worth) *Problem {
	if w.Plain() {
		return p
	}
	q := *p
	of := w.Of
	switch {
	case p.Bounded:
		q.Each = w.Top(p.Units)
	case w.Cap > mostStates:
		q.Top, q.Each = min(p.Top, w.Cap*p.Maximum), w.Cap
		of = p.once(w)
	default:
		q.Bounded, q.Each = true, w.Top(p.Units)
		of = p.once(w)
	}
	q.Effort, q.Limits = slices.Clone(p.Effort), slices.Clone(p.Limits)
	for i := range q.Effort {
		q.Effort[i].Population = of(p.Effort[i].Population)
	}
	for i := range q.Limits {
		q.Limits[i].Population = of(p.Limits[i].Population)
	}
	return &q
}

// cappedTable searches for the table where insects are counted up to a large cap: on
// totals in steps, so that a stop has few states, and never for a worse one than starts
// that keep the limits.
func (p *Problem) cappedTable(starts []Table) (Table, bool) {
	q, step := p.onLattice(max(1, p.Top*mostStates/p.Each))
	q.Bounded, q.Each = true, (p.Each+step/2)/step
	best, found := p.fromSteps(q, step, func(q *Problem, step int) (Table, bool) {
		return q.RiskTrue(coarsely(starts, step))
	})
	for _, t := range starts {
		if p.Keeps(t) && (!found || p.Stops(t) < p.Stops(best)-leastGain) {
			best, found = t, true
		}
	}
	return best, found
}

// A known population has the distribution of a full stop ready, which takes long to
// work out where insects are counted. Equal populations of one problem are one.
type known struct {
	sampling.Population
	units int
	stop  sampling.StopTotal
}

func (k *known) Stop(units int) sampling.StopTotal {
	if units == k.units {
		return k.stop
	}
	return k.Population.Stop(units)
}

// once returns a function that gives each population with the worth of its stops.
func (p *Problem) once(w rule.Worth) func(sampling.Population) sampling.Population {
	seen := map[sampling.Population]*known{}
	return func(pop sampling.Population) sampling.Population {
		k := seen[pop]
		if k == nil {
			of := w.Of(pop)
			k = &known{of, p.Units, of.Stop(p.Units)}
			seen[pop] = k
		}
		return k
	}
}

// Caps returns the caps worth trying for stops of units units.
func Caps(units int) []rule.Worth {
	var ws []rule.Worth
	for c := max(2, units/5); c <= max(2, units*3/4); c += max(1, units/20) {
		ws = append(ws, rule.Worth{Cap: c})
	}
	return ws
}

// InsectCaps returns the caps worth trying where insects are counted, by what a stop of
// a field brings on average; step is [rule.Worth.Step]. Of large ones it is the largest:
// they differ little, and take long.
func InsectCaps(field sampling.Population, units, step int) []rule.Worth {
	mean := field.Stop(units).Mean()
	var ws []rule.Worth
	for _, part := range []float64{.5, 1, 2} {
		w := rule.Worth{Cap: max(2, int(math.Round(part*mean))), Step: step}
		if n := len(ws); n > 0 && ws[n-1].Cap > mostStates {
			ws = ws[:n-1]
		}
		if !slices.Contains(ws, w) {
			ws = append(ws, w)
		}
	}
	return ws
}

// Reached returns the least count that at most a given part of the stops of a field
// reach, at least 1.
func Reached(field sampling.Population, units int, part float64) int {
	stop := field.Stop(units)
	n := 16
	for stop.Tails(n)[n] > part {
		n *= 2
	}
	tails := stop.Tails(n)
	return max(1, sort.Search(n, func(x int) bool { return tails[x] <= part }))
}

// PointMaps returns maps with the given top for rho from a little below the range
// up to its end. A field at the lower bound collects the more points the less its
// plants clump, so a map for the clumped end may break the needless risk at the
// other.
func PointMaps(lower, upper float64, units, top int, low, high float64) []rule.Worth {
	var ws []rule.Worth
	for _, rho := range []float64{0.7 * low, low, low + (high-low)/3, low + (high-low)*2/3, high} {
		w := rule.Worth{Points: &rule.Points{Lower: lower, Upper: upper, Rho: rho, Units: units, Top: top}}
		same := func(v rule.Worth) bool { return slices.Equal(v.Map(units), w.Map(units)) }
		if !slices.ContainsFunc(ws, same) {
			ws = append(ws, w)
		}
	}
	return ws
}

// BestWorth returns the one of the given worths with which the least walking keeps
// every limit, and its table: all are tried roughly, the best two in full. It
// reports false where none was found.
func (p *Problem) BestWorth(ws []rule.Worth) (rule.Worth, Table, bool) {
	type found struct {
		worth rule.Worth
		table Table
		stops float64
	}
	try := func(w rule.Worth, rough bool) (found, bool) {
		q := *p.Counting(w)
		q.Rough = rough || p.Rough
		var starts []Table
		if !rough {
			if l, ok := q.Textbook(); ok {
				starts = q.Starts(&l)
			}
		}
		t, ok := q.RiskTrue(starts)
		if !ok {
			return found{}, false
		}
		return found{w, t, q.Stops(t)}, true
	}
	byStops := func(a, b found) int { return cmp.Compare(a.stops, b.stops) }
	var all []found
	for _, w := range ws {
		if f, ok := try(w, len(ws) > 1); ok {
			all = append(all, f)
		}
	}
	slices.SortStableFunc(all, byStops)
	if len(all) == 0 {
		return rule.Worth{}, Table{}, false
	}
	best := all[0]
	if len(ws) > 1 {
		for _, f := range all[:min(2, len(all))] {
			if g, ok := try(f.worth, false); ok && g.stops < best.stops-leastGain {
				best = g
			}
		}
	}
	return best.worth, best.table, true
}
