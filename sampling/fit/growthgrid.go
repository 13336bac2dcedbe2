package fit

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// The grid of growth a day, of its spread over fields, and of levels.
const (
	slopeLow, slopeHigh, slopeStep = -0.30, 0.60, 0.005
	levelStep                      = 0.1
	startStep                      = 0.25
)

func growthSlopes() (slopes []float64) {
	for i := range int(math.Round((slopeHigh-slopeLow)/slopeStep)) + 1 {
		slopes = append(slopes, slopeLow+float64(i)*slopeStep)
	}
	return slopes
}

// fewestCourses show how growth differs from field to field.
const fewestCourses = 3

var spreads = []float64{0, 0.015, 0.03, 0.045, 0.06, 0.08, 0.1, 0.13}

// A growthGrid holds the log-likelihood of every course at every start and growth.
type growthGrid struct {
	slopes []float64
	at     [][][]float64 // by course, start and slope
	rel    [][][]float64 // the likelihood, against the highest of the start
	top    [][]float64   // that highest
	mix    mixture
	best   map[int]profiled // by slope
}

type profiled struct {
	value, one, spread float64 // one is with the same growth in all fields
}

func newGrowthGrid(courses []fieldCourse, set *visitSet, logLiks [][]float64, scale Scale) *growthGrid {
	g := &growthGrid{slopes: growthSlopes(), best: map[int]profiled{}}
	var starts []float64
	for x := scale.low; x <= scale.high; x += startStep {
		starts = append(starts, x)
	}
	last := float64(len(logLiks[0]) - 1)
	for _, c := range courses {
		at := make([][]float64, len(starts))
		for i, start := range starts {
			at[i] = make([]float64, len(g.slopes))
			for j, slope := range g.slopes {
				for v, after := range c.after {
					u := math.Max(0, math.Min(last, (start+slope*after-scale.low)/levelStep))
					k := min(int(u), len(logLiks[0])-2)
					ll := logLiks[set.of[c.visits[v]]]
					part := u - float64(k)
					at[i][j] += ll[k]*(1-part) + ll[k+1]*part
				}
			}
		}
		rel, top := make([][]float64, len(starts)), make([]float64, len(starts))
		for i, bySlope := range at {
			top[i] = floats.Max(bySlope)
			rel[i] = make([]float64, len(bySlope))
			for j, ll := range bySlope {
				rel[i][j] = math.Exp(ll - top[i])
			}
		}
		g.at, g.rel, g.top = append(g.at, at), append(g.rel, rel), append(g.top, top)
	}
	return g
}

// value returns the log-likelihood where growth has a mean, by its place on the
// grid, and a spread over fields.
func (g *growthGrid) value(mean int, spread float64) float64 {
	weights := make([]float64, len(g.slopes))
	from, to := mean, mean+1
	weights[mean] = 1
	if spread > 0 {
		reach := int(math.Ceil(3.5 * spread / slopeStep))
		from, to = max(0, mean-reach), min(len(g.slopes), mean+reach+1)
		for i := from; i < to; i++ {
			z := (g.slopes[i] - g.slopes[mean]) / spread
			weights[i] = math.Exp(-z * z / 2)
		}
		floats.Scale(1/floats.Sum(weights), weights)
	}
	cases := make([][]float64, len(g.at))
	times := make([]float64, len(g.at))
	for c, at := range g.at {
		times[c] = 1
		cases[c] = make([]float64, len(at))
		for i, bySlope := range at {
			if spread == 0 {
				cases[c][i] = bySlope[mean]
				continue
			}
			sum := floats.Dot(weights[from:to], g.rel[c][i][from:to])
			if sum < 1e-290 { // too far from the highest to tell, so the nearest counts alone
				cases[c][i] = floats.Max(bySlope[from:to])
				continue
			}
			cases[c][i] = g.top[c][i] + math.Log(sum)
		}
	}
	return g.mix.fit(cases, times)
}

// look finds the best spread for a mean growth.
func (g *growthGrid) look(mean int) profiled {
	if p, known := g.best[mean]; known {
		return p
	}
	p := profiled{value: math.Inf(-1)}
	for _, spread := range spreads {
		v := g.value(mean, spread)
		if spread == 0 {
			p.one = v
		}
		if v > p.value {
			p.value, p.spread = v, spread
		} else if v < p.value-1 {
			break
		}
	}
	g.best[mean] = p
	return p
}

// profile looks at every eighth growth, and at all around the highest.
func (g *growthGrid) profile() {
	const coarse = 8
	highest, top := math.Inf(-1), 0
	for i := 0; i < len(g.slopes); i += coarse {
		if p := g.look(i); p.value > highest {
			highest, top = p.value, i
		}
	}
	for _, by := range []int{-1, 1} {
		for i := top; i >= 0 && i < len(g.slopes); i += by {
			p := g.look(i)
			highest = math.Max(highest, p.value)
			if p.value < highest-6 {
				break
			}
		}
	}
}
