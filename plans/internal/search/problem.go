package search

import (
	"slices"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

type Table = rule.Table

// RiskSlack is how far above what is allowed a computed risk counts as kept:
// rounding.
const RiskSlack = 1e-12

// A Problem is what a design must solve: the walk allowed, the worlds that the
// effort is averaged over, and the risks to be kept.
type Problem struct {
	Units, Minimum, Maximum int
	Bounded                 bool // no unit counts for more than one
	Top                     int  // else: the largest total told apart
	Each                    int  // the most that a stop is worth; where 0, Units, or for insects any number
	// Effort lists the worlds that the expected stops are averaged over. A lower
	// bound needs three: at the lower bound, between, and at the upper bound.
	Effort []Weighted
	Limits []Limit
	// Acts is the chance that a further sign lets a treatment happen in the middle
	// world of Effort, once the count asks for it after so many stops; nil without one.
	// Ties are settled by it.
	Acts func(stop int) float64
	// Rough asks for a good table rather than the best one.
	Rough bool
	// Stop, if set, is asked whether to give up.
	Stop func() bool

	unlikely bool // hardly any table can keep the limits
}

// A Weighted world counts with its weight in the average effort.
type Weighted struct {
	sampling.Population
	Weight float64
}

// A Limit is a risk to be kept: in this world the expected cost of the verdict is
// at most Allowed. Act and Leave give what a verdict costs that comes after so
// many stops, from 0 to 1; nil is nothing.
type Limit struct {
	sampling.Population
	Allowed    float64
	Act, Leave func(stop int) float64
}

func surely(int) float64 { return 1 }

// Needless limits the chance of acting in a field that needs no treatment. With a
// further sign that must be seen as well, sign is the chance that it was seen often
// enough within so many stops of such a field; nil without one.
func Needless(field sampling.Population, allowed float64, sign func(stop int) float64) Limit {
	if sign == nil {
		sign = surely
	}
	return Limit{Population: field, Allowed: allowed, Act: sign}
}

// Missed limits the chance of not acting in a field that needs treatment: of
// leaving it by the count, or of acting by the count without the further sign.
func Missed(field sampling.Population, allowed float64, sign func(stop int) float64) Limit {
	l := Limit{Population: field, Allowed: allowed, Leave: surely}
	if sign != nil {
		l.Act = func(stop int) float64 { return 1 - sign(stop) }
	}
	return l
}

// onLeave reports whether it is leaving that the limit forbids.
func (l Limit) onLeave() bool { return l.cost(rule.Leave, 1) > l.cost(rule.Act, 1) }

func (l Limit) cost(v rule.Verdict, stop int) float64 {
	f := l.Act
	if v == rule.Leave {
		f = l.Leave
	}
	if f == nil || v == rule.Continue {
		return 0
	}
	return f(stop)
}

// Risk returns the limit's exact risk with a table.
func (l Limit) Risk(t Table) float64 {
	return l.of(rule.Evaluate(t, l.Population))
}

// of returns the limit's risk in an evaluation of its world.
func (l Limit) of(e rule.Evaluation) float64 {
	sum := 0.0
	for j, o := range e.Stops {
		sum += o.Act*l.cost(rule.Act, j+1) + o.Leave*l.cost(rule.Leave, j+1)
	}
	return sum
}

// Keeps reports whether a table keeps every limit.
func (p *Problem) Keeps(t Table) bool {
	return !slices.ContainsFunc(p.Limits, func(l Limit) bool { return l.Risk(t) > l.Allowed+RiskSlack })
}

// Stops returns the weighted expected stops of a table.
func (p *Problem) Stops(t Table) float64 {
	sum := 0.0
	for _, w := range p.Effort {
		sum += w.Weight * rule.Evaluate(t, w.Population).ExpectedStops
	}
	return sum
}

// allContinue returns the table that walks to the last stop.
func (p *Problem) allContinue() Table {
	t := Table{Units: p.Units, Leave: make([]int, p.Maximum), Act: make([]int, p.Maximum)}
	for j := range t.Leave {
		t.Leave[j], t.Act[j] = rule.NeverLeave, rule.NeverAct
	}
	t.Act[p.Maximum-1] = 0
	return t
}

// counts returns the largest count of one stop that is told apart.
func (p *Problem) counts() int {
	switch {
	case !p.Bounded:
		return p.Top
	case p.Each > 0:
		return p.Each
	}
	return p.Units
}

func (p *Problem) stopped() bool { return p.Stop != nil && p.Stop() }

// likely returns the limits that a search looks at first: those of the worlds
// whose effort is averaged, which are the most clumped ones, and the last of
// either kind where none is.
func (p *Problem) likely() []int {
	var at []int
	for _, kind := range []bool{false, true} {
		last, some := -1, false
		for i, l := range p.Limits {
			if l.onLeave() != kind {
				continue
			}
			last = i
			if slices.ContainsFunc(p.Effort, func(w Weighted) bool { return w.Population == l.Population }) {
				at, some = append(at, i), true
			}
		}
		if !some && last >= 0 {
			at = append(at, last)
		}
	}
	return at
}

// worst returns of either kind the limit that a table breaks by most, as far as
// any is broken.
func (p *Problem) worst(t Table) []int {
	var at []int
	for _, kind := range []bool{false, true} {
		found, most := -1, 1.0
		for i, l := range p.Limits {
			if l.onLeave() == kind {
				if x := (l.Risk(t) - RiskSlack) / l.Allowed; x > most {
					found, most = i, x
				}
			}
		}
		if found >= 0 {
			at = append(at, found)
		}
	}
	return at
}
