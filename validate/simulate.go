package validate

import (
	"context"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"stopwise/plans"
	"stopwise/sampling"
)

// Options says how a simulation is run.
type Options struct {
	Visits  int    // visits in each situation, at least 1
	Seed    uint64 // the same seed gives the same result
	Workers int    // at most so many at once; 0 for one a processor
	// Progress, if set, is told of visits done. It is called from several
	// goroutines at once.
	Progress func(visits int64)
}

func (o Options) check() error {
	if o.Visits < 1 {
		return sampling.Refuse("visits", o.Visits, "at least 1")
	}
	return nil
}

// blockVisits is how many visits share a stream of random numbers and are one
// piece of work. Results are joined block by block in order, so that no rounding
// depends on the workers.
const blockVisits = 1000

// inBlocks calls f for every block of n visits, on several goroutines. f gets
// the block's number, how many visits it has, and its own random numbers. stream
// keeps apart situations that are simulated with one seed.
func inBlocks(ctx context.Context, o Options, stream uint64, f func(block, visits int, r *rand.Rand)) error {
	if err := o.check(); err != nil {
		return err
	}
	blocks := (o.Visits + blockVisits - 1) / blockVisits
	workers := o.Workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(workers, blocks) {
		wg.Go(func() {
			for ctx.Err() == nil {
				b := int(next.Add(1)) - 1
				if b >= blocks {
					return
				}
				n := min(blockVisits, o.Visits-b*blockVisits)
				f(b, n, newRand(o.Seed, stream, b))
				if o.Progress != nil {
					o.Progress(int64(n))
				}
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

// newRand returns the random numbers of one block.
func newRand(seed, stream uint64, block int) *rand.Rand {
	return rand.New(rand.NewPCG(mix(seed), mix(stream<<32^uint64(block))))
}

// mix spreads neighbouring numbers over all 64 bits (the finalizer of
// SplitMix64: Steele, G.L., Lea, D. & Flood, C.H. 2014, Fast splittable
// pseudorandom number generators. OOPSLA 2014: 453-472).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

func blockCount(o Options) int { return (o.Visits + blockVisits - 1) / blockVisits }

func joined(parts []Visits) Visits {
	var all Visits
	for _, p := range parts {
		all.join(p)
	}
	return all
}

// stopChances returns the chances of a stop's total on units units, up to the
// first total from which every walk ends with act; that one stands for all above.
func stopChances(t plans.Table, pop sampling.Population, units int) []float64 {
	stop := pop.Stop(units)
	n := 1
	for _, a := range t.Act {
		if a != plans.NeverAct {
			n = max(n, a)
		}
	}
	if top := stop.Max(); top != sampling.Unbounded && top <= n {
		return stop.Probs(top)
	}
	p := stop.Probs(n)
	p[n] = stop.Tails(n)[n]
	return p
}

// A guide draws from a discrete distribution on 0, 1, ... by inversion, with a
// table that says where to begin (Chen, H.-C. & Asau, Y. 1974, On generating
// random variates from an empirical distribution. AIIE Trans. 6: 163-166).
type guide struct {
	below []float64 // P(X <= x)
	start []int32
}

func newGuide(probs []float64) guide {
	below := make([]float64, len(probs))
	sum := 0.0
	for x, p := range probs {
		sum += p
		below[x] = sum
	}
	for x := range below {
		below[x] /= sum
	}
	n := len(below)
	below[n-1] = 1
	// Far more entries than values: then nearly every draw is right at its first
	// look.
	g := guide{below, make([]int32, max(guideEntries, n))}
	for i, x := 0, 0; i < len(g.start); i++ {
		for u := float64(i) / float64(len(g.start)); below[x] < u; {
			x++
		}
		g.start[i] = int32(x)
	}
	return g
}

const guideEntries = 2048

func (g guide) draw(r *rand.Rand) int {
	u := r.Float64()
	x := g.start[int(u*float64(len(g.start)))]
	for g.below[x] <= u {
		x++
	}
	return int(x)
}
