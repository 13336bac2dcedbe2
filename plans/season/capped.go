package season

import "stopwise/sampling"

// capped is a population whose stops show at most top: all totals from a table's last
// act number on are alike to it, and a mean that has grown for weeks has very many.
type capped struct {
	sampling.Population
	top int
}

func (c capped) Stop(units int) sampling.StopTotal {
	s := c.Population.Stop(units)
	if top := s.Max(); top != sampling.Unbounded && top <= c.top {
		return s
	}
	return cappedTotal{s, c.top}
}

type cappedTotal struct {
	sampling.StopTotal
	top int
}

func (c cappedTotal) Max() int { return c.top }

func (c cappedTotal) Probs(n int) []float64 {
	p := make([]float64, n+1)
	copy(p, c.StopTotal.Probs(min(n, c.top)))
	if n >= c.top {
		p[c.top] = c.StopTotal.Tails(c.top)[c.top]
	}
	return p
}

func (c cappedTotal) Tails(n int) []float64 {
	t := make([]float64, n+1)
	copy(t, c.StopTotal.Tails(min(n, c.top)))
	return t
}
