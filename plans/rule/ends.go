package rule

import (
	"math"

	"stopwise/sampling"
)

// An End is a point at which a walk can end: a running total that brings a
// verdict, or the total at the last stop of a walk that is cut off.
type End struct {
	Stop    int // from 1
	Units   int // seen at this and all earlier stops
	Total   int
	Verdict Verdict // Continue where the walk is cut off without one
	Chance  float64
}

// CutOff returns the steps of a walk that goes no further than a stop (from 1):
// every total ends it there.
func CutOff(steps []Step, stop int) []Step {
	cut := append([]Step(nil), steps[:stop]...)
	cut[stop-1].Leave, cut[stop-1].Act = NeverLeave, 0
	return cut
}

// unreached is an act number above all totals. Unlike after NeverAct, no state of the
// walk then stands for more than one total.
const unreached = NeverAct - 1

// vanishing is the chance below which the largest totals of one stop are left out
// where totals have no largest value.
const vanishing = 1e-17

// Ends returns the points at which a walk over steps can end, by stop and then
// by total, with their exact chances. Where totals have no largest value it
// leaves out those that no stop reaches with a chance of 1e-17. It takes about
// stops * totals * totals of one stop steps.
func Ends(steps []Step, pop sampling.Population) []End {
	var ends []End
	EachEnd(steps, pop, func(e End) { ends = append(ends, e) })
	return ends
}

// EachEnd tells one after the other what [Ends] returns.
func EachEnd(steps []Step, pop sampling.Population, tell func(End)) {
	units, before := 0, 0 // seen, and at how many stops
	w := walk{pop: pop, chance: []float64{1}}
	w.over(steps, func(j int, s Step) {
		for ; before <= j; before++ {
			units += steps[before].Units
		}
		if w.units != s.Units {
			w.reach = largest(pop.Stop(s.Units))
		}
		w.visit(Step{s.Units, NeverLeave, unreached}, unreached) // no total ends the walk
		leave := min(max(s.Leave-w.base+1, 0), len(w.chance))
		act := len(w.chance)
		if s.Act != NeverAct {
			act = min(max(s.Act-w.base, leave), act)
		}
		for i, p := range w.chance {
			if p > 0 && (i < leave || i >= act) {
				total := w.base + i
				tell(End{j + 1, units, total, Read(total, s.Leave, s.Act), p})
			}
		}
		w.base, w.chance = w.base+leave, w.chance[:copy(w.chance, w.chance[leave:act])]
	})
}

// largest returns the largest total of a stop that is told apart.
func largest(stop sampling.StopTotal) int {
	if top := stop.Max(); top != sampling.Unbounded {
		return top
	}
	for n := 64 + int(stop.Mean()+10*math.Sqrt(stop.Variance())); ; n *= 2 {
		for x, p := range stop.Tails(n) {
			if p < vanishing {
				return x
			}
		}
	}
}

// within returns the chance that a walk ends at some stop j with a total of at most
// cuts[j]. Walks whose total is above the cut wherever they can still end are not
// carried on.
func within(steps []Step, cuts []int, pop sampling.Population) float64 {
	tops := make([]int, len(steps))
	for j, later := len(steps)-1, -1; j >= 0; j-- {
		tops[j] = min(steps[j].Act-1, later)
		later = max(tops[j], cuts[j])
	}
	reach, base := 0, 0
	for j, s := range steps {
		reach = max(reach, tops[j]+1-base, cuts[j]+1-base)
		base = max(base, s.Leave+1)
	}
	w := walk{pop: pop, reach: reach, chance: []float64{1}}
	sum := 0.0
	w.over(steps, func(j int, s Step) {
		sum += w.endsWithin(s, cuts[j])
		w.visit(Step{s.Units, s.Leave, unreached}, tops[j]) // the chance of act is not asked for
	})
	return sum
}

// endsWithin returns the chance that the next stop ends the walk with a total of at
// most cut.
func (w *walk) endsWithin(s Step, cut int) float64 {
	w.distribution(s.Units)
	sum := 0.0
	for i, f := range w.chance {
		at := w.base + i
		if at > cut {
			break
		}
		if f == 0 {
			continue
		}
		p := w.below(min(cut, s.Leave) + 1 - at)
		if cut >= s.Act {
			p += w.below(cut+1-at) - w.below(s.Act-at)
		}
		sum += f * p
	}
	return sum
}
