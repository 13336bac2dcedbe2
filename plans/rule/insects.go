package rule

import (
	"fmt"
	"math"
	"sort"

	"stopwise/sampling"
)

// Insects says how the counts of insects vary from which points are made. Whatever it
// says, the points are a map of the count, and what a plan with them risks is exact in
// any field. The map is best where the total of n units is about negative binomial with
//
//	variance M + M^2 q,  q = [Unit + (n-1) Stop] / n,  M = n mean
//
// which has the variance of units alike at a stop (see [sampling.AlikeCounts]): with
// the same k at all stops what a total says is a straight line in it, and with stops
// of their own means it bends. What so many insects x say is, with q0 at the mean Lower
// and q1 at Upper,
//
//	sum over i < x of ln(1+i q1) - ln(1+i q0), + x ln[M1 (1+M0 q0)] - x ln[M0 (1+M1 q1)]
type Insects struct {
	Full int        `json:"full"` // insects at a full stop that are worth the top
	Unit [2]float64 `json:"unit"` // 1/k of a unit over the whole field at Lower and Upper; 0 for a Poisson
	Stop [2]float64 `json:"stop"` // the variance of the stops' means by their squared mean; 0 for independent units
}

func (n Insects) none() bool { return n == Insects{} }

func (p *Points) checkInsects() error {
	n := p.Insects
	sound := p.Lower > 0 && p.Lower < p.Upper && !math.IsInf(p.Upper, 1) && p.Units >= 1 && p.Top >= 1 && n.Full >= 1
	for i := range n.Unit {
		sound = sound && n.Unit[i] >= 0 && n.Stop[i] >= 0 && !math.IsInf(n.Unit[i]+n.Stop[i], 1)
	}
	if !sound {
		return fmt.Errorf("rule: points of insects %+v do not hold together", *p)
	}
	if !(p.said(p.Units).of(n.Full) > 0) {
		return fmt.Errorf("rule: %d insects do not speak for the upper mean", n.Full)
	}
	return nil
}

// A saying is what counts on so many units say for the upper mean.
type saying struct{ m0, m1, q0, q1, each float64 }

func (p *Points) said(units int) saying {
	n := float64(units)
	q := func(i int) float64 { return (p.Insects.Unit[i] + (n-1)*p.Insects.Stop[i]) / n }
	s := saying{m0: n * p.Lower, m1: n * p.Upper, q0: q(0), q1: q(1)}
	s.each = math.Log(s.m1) - math.Log1p(s.m1*s.q1) - (math.Log(s.m0) - math.Log1p(s.m0*s.q0))
	return s
}

// next returns by how much x+1 insects say more than x.
func (s saying) next(x int) float64 {
	i := float64(x)
	return math.Log1p(i*s.q1) - math.Log1p(i*s.q0) + s.each
}

// of returns what x insects say more than none.
func (s saying) of(x int) float64 {
	sum := 0.0
	for i := range x {
		sum += s.next(i)
	}
	return sum
}

// none returns what it says that nothing was found.
func (s saying) none() float64 { return empty(s.m1, s.q1) - empty(s.m0, s.q0) }

// empty returns ln P(0) of a negative binomial.
func empty(m, q float64) float64 {
	if q == 0 {
		return -m
	}
	return -math.Log1p(m*q) / q
}

// edges returns the least count on units units that is worth so many points: the first
// for one point, and so on as far as there are any.
func (p *Points) edges(units int) []int {
	if units < 1 {
		return nil
	}
	full := p.said(p.Units)
	scale := float64(p.Top) / full.of(p.Insects.Full)
	s := p.said(units)
	sum := s.none() - full.none() // what is not seen speaks for neither
	far := 2 * p.Insects.Full * ((max(units, p.Units) + p.Units - 1) / p.Units)
	var edges []int
	for x := 0; x <= far && len(edges) < p.Top; x++ {
		for worth := int(math.Round(scale * sum)); len(edges) < min(worth, p.Top); {
			edges = append(edges, x)
		}
		sum += s.next(x)
	}
	return edges
}

// Edges returns, for points of insects, the least count at a stop of units units that
// is worth so many points: the first for one point. It is nil for any other worth.
func (w Worth) Edges(units int) []int {
	if !w.OfInsects() {
		return nil
	}
	return w.Points.edges(units)
}

// worthOf returns how many edges a count has reached.
func worthOf(edges []int, count int) int { return sort.SearchInts(edges, count+1) }

// binned returns the distribution of the worth of a stop.
func binned(stop sampling.StopTotal, edges []int) sampling.StopTotal {
	d := make(sampling.Discrete, len(edges)+1)
	last := 0
	if len(edges) > 0 {
		last = edges[len(edges)-1]
	}
	for x, p := range stop.Probs(max(last-1, 0)) {
		if x < last {
			d[worthOf(edges, x)] += p
		}
	}
	d[len(edges)] += stop.Tails(last)[last]
	return d
}

// A Run is a run of counts at a stop that are worth the same.
type Run struct {
	From, To int // To is [sampling.Unbounded] for all from From on
	Worth    int
}

// Runs returns what a stop of units units is worth by its count, in runs; nil where it
// is worth its count. A cap is that of units that count for one at the most.
func (w Worth) Runs(units int) []Run {
	var runs []Run
	add := func(from, to, worth int) {
		if n := len(runs); n > 0 && runs[n-1].Worth == worth {
			runs[n-1].To = to
			return
		}
		runs = append(runs, Run{from, to, worth})
	}
	switch {
	case w.Plain():
		return nil
	case !w.OfInsects():
		for x, worth := range w.Map(units) {
			add(x, x, worth)
		}
		return runs
	}
	from, worth := 0, 0
	for _, x := range w.Points.edges(units) {
		if x > from {
			add(from, x-1, worth)
			from = x
		}
		worth++
	}
	add(from, sampling.Unbounded, worth)
	return runs
}
