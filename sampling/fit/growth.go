package fit

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

// Growth is how fast the pest grew in fields that were visited again and again:
// by so much a day on the scale, logit share or ln mean.
type Growth struct {
	// Courses carry it: two visits on different days, and the pest found.
	Fields, Courses, Visits int

	// Estimate is the mean over the courses, by the likelihood of all counts, with
	// its profile-likelihood interval.
	Estimate

	// Spread is the standard deviation of growth from course to course, at the
	// estimate; 0 where one growth suits all.
	Spread float64

	// Same tests the hypothesis that one growth holds in all courses, against a
	// spread. It is on the edge of what can be, so that its chance is half of that of
	// chi-square (Self, S.G. & Liang, K.-Y. 1987, J. Am. Stat. Assoc. 82: 605-610).
	Same Test

	logLik  []float64 // by growth on the grid
	spreads []float64
	one     []float64 // with one growth in all courses
}

// Faster returns the share of courses that grow faster than a value.
func (g Growth) Faster(than float64) float64 {
	switch {
	case !g.Known():
		return math.NaN()
	case g.Spread > 0:
		return distuv.Normal{Mu: g.Value, Sigma: g.Spread}.Survival(than)
	case g.Value > than:
		return 1
	}
	return 0
}

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

var spreads = []float64{0, 0.015, 0.03, 0.06, 0.1}

// FitGrowth fits the pest's growth to the visits of a season. Each course grows
// evenly on the scale from a level of its own; growth differs from course to
// course as a normal distribution. family gives the field situation of a level.
//
// The likelihood is that of all counts, so that a stopping rule and visits that
// found nothing bias nothing, as they would if estimates of the visits were joined
// by a line.
func FitGrowth(visits []Visit, scale Scale, family func(level float64) sampling.Population, confidence float64) (Growth, error) {
	var out Growth
	if err := checkConfidence(confidence); err != nil {
		return out, err
	}
	set, err := newVisitSet(visits)
	if err != nil {
		return out, err
	}
	courses := coursesOf(visits)
	fields := map[int]bool{}
	for _, c := range courses {
		if c.tells(visits) {
			out.Courses++
			out.Visits += len(c.visits)
			fields[visits[c.visits[0]].Field] = true
		}
	}
	if out.Fields = len(fields); out.Courses < fewestCourses {
		out.Estimate = missing("growth needs %d fields with the pest that were visited on two days; here %s", fewestCourses, has(out.Courses))
		out.Same, out.Spread = noTest("%s", out.Missing), math.NaN()
		return out, nil
	}
	var levels []float64
	for x := scale.low; x <= scale.high; x += levelStep {
		levels = append(levels, scale.level(x))
	}
	g := newGrowthGrid(courses, set, set.logLiks(levels, family), scale)
	g.profile()
	out.fromGrid(g)
	out.estimate(confidence)
	return out, nil
}

func has(n int) string {
	if n == 1 {
		return "is 1"
	}
	return fmt.Sprintf("are %d", n)
}

// PoolGrowth returns the growth of several sets of courses, such as those in each
// stage, and the likelihood-ratio test that the sets share it.
func PoolGrowth(sets []Growth, confidence float64) (Growth, Test, error) {
	var out Growth
	if err := checkConfidence(confidence); err != nil {
		return out, Test{}, err
	}
	apart, used := 0.0, 0
	for _, s := range sets {
		if !s.Known() {
			continue
		}
		if used++; used == 1 {
			out.logLik, out.spreads, out.one = slices.Clone(s.logLik), slices.Clone(s.spreads), slices.Clone(s.one)
		} else {
			floats.Add(out.logLik, s.logLik)
			floats.Add(out.one, s.one)
			for i, spread := range s.spreads {
				out.spreads[i] = math.Max(out.spreads[i], spread)
			}
		}
		apart += floats.Max(s.logLik)
		out.Courses, out.Visits, out.Fields = out.Courses+s.Courses, out.Visits+s.Visits, max(out.Fields, s.Fields)
	}
	if used == 0 {
		out.Estimate = missing("no stage has fields enough with the pest that were visited on two days")
		out.Same, out.Spread = noTest("%s", out.Missing), math.NaN()
		return out, out.Same, nil
	}
	out.estimate(confidence)
	same := noTest("there is one stage that says anything")
	if used > 1 {
		same = chiSquareTest(2*(apart-floats.Max(out.logLik)), used-1)
	}
	return out, same, nil
}

func coursesOf(visits []Visit) []fieldCourse {
	index := map[int]int{}
	var out []fieldCourse
	for i, v := range visits {
		c, known := index[v.Course]
		if !known {
			c = len(out)
			index[v.Course] = c
			out = append(out, fieldCourse{})
		}
		out[c].visits = append(out[c].visits, i)
	}
	for i := range out {
		c := &out[i]
		slices.SortStableFunc(c.visits, func(a, b int) int {
			switch d := visits[a].Day - visits[b].Day; {
			case d < 0:
				return -1
			case d > 0:
				return 1
			}
			return 0
		})
		for _, v := range c.visits {
			c.after = append(c.after, visits[v].Day-visits[c.visits[0]].Day)
		}
	}
	return out
}

// A fieldCourse is the visits of a course by day, and how many days after the
// first each was.
type fieldCourse struct {
	visits []int
	after  []float64
}

func (c fieldCourse) tells(visits []Visit) bool {
	return c.after[len(c.after)-1] > 0 && slices.ContainsFunc(c.visits, func(i int) bool { return visits[i].found() })
}

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

// fromGrid takes over the log-likelihood, interpolated where it was not looked at.
func (g *Growth) fromGrid(grid *growthGrid) {
	var x, value, one []float64
	at := map[int]float64{}
	for i, slope := range grid.slopes {
		if p, known := grid.best[i]; known {
			x, value, one = append(x, slope), append(value, p.value), append(one, p.one)
			at[i] = p.spread
		}
	}
	var whole, single interp.AkimaSpline
	if err := errors.Join(whole.Fit(x, value), single.Fit(x, one)); err != nil {
		panic(err) // the grid ascends
	}
	spread := 0.0
	for i, slope := range grid.slopes {
		slope = math.Max(x[0], math.Min(x[len(x)-1], slope))
		g.logLik, g.one = append(g.logLik, whole.Predict(slope)), append(g.one, single.Predict(slope))
		if s, known := at[i]; known {
			spread = s
		}
		g.spreads = append(g.spreads, spread)
	}
}

// estimate finds the highest log-likelihood and its interval.
func (g *Growth) estimate(confidence float64) {
	slopes := growthSlopes()
	var spline interp.AkimaSpline
	if err := spline.Fit(slopes, g.logLik); err != nil {
		panic(err) // the grid ascends
	}
	at, last := floats.MaxIdx(g.logLik), len(slopes)-1
	g.Estimate = Estimate{Value: slopes[at], SE: math.NaN(), Lower: slopes[0], Upper: slopes[last]}
	if at > 0 && at < last {
		g.Value = zero(spline.PredictDerivative, slopes[at-1], slopes[at+1])
	}
	level := spline.Predict(g.Value) - chiSquare1(confidence)/2
	above := func(slope float64) float64 { return spline.Predict(slope) - level }
	for i := at; i >= 0; i-- {
		if g.logLik[i] < level {
			g.Lower = zero(above, slopes[i], g.Value)
			break
		}
	}
	for i := at; i <= last; i++ {
		if g.logLik[i] < level {
			g.Upper = zero(above, g.Value, slopes[i])
			break
		}
	}
	g.Spread = g.spreads[at]
	g.Same = chiSquareTest(2*(g.logLik[at]-floats.Max(g.one)), 1)
	g.Same.P /= 2
}
