package fit

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

// drawAlike draws a mean for each stop and then its leaves.
func drawAlike(r *rand.Rand, stops, leaves int, mean, k, rho float64) []Counts {
	shape := 1 / (rho * (1/mean + 1/k))
	within := (1 + 1/shape) / (1/k - 1/shape)
	out := make([]Counts, stops)
	for j := range out {
		at := mean
		if rho > 0 {
			at = distuv.Gamma{Alpha: shape, Beta: shape / mean, Src: r}.Rand()
		}
		out[j] = drawCounts(r, leaves, math.Max(at, 1e-300), within)
	}
	return out
}

func drawCountRho(r *rand.Rand, fields, stops, leaves int, low, high, k, rho float64) CountRho {
	var data [][]Counts
	for i := range fields {
		mean := low * math.Pow(high/low, float64(i)/float64(max(fields-1, 1)))
		data = append(data, drawAlike(r, stops, leaves, mean, k, rho))
	}
	return must(FitCountRho(data, nil, 0.95))
}

// TestCountLikelihood: the chance of a stop's leaves summed over all ways to
// share out a total is the chance of the total, which sampling finds by a
// recurrence and not by quadrature.
func TestCountLikelihood(t *testing.T) {
	for _, c := range []struct{ mean, k, rho float64 }{{2, .8, .2}, {.3, .6, .05}, {.05, .6, .07}, {20, 1.1, .4}, {3, .7, 1e-5}, {3, 1, .75}, {8, .3, .9}} {
		want := sampling.AlikeCounts{Mean: c.mean, K: c.k, Rho: c.rho}.Stop(2).Probs(60)
		for _, total := range []int{0, 1, 7, 60} {
			sum := 0.0
			for x := 0; x <= total; x++ {
				both := map[int]int{}
				both[x]++
				both[total-x]++
				units := make([]int, total+1)
				for y, n := range both {
					units[y] = n
				}
				stop := must(CountsOf(units...))
				sum += math.Exp(newCountField([]Counts{stop}).logLik(c.mean, c.k, c.rho))
			}
			if math.Abs(sum/want[total]-1) > 1e-5 {
				t.Errorf("%+v, total %d: %.10g, want %.10g", c, total, sum, want[total])
			}
		}
	}
}

func TestCountRhoMissing(t *testing.T) {
	none, some := must(CountsOf(5)), must(CountsOf(2, 1, 1))
	single := must(CountsOf(0, 1))
	for _, c := range []struct {
		fields [][]Counts
		says   string
	}{
		{nil, "no fields"},
		{[][]Counts{{some}}, "one stop"},
		{[][]Counts{{none, none}}, "all counts are 0"},
		{[][]Counts{{single, single}}, "one leaf"},
		{[][]Counts{{some}, {none, none}}, "no field"},
	} {
		got, err := FitCountRho(c.fields, nil, 0.95)
		if err != nil || got.Estimate.Known() || !strings.Contains(got.Estimate.Missing, c.says) {
			t.Errorf("%v: %+v, %v", c.says, got.Estimate, err)
		}
	}
	if _, err := FitCountRho(nil, nil, 1); err == nil {
		t.Error("confidence 1 is taken")
	}
}

func fieldsOf(data [][]Counts) (all []countField) {
	for _, stops := range data {
		all = append(all, newCountField(stops))
	}
	return all
}

// TestCountRhoFound fits one set of fields with and without a law for k.
func TestCountRhoFound(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var data [][]Counts
	for i := range 8 {
		data = append(data, drawAlike(r, 12, 8, 1+float64(i), .8, .2))
	}
	free := must(FitCountRho(data, nil, 0.95))
	law := must(FitCountRho(data, sampling.CommonK{K: .8}, 0.95))
	for _, c := range []CountRho{free, law} {
		e := c.Estimate
		if !(e.Lower < .2 && .2 < e.Upper) || !(e.Lower > .05 && e.Upper < .45) || math.Abs(c.ANOVA.Value-.2) > .12 {
			t.Errorf("true .2: %+v", c)
		}
	}
	if math.Abs(free.K-.8) > .25 || !math.IsNaN(law.K) {
		t.Errorf("k %g and %g, true .8", free.K, law.K)
	}
	// Where the likelihood falls by 1.92 from its top, by a coarse search of its own.
	e, used := free.KInterval, countProfile{fields: fieldsOf(data), adjust: true}
	highest := func(k float64) float64 {
		best := math.Inf(-1)
		for rho := .02; rho < .6; rho += .01 {
			best = math.Max(best, used.sum(func(float64) float64 { return k }, rho))
		}
		return best
	}
	if !(e.Lower < .8 && .8 < e.Upper) || e.Value != free.K || law.KInterval.Known() {
		t.Errorf("k %+v, with a law %+v", e, law.KInterval)
	}
	for _, end := range []float64{e.Lower, e.Upper} {
		if fell := highest(e.Value) - highest(end); math.Abs(fell-1.92) > .15 {
			t.Errorf("at k %g the likelihood fell by %g, want 1.92", end, fell)
		}
	}
	if math.Abs(free.Estimate.Value-law.Estimate.Value) > .05 {
		t.Errorf("k fitted: %g, k given: %g", free.Estimate.Value, law.Estimate.Value)
	}
}
