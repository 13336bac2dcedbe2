package plans

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// insects returns the chances of 0, ..., n insects on units leaves, from the
// negative binomial's ratio of neighbours (Bliss & Fisher 1953), one after the other
// from 0.
func insects(mean, k float64, units, n int) []float64 {
	m, k := mean*float64(units), k*float64(units)
	p := make([]float64, n+1)
	p[0] = math.Exp(-k * math.Log1p(m/k))
	for x := range n {
		p[x+1] = p[x] * (k + float64(x)) / float64(x+1) * m / (k + m)
	}
	return p
}

// listInsects is a second route for insects: every stop's counts are added to every
// total, up to a total that is hardly ever passed, and the verdicts are read off.
func listInsects(steps []rule.Step, start int, mean, k float64, most int) (leaves, acts []float64) {
	leaves, acts = make([]float64, len(steps)), make([]float64, len(steps))
	now := map[int]float64{start: 1}
	for j, s := range steps {
		next := map[int]float64{}
		stop := insects(mean, k, s.Units, most)
		for total, f := range now {
			for x, p := range stop {
				switch c := f * p; {
				case total+x <= s.Leave:
					leaves[j] += c
				case total+x >= s.Act:
					acts[j] += c
				default:
					next[total+x] += c
				}
			}
		}
		now = next
	}
	return leaves, acts
}

func TestFollowInsects(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean := rapid.SampledFrom([]float64{0.1, 1, 3}).Draw(t, "mean")
		k := rapid.SampledFrom([]float64{0.5, 2}).Draw(t, "k")
		n := rapid.IntRange(1, 4).Draw(t, "steps")
		start := rapid.IntRange(0, 6).Draw(t, "start")
		steps := make([]rule.Step, n)
		waits := rapid.IntRange(0, n-1).Draw(t, "waits")
		for j := range steps {
			s := rule.Step{Units: rapid.IntRange(1, 4).Draw(t, "units"), Leave: NeverLeave, Act: NeverAct}
			if j >= waits {
				s.Leave = rapid.IntRange(NeverLeave, 20).Draw(t, "leave")
				if rapid.Bool().Draw(t, "canAct") {
					s.Act = s.Leave + rapid.IntRange(1, 12).Draw(t, "width")
				}
			}
			steps[j] = s
		}
		steps[n-1].Act = steps[n-1].Leave + 1
		e := rule.Follow(steps, start, sampling.Counts{Mean: mean, K: k})
		leaves, acts := listInsects(steps, start, mean, k, 500)
		stops, units, seen := 0.0, 0.0, 0
		for j, o := range e.Stops {
			if !near(o.Leave, leaves[j], 1e-12) || !near(o.Act, acts[j], 1e-12) {
				t.Fatalf("stop %d: %+v, want %g, %g", j+1, o, leaves[j], acts[j])
			}
			seen += steps[j].Units
			stops += float64(j+1) * (leaves[j] + acts[j])
			units += float64(seen) * (leaves[j] + acts[j])
		}
		if !near(e.ExpectedStops, stops, 1e-11) || !near(e.ExpectedUnits, units, 1e-10) {
			t.Fatalf("%g stops, %g units; want %g, %g", e.ExpectedStops, e.ExpectedUnits, stops, units)
		}
	})
}

// Walks over thousands of totals, by a plain double loop.
func TestEvaluateWideWalks(t *testing.T) {
	for _, c := range []struct{ lower, upper, k, mean float64 }{
		{50, 125, 0.1, 80}, {50, 125, 0.1, 20}, {200, 500, 0.8, 300}, {100, 120, 2, 110},
	} {
		l, err := CountLines(c.lower, c.upper, c.k, 0.1, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		table := l.Table(4, 2, 6, false)
		e := Evaluate(table, sampling.Counts{Mean: c.mean, K: c.k})
		most := table.Act[5]
		stop := insects(c.mean, c.k, 4, most)
		upper := make([]float64, most+2) // P(X >= x)
		below := 0.0
		for x := range upper {
			upper[x] = 1 - below
			if x <= most {
				below += stop[x]
			}
		}
		now, widest := []float64{1}, 0
		for j := range table.Leave {
			var leave, act float64
			next := make([]float64, most+1)
			for total, f := range now {
				if f == 0 {
					continue
				}
				end := min(table.Act[j], most)
				if table.Act[j] != NeverAct {
					act += f * upper[max(0, table.Act[j]-total)]
				} else {
					next[most] += f * upper[most-total] // they act later
				}
				for s := total; s < end; s++ {
					if s <= table.Leave[j] {
						leave += f * stop[s-total]
					} else {
						next[s] += f * stop[s-total]
					}
				}
			}
			if o := e.Stops[j]; !near(o.Leave, leave, 1e-12) || !near(o.Act, act, 1e-12) {
				t.Errorf("%+v, stop %d: %+v, want %g, %g", c, j+1, o, leave, act)
			}
			states := 0
			for _, f := range next {
				if f > 0 {
					states++
				}
			}
			widest = max(widest, states)
			now = next
		}
		if !near(e.Act+e.Leave, 1, 1e-12) {
			t.Errorf("%+v: chances sum to %.16g", c, e.Act+e.Leave)
		}
		if widest <= sampling.FFTFrom {
			t.Errorf("%+v: only %d totals", c, widest)
		}
	}
}

// However strongly insects are clumped, a verdict comes and the chances sum to 1.
func TestEvaluateExtremeClumping(t *testing.T) {
	for _, k := range []float64{1e-300, 1e-20, 1e-9, 1e-6, 1e-3, 1e9, 1e300, math.Inf(1)} {
		for _, b := range [][2]float64{{1e-9, 1e-8}, {0.1, 0.2}, {2, 4}, {50, 51}} {
			l, err := CountLines(b[0], b[1], k, 0.1, 0.1)
			if err != nil {
				continue
			}
			table := l.Table(10, 2, 6, false)
			for _, mean := range b {
				if e := Evaluate(table, sampling.Counts{Mean: mean, K: k}); !near(e.Act+e.Leave, 1, 1e-12) {
					t.Errorf("k %g, mean %g: chances sum to %.16g", k, mean, e.Act+e.Leave)
				}
			}
		}
	}
}
