package fit

import (
	"flag"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/gonum/stat"
)

var recovery = flag.Bool("recovery", false, "fit 2,000 simulated data sets of known constants for each case, and judge the coverage of the intervals (minutes)")

var only = flag.String("only", "", "with -recovery: the cases with this in their name")

// repeats is how many data sets are made for each case. With 95% coverage the
// share of intervals that hold the truth has a standard error of 0.5%.
const repeats = 2000

type recoveryCase struct {
	name  string
	truth float64
	fit   func(r *rand.Rand) Estimate
	// judged is false for estimates that are known to miss, and are shown for
	// comparison.
	judged bool
	// costly divides the number of repeats, for estimates that take long.
	costly int
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func pilotShares(fields int) []float64 {
	p := make([]float64, fields)
	for i := range p {
		p[i] = 0.03 + 0.42*float64(i)/float64(max(fields-1, 1))
	}
	return p
}

func drawPilot(r *rand.Rand, fields, stops int, rho float64) PooledRho {
	var data [][]StopCount
	for _, p := range pilotShares(fields) {
		data = append(data, drawStops(r, stops, 20, p, rho))
	}
	return must(FitPooledRho(data, 0.95))
}

// drawSparse draws fields at 2 to 5% infested.
func drawSparse(r *rand.Rand, rho float64) PooledRho {
	var data [][]StopCount
	for i := range 20 {
		data = append(data, drawStops(r, 6, 10, 0.02+0.03*float64(i)/19, rho))
	}
	return must(FitPooledRho(data, 0.95))
}

// drawLine returns points about a line: fields whose variance scatters about
// Taylor's law, mean crowding about Iwao's, or mean about the tally model.
func drawLine(r *rand.Rand, fields int, low, high, a, b, sd float64) (x, y []float64) {
	for i := range fields {
		v := low + (high-low)*float64(i)/float64(fields-1)
		x, y = append(x, v), append(y, a+b*v+sd*r.NormFloat64())
	}
	return x, y
}

func drawTaylor(r *rand.Rand) Taylor {
	x, y := drawLine(r, 14, math.Log(2), math.Log(150), math.Log(4), 1.6, 0.3)
	var f []MeanVariance
	for i := range x {
		f = append(f, MeanVariance{math.Exp(x[i]), math.Exp(y[i])})
	}
	return must(FitTaylor(f, 0.95))
}

// drawTaylorCounts draws leaves, and so has error in the means as well.
func drawTaylorCounts(r *rand.Rand, fields, leaves int) Taylor {
	var f []MeanVariance
	for i := range fields {
		m := math.Exp(math.Log(2) + math.Log(75)*float64(i)/float64(fields-1))
		c := drawCounts(r, leaves, m, m*m/(4*math.Pow(m, 1.6)-m))
		f = append(f, MeanVariance{c.Mean(), c.Variance()})
	}
	return must(FitTaylor(f, 0.95))
}

func drawIwao(r *rand.Rand) Iwao {
	x, y := drawLine(r, 14, 2, 150, 3, 1.8, 4)
	var f []MeanVariance
	for i := range x {
		f = append(f, MeanVariance{x[i], (y[i] - x[i] + 1) * x[i]})
	}
	return must(FitIwao(f, 0.95))
}

func drawTally(r *rand.Rand) TallyModel {
	x, y := drawLine(r, 14, -3, 0.8, 4.7, 1.05, 0.2)
	var f []TallyPoint
	for i := range x {
		f = append(f, TallyPoint{Mean: math.Exp(y[i]), Share: -math.Expm1(-math.Exp(x[i])), Plants: 240})
	}
	return must(FitTally(50, f, 0.95))
}

func drawCommonK(r *rand.Rand, k float64) CommonK {
	var data []Counts
	for i := range 10 {
		data = append(data, drawCounts(r, 80, 1.5+2*float64(i), k))
	}
	return must(FitCommonK(data, 0.95))
}

var recoveryCases = []recoveryCase{
	{"rho, 14 fields of 12 stops, adjusted", 0.10, func(r *rand.Rand) Estimate { return drawPilot(r, 14, 12, 0.10).Adjusted }, true, 1},
	{"rho, 14 fields of 12 stops, maximum likelihood", 0.10, func(r *rand.Rand) Estimate { return drawPilot(r, 14, 12, 0.10).ML }, false, 1},
	{"rho, 6 fields of 8 stops, adjusted", 0.10, func(r *rand.Rand) Estimate { return drawPilot(r, 6, 8, 0.10).Adjusted }, true, 1},
	{"rho, 6 fields of 8 stops, maximum likelihood", 0.10, func(r *rand.Rand) Estimate { return drawPilot(r, 6, 8, 0.10).ML }, false, 1},
	{"rho .03, 14 fields of 12 stops, adjusted", 0.03, func(r *rand.Rand) Estimate { return drawPilot(r, 14, 12, 0.03).Adjusted }, true, 1},
	{"rho .30, 14 fields of 12 stops, adjusted", 0.30, func(r *rand.Rand) Estimate { return drawPilot(r, 14, 12, 0.30).Adjusted }, true, 1},
	{"rho, one field of 20 stops, maximum likelihood", 0.10, func(r *rand.Rand) Estimate { return must(FitRho(drawStops(r, 20, 20, 0.25, 0.10), 0.95)).ML }, true, 1},
	{"rho, one field of 12 stops, maximum likelihood", 0.10, func(r *rand.Rand) Estimate { return must(FitRho(drawStops(r, 12, 20, 0.25, 0.10), 0.95)).ML }, false, 1},
	{"k, one field of 150 leaves", 1.0, func(r *rand.Rand) Estimate { return must(FitK(drawCounts(r, 150, 1.15, 1), 0.95)).ML }, true, 1},
	{"k, 10 fields of 80 leaves, maximum likelihood", 0.8, func(r *rand.Rand) Estimate { return drawCommonK(r, 0.8).ML }, true, 1},
	{"k, 10 fields of 80 leaves, Bliss and Owen", 0.8, func(r *rand.Rand) Estimate { return drawCommonK(r, 0.8).BlissOwen }, false, 1},
	{"Taylor a, 14 fields about the law", 4, func(r *rand.Rand) Estimate { return drawTaylor(r).A }, true, 1},
	{"Taylor b, 14 fields about the law", 1.6, func(r *rand.Rand) Estimate { return drawTaylor(r).B }, true, 1},
	{"Taylor a, 14 fields of 480 leaves counted", 4, func(r *rand.Rand) Estimate { return drawTaylorCounts(r, 14, 480).A }, false, 1},
	{"Taylor b, 14 fields of 480 leaves counted", 1.6, func(r *rand.Rand) Estimate { return drawTaylorCounts(r, 14, 480).B }, false, 1},
	{"Iwao A, 14 fields about the line", 3, func(r *rand.Rand) Estimate { return drawIwao(r).A }, true, 1},
	{"Iwao B, 14 fields about the line", 1.8, func(r *rand.Rand) Estimate { return drawIwao(r).B }, true, 1},
	{"tally c, 14 fields about the line", 4.7, func(r *rand.Rand) Estimate { return drawTally(r).C }, true, 1},
	{"tally d, 14 fields about the line", 1.05, func(r *rand.Rand) Estimate { return drawTally(r).D }, true, 1},
	{"sparse rho .05, 20 fields of 6 stops of 10 plants, Sparse", 0.05, func(r *rand.Rand) Estimate { return drawSparse(r, .05).Sparse }, true, 10},
	{"sparse rho .05, 20 fields of 6 stops of 10 plants, Adjusted", 0.05, func(r *rand.Rand) Estimate { return drawSparse(r, .05).Adjusted }, false, 10},
	{"sparse rho .05, 20 fields of 6 stops of 10 plants, ANOVA", 0.05, func(r *rand.Rand) Estimate { return drawSparse(r, .05).ANOVA }, false, 10},
	{"sparse rho .2, 20 fields of 6 stops of 10 plants, Sparse", 0.2, func(r *rand.Rand) Estimate { return drawSparse(r, .2).Sparse }, true, 10},
	{"sparse rho .2, 20 fields of 6 stops of 10 plants, Adjusted", 0.2, func(r *rand.Rand) Estimate { return drawSparse(r, .2).Adjusted }, false, 10},
	{"sparse rho .2, 20 fields of 6 stops of 10 plants, ANOVA", 0.2, func(r *rand.Rand) Estimate { return drawSparse(r, .2).ANOVA }, false, 10},
	{"correlation of counts, 10 fields of 10 stops of 6 leaves", 0.2, func(r *rand.Rand) Estimate { return drawCountRho(r, 10, 10, 6, 1, 8, .8, .2).Estimate }, true, 10},
	{"k fitted along with it, 10 fields of 10 stops of 6 leaves", 0.8, func(r *rand.Rand) Estimate { return drawCountRho(r, 10, 10, 6, 1, 8, .8, .2).KInterval }, true, 10},
	{"correlation of counts, 8 fields of 8 stops of 10 leaves", 0.08, func(r *rand.Rand) Estimate { return drawCountRho(r, 8, 8, 10, 1, 20, .8, .08).Estimate }, true, 20},
	{"correlation of counts, one field of 20 stops of 8 leaves", 0.2, func(r *rand.Rand) Estimate { return drawCountRho(r, 1, 20, 8, 5, 5, .8, .2).Estimate }, false, 20},
}

// TestRecovery is run with -recovery; without it each case is run for a few
// repeats, so that a fault shows early; the costly ones are left out.
func TestRecovery(t *testing.T) {
	for i, c := range recoveryCases {
		if *only != "" && !strings.Contains(c.name, *only) {
			continue
		}
		n := 20
		if c.costly > 1 {
			n = 0
		}
		if *recovery {
			n = repeats / c.costly
		}
		if n == 0 {
			continue
		}
		estimates := repeat(n, uint64(1000+i), c.fit)
		held, below, above, known := 0.0, 0.0, 0.0, []float64{}
		for _, e := range estimates {
			switch {
			case c.truth < e.Lower:
				above++
			case c.truth > e.Upper:
				below++
			default:
				held++
			}
			if e.Known() {
				known = append(known, e.Value)
			}
		}
		coverage := held / float64(n)
		mean, sd := stat.MeanStdDev(known, nil)
		t.Logf("%-48s true %-5g mean %.4f (bias %+.4f, se %.4f), sd %.4f, coverage %.2f%% (too high %.1f%%, too low %.1f%%), no value %d",
			c.name, c.truth, mean, mean-c.truth, sd/math.Sqrt(float64(len(known))), sd, 100*coverage, 100*above/float64(n), 100*below/float64(n), n-len(known))
		slack := math.Max(0, 2.5*math.Sqrt(0.05*0.95/float64(n))-0.0122) // none at 2,000 repeats, more with fewer
		if *recovery && c.judged && (coverage < 0.93-slack || coverage > 0.97+slack) {
			t.Errorf("%s: the 95%% interval holds the truth in %.2f%% of the repeats", c.name, 100*coverage)
		}
		// Of 20 intervals fewer than 12 hold the truth with a chance below 1e-5
		// if each does so with 93%.
		if !*recovery && c.judged && n == 20 && held < 12 {
			t.Errorf("%s: %g of %d intervals hold the truth", c.name, held, n)
		}
	}
}

// repeat makes n estimates, each with its own stream of random numbers, so that
// the outcome is the same with any number of workers.
func repeat(n int, seed uint64, fit func(*rand.Rand) Estimate) []Estimate {
	out := make([]Estimate, n)
	inParallel(n, func(i int) { out[i] = fit(rand.New(rand.NewPCG(seed, uint64(i)))) })
	return out
}

func inParallel(n int, do func(i int)) {
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				do(i)
			}
		})
	}
	wg.Wait()
}
