package search

import "stopwise/sampling"

// corners is how many intervals the ratio of the lower to the upper world has on the
// lines to which the counts of unbounded stops are brought.
const corners = 64

// untold is the chance below which the largest counts of a stop are told apart by the
// world they come from: that makes a bound no larger.
const untold = 1e-12

// told returns, for the three worlds of Effort, the chances of all that one stop can
// tell. For bounded stops these are the chances of their counts.
//
// Counts of insects are too many. Taking several of them together would not do: who
// sees less needs more stops, and the bound would no longer be one. So every count x
// is split instead. Its three chances f(x) are a mixture of those of two corners or
// four, f(x) = sum_c share(x, c) corner(c), which lie a little further apart than the
// counts do, and neighbouring counts share their corners. A scout who is told corners,
// drawn with the chances corner(c), can draw a count for each with the chances
// share(x, c) and has counts as they are in all three worlds: whatever can be done with
// counts can be done with corners, so that what no plan on corners can beat, no plan on
// counts can (Blackwell, D. 1953, Equivalent comparisons of experiments. Ann. Math.
// Stat. 24: 265-272).
//
// Lines of the simplex on which the ratio L0 : L1 stands still are straight, and so are
// those on which the part of Lm does: a count goes to the lines of L0 : L1 beside it at
// its own part of Lm, and what came together on a line goes to its two ends.
func (p *Problem) told() [3][]float64 {
	if p.Bounded {
		return p.chances(p.counts())
	}
	return cornered(p.chances(p.enough()), odds(corners))
}

// chances returns the chances of the counts up to top, the last of them in one world
// each: the rest of it.
func (p *Problem) chances(top int) (f [3][]float64) {
	for i, w := range p.Effort {
		stop := w.Stop(p.Units)
		f[i] = stop.Probs(top)
		if stop.Max() == sampling.Unbounded {
			rest := make([]float64, len(p.Effort))
			rest[i] = stop.Tails(top + 1)[top+1]
			f[i] = append(f[i], rest...)
		}
	}
	return f
}

// enough returns a count that hardly any stop exceeds in any of the worlds.
func (p *Problem) enough() int {
	top := 0
	for _, w := range p.Effort {
		stop := w.Stop(p.Units)
		n := max(64, p.topOf(w.Population, 1, 8))
		for stop.Tails(n)[n] > untold {
			n *= 2
		}
		top = max(top, n)
	}
	return top
}

// cornered brings chances to corners on the lines of a grid.
func cornered(f [3][]float64, lines []float64) (out [3][]float64) {
	type piece struct{ middle, mass float64 }
	at := make([][]piece, len(lines))
	for x := range f[0] {
		l0, lm, l1 := f[0][x], f[1][x], f[2][x]
		sum, t := l0+lm+l1, 0.5
		if sum == 0 {
			continue
		}
		if l0+l1 > 0 {
			t = l0 / (l0 + l1)
		}
		i, along := cell(t, lines)
		at[i] = append(at[i], piece{lm / sum, sum * (1 - along)})
		at[i+1] = append(at[i+1], piece{lm / sum, sum * along})
	}
	for i, pieces := range at {
		add := func(middle, mass float64) {
			if mass > 0 {
				rest := mass * (1 - middle)
				out[0] = append(out[0], rest*lines[i])
				out[1] = append(out[1], mass*middle)
				out[2] = append(out[2], rest*(1-lines[i]))
			}
		}
		low, high := 1.0, 0.0
		for _, p := range pieces {
			low, high = min(low, p.middle), max(high, p.middle)
		}
		atLow, atHigh := 0.0, 0.0
		for _, p := range pieces {
			part := 0.0
			if high > low {
				part = (p.middle - low) / (high - low)
			}
			atLow, atHigh = atLow+p.mass*(1-part), atHigh+p.mass*part
		}
		add(low, atLow)
		add(high, atHigh)
	}
	return out
}
