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

// NotAbove returns the growth that a share of the courses does not exceed.
func (g Growth) NotAbove(share float64) float64 {
	if !g.Known() || g.Spread == 0 {
		return g.Value
	}
	return distuv.Normal{Mu: g.Value, Sigma: g.Spread}.Quantile(share)
}

// FitGrowth fits the pest's growth to the visits of a season. Each course grows
// evenly on the scale from a level of its own; growth differs from course to
// course as a normal distribution. family gives the field situation of a level.
//
// The likelihood is that of all counts, so that a stopping rule and visits that
// found nothing bias nothing, as they would if estimates of the visits were joined
// by a line. Where growth differs from course to course the interval is too narrow:
// see the record of recoveries.
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
