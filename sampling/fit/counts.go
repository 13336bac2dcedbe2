package fit

import (
	"stopwise/sampling"
	"stopwise/sampling/pilot"
)

// Counts are the numbers of insects on the units of one field, as a frequency
// table. The zero value holds no units.
type Counts struct {
	classes []pilot.Frequency // by ascending count
	units   int
	sum     float64
}

// NewCounts returns the counts of a frequency table, which has ascending,
// different counts of 0 or more.
func NewCounts(table []pilot.Frequency) (Counts, error) {
	c := Counts{classes: table}
	for i, f := range table {
		if f.Count < 0 || f.Leaves < 1 {
			return Counts{}, sampling.Refusef("%d units with a count of %d, both must be positive (a count may be 0)", f.Leaves, f.Count)
		}
		if i > 0 && f.Count <= table[i-1].Count {
			return Counts{}, sampling.Refusef("count %d after %d, must ascend", f.Count, table[i-1].Count)
		}
		c.units += f.Leaves
		c.sum += float64(f.Count) * float64(f.Leaves)
	}
	return c, nil
}

// CountsOf returns the counts of a table as it is printed in the literature:
// units[x] is the number of units that carried x insects.
func CountsOf(units ...int) (Counts, error) {
	var table []pilot.Frequency
	for x, n := range units {
		if n < 0 {
			return Counts{}, sampling.Refusef("%d units with a count of %d, must be 0 or more", n, x)
		}
		if n > 0 {
			table = append(table, pilot.Frequency{Count: x, Leaves: n})
		}
	}
	return NewCounts(table)
}

// Units returns the number of units.
func (c Counts) Units() int { return c.units }

// Mean returns the mean count per unit.
func (c Counts) Mean() float64 { return c.sum / float64(c.units) }

// Variance returns the variance of the counts, on Units-1 degrees of freedom.
func (c Counts) Variance() float64 { return c.squares() / float64(c.units-1) }

// squares returns the sum of squared deviations from the mean.
func (c Counts) squares() float64 {
	m, ss := c.Mean(), 0.0
	for _, f := range c.classes {
		d := float64(f.Count) - m
		ss += float64(f.Leaves) * d * d
	}
	return ss
}

// zeros returns the number of units without an insect.
func (c Counts) zeros() int {
	if len(c.classes) > 0 && c.classes[0].Count == 0 {
		return c.classes[0].Leaves
	}
	return 0
}

// largest returns the largest count.
func (c Counts) largest() int {
	if len(c.classes) == 0 {
		return 0
	}
	return c.classes[len(c.classes)-1].Count
}

// eachAbove calls f(x, n) for x = 0, 1, ... up to the largest count less one,
// n being the number of units with a count above x.
func (c Counts) eachAbove(f func(x, n float64)) {
	n, x := c.units, 0
	for _, class := range c.classes {
		for ; x < class.Count; x++ {
			f(float64(x), float64(n))
		}
		n -= class.Leaves
	}
}
