package size

import (
	"gonum.org/v1/gonum/floats"

	"stopwise/sampling"
)

// negligible is the weight below which the ends of a distribution are cut. What
// is lost over all stops stays far below any risk that is asked for.
const negligible = 1e-30

// total is the distribution of the infested plants over some stops, cut to the
// totals that carry weight: p[i] is the chance of from+i. Above most, where that is given,
// nothing is asked.
type total struct {
	from int
	p    []float64
	most int
}

// stopTotal returns the distribution at one stop of m plants.
func stopTotal(share, rho float64, m int) total {
	stop := sampling.Infested{P: share, Rho: rho}.Stop(m)
	return total{p: stop.Probs(m)}.trim()
}

// totalOver returns the distribution over a number of stops, by repeated
// doubling.
func totalOver(one total, stops int) total {
	sum, power := total{p: []float64{1}}, one
	for {
		if stops&1 == 1 {
			sum = sum.add(power)
		}
		if stops >>= 1; stops == 0 {
			return sum
		}
		power = power.add(power)
	}
}

func (t total) add(u total) total {
	sum := total{t.from + u.from, sampling.ConvolveLong(t.p, u.p), max(t.most, u.most)}
	if sum.most > 0 {
		sum.p = sum.p[:max(1, min(len(sum.p), sum.most-sum.from+1))]
	}
	return sum.trim()
}

func (t total) trim() total {
	lo, hi := 0, len(t.p)
	for sum := 0.0; lo < hi-1; lo++ {
		if sum += t.p[lo]; sum > negligible {
			break
		}
	}
	for sum := 0.0; hi > lo+1; hi-- {
		if sum += t.p[hi-1]; sum > negligible {
			break
		}
	}
	return total{t.from + lo, t.p[lo:hi], t.most}
}

// above returns P(total > c).
func (t total) above(c int) float64 {
	i := max(0, c+1-t.from)
	if i >= len(t.p) {
		return 0
	}
	return sumUp(t.p[i:])
}

// atMost returns P(total <= c).
func (t total) atMost(c int) float64 {
	i := min(len(t.p), c+1-t.from)
	if i <= 0 {
		return 0
	}
	return min(1, floats.Sum(t.p[:i]))
}

// sumUp adds from the far end, where the small terms are.
func sumUp(p []float64) float64 {
	sum := 0.0
	for i := len(p) - 1; i >= 0; i-- {
		sum += p[i]
	}
	return min(1, sum)
}
