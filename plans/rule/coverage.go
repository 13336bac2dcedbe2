package rule

import (
	"sort"

	"stopwise/sampling"
)

// Misses says how often an interval told at the end of a walk misses the truth.
type Misses struct {
	Below      float64 // chance that its upper limit is below the truth
	Above      float64 // chance that its lower limit is above the truth
	Leave      float64 // chance of the verdict leave
	LeaveBelow float64 // chance of the verdict leave with an upper limit below the truth
}

// Missed returns the chance that the truth is outside the interval.
func (m Misses) Missed() float64 { return m.Below + m.Above }

func (m *Misses) add(e End, below, above bool) {
	if below {
		m.Below += e.Chance
	}
	if above {
		m.Above += e.Chance
	}
	if e.Verdict == Leave {
		m.Leave += e.Chance
		if below {
			m.LeaveBelow += e.Chance
		}
	}
}

// MissesOf returns how often the interval that a scout is told at each end point
// misses the level of a field when the steps are really walked, exactly.
func MissesOf(steps []Step, truth sampling.Population, interval func(End) sampling.Interval) Misses {
	var m Misses
	level := truth.Level()
	for _, e := range Ends(steps, truth) {
		in := interval(e)
		m.add(e, in.Upper < level, in.Lower > level)
	}
	return m
}

// Misses returns how often the two-sided interval of [Visit.Known] misses the level
// of a field when the steps are really walked, exactly: what [MissesOf] returns
// for it, without finding its limits. The field need not be one of the family, but
// its level must be in the range. The Below of confidence 2C - 1 is that of the
// one-sided upper limit of confidence C.
func (v Visit) Misses(truth sampling.Population, confidence float64) Misses {
	order := v.order()
	key := func(e End) float64 { return order(e.Stop, e.Units, e.Total) }
	ends := Ends(v.Steps, v.Family(truth.Level()))
	sort.SliceStable(ends, func(i, j int) bool { return key(ends[i]) < key(ends[j]) })
	up := make([]float64, len(ends)+1) // up[i] is the chance of the first i
	for i, e := range ends {
		up[i+1] = up[i] + e.Chance
	}
	tail := (1 - confidence) / 2
	var m Misses
	for _, e := range Ends(v.Steps, truth) {
		shown := key(e)
		less := up[sort.Search(len(ends), func(i int) bool { return key(ends[i]) >= shown })]
		most := up[sort.Search(len(ends), func(i int) bool { return key(ends[i]) > shown })]
		m.add(e, most < tail, less > 1-tail)
	}
	return m
}
