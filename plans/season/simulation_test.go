package season

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

var full = flag.Bool("full", false, "simulate 200,000 seasons")

// twoStages is a season with all that moves a field: stages with bounds and tables of
// their own, three classes, and a limit by what was found.
func twoStages() Season {
	longer := func(e rule.End, inStage int) int { // shorter the more was found and the older the stage
		return 7 - e.Total/e.Stop - inStage/4
	}
	quick := rule.Table{Units: 15, Leave: []int{0, 2, 9}, Act: []int{open, 9, 10}}
	careful := rule.Table{Units: 15, Leave: []int{-1, 1, 5, 14}, Act: []int{open, 12, 13, 15}}
	last := rule.Table{Units: 10, Leave: []int{-1, 2, 8}, Act: []int{6, 7, 9}}
	return Season{LastDay: 40, Lead: 2, Stages: []Stage{
		{Days: 24, Family: infested(.12), Lower: .08, Threshold: .14, Upper: .22, Effort: Effort{20, 2.5, .2}, Cuts: []float64{.06},
			Classes: []Class{{Table: quick, Interval: 8, Limit: longer}, {Table: careful, Interval: 5, Limit: longer}, {Table: careful, Interval: 4}}},
		{Family: infested(.2), Lower: .12, Threshold: .2, Upper: .3, Effort: Effort{20, 3, .1}, Cuts: []float64{.1},
			Classes: []Class{{Table: last, Interval: 7}, {Table: last, Interval: 4, Limit: longer}, {Table: careful, Interval: 3}}},
	}}
}

// signed is the season in which the verdict act also asks for a sign at two stops.
func signed() Season {
	s := twoStages()
	for i := range s.Stages {
		s.Stages[i].Sign = func(level float64) func(stop int) float64 {
			return func(stop int) float64 {
				none := math.Pow(1-signChance(level), float64(stop))
				return 1 - none - float64(stop)*signChance(level)*math.Pow(1-signChance(level), float64(stop-1))
			}
		}
	}
	return s
}

// signChance is the chance of the sign at a stop.
func signChance(level float64) float64 { return math.Min(1, .4+level) }

// walked is what one simulated season came to.
type walked struct {
	treated, early bool
	day            int
	visits, stops  float64
	minutes        float64
}

// simulate walks a field through a season stop by stop and plant by plant: each stop
// draws its own share from the beta distribution, and each plant is infested or not.
// It reads the tables and nothing else of the chain.
func simulate(s Season, level func(day int) float64, rho []float64, rng *rand.Rand) walked {
	sign := s.Stages[0].Sign != nil
	var w walked
	day := rng.IntN(s.Stages[0].Classes[0].Interval)
	found, class := false, 0
	for day <= s.LastDay {
		i, began := 0, 0
		if day >= s.Stages[0].Days && len(s.Stages) > 1 {
			i, began = 1, s.Stages[0].Days
		}
		st := s.Stages[i]
		c := st.Classes[class]
		p := level(day)
		total, stop, seen := 0, 0, 0
		verdict := rule.Continue
		for verdict == rule.Continue {
			share := p
			if p > 0 {
				share = distuv.Beta{Alpha: p * (1 - rho[i]) / rho[i], Beta: (1 - p) * (1 - rho[i]) / rho[i], Src: rng}.Rand()
			}
			for range c.Table.Units {
				if rng.Float64() < share {
					total++
				}
			}
			stop++
			if sign && rng.Float64() < signChance(p) {
				seen++
			}
			verdict = c.Table.Verdict(stop, total)
		}
		units := float64(stop * c.Table.Units)
		w.visits++
		w.stops += float64(stop)
		w.minutes += st.Effort.Visit + float64(stop)*st.Effort.Stop + units*st.Effort.Unit
		if verdict == rule.Act && (!sign || seen >= 2) {
			w.treated, w.early, w.day = true, p <= st.Lower, day
			return w
		}
		found = found || total > 0
		class = 0
		if found && len(st.Classes) > 1 {
			class = 1
			if len(st.Cuts) > 0 && float64(total) >= st.Cuts[0]*units-1e-9 {
				class = 2
			}
		}
		days := st.Classes[class].Interval
		if c.Limit != nil {
			days = max(1, min(days, c.Limit(rule.End{Stop: stop, Units: int(units), Total: total}, day-began)))
		}
		day += days
	}
	return w
}

// A chain must agree with seasons that are walked plant by plant, within their error.
func TestChainAgreesWithSimulation(t *testing.T) {
	n := 15000
	if *full {
		n = 200000
	}
	for _, c := range []struct {
		name   string
		season Season
		rho    []float64
		course Course
	}{
		{"two stages, growing", twoStages(), []float64{.12, .2}, Course{Start: .004, Growth: .14}},
		{"two stages, staying", twoStages(), []float64{.12, .2}, Course{Start: .07}},
		{"two stages, at the lower bounds", twoStages(), []float64{.12, .2}, Course{AtLower: true}},
		{"a sign, growing", signed(), []float64{.12, .2}, Course{Start: .004, Growth: .14}},
		{"a sign, staying", signed(), []float64{.12, .2}, Course{Start: .09}},
		{"one stage, growing", weekly(sevenRows, 49), []float64{.12}, Course{Start: .005, Growth: .15}},
	} {
		p := mustFollow(t, c.season, c.course)
		rng := rand.New(rand.NewPCG(7, 11))
		level := func(day int) float64 {
			if c.course.AtLower {
				if day < c.season.Stages[0].Days {
					return c.season.Stages[0].Lower
				}
				return c.season.Stages[1].Lower
			}
			x := math.Log(c.course.Start/(1-c.course.Start)) + c.course.Growth*float64(day)
			return 1 / (1 + math.Exp(-x))
		}
		var got [7][]float64
		for range n {
			w := simulate(c.season, level, c.rho, rng)
			is := func(b bool) float64 {
				if b {
					return 1
				}
				return 0
			}
			day := c.season.LastDay + 1
			if w.treated {
				day = w.day
			}
			delay := math.Max(0, float64(day+c.season.Lead)-p.AfterUpper.Day)
			late := !w.treated && !p.AfterUpper.unreached() || delay > 3
			for i, x := range []float64{is(w.treated), is(w.early), w.visits, w.stops, w.minutes, delay, is(late)} {
				got[i] = append(got[i], x)
			}
		}
		want := []float64{p.Treated, p.Early, p.Visits, p.Stops, p.Minutes, p.AfterUpper.Expected(), p.AfterUpper.Later(3)}
		for i, name := range []string{"treated", "early", "visits", "stops", "minutes", "days after upper", "late"} {
			mean, ss := 0.0, 0.0
			for _, x := range got[i] {
				mean += x / float64(n)
			}
			for _, x := range got[i] {
				ss += (x - mean) * (x - mean)
			}
			se := math.Sqrt(ss) / float64(n)
			// Four standard errors: one of the 42 comparisons fails by chance once in 300 seeds.
			if math.Abs(mean-want[i]) > 4*se+1e-9 {
				t.Errorf("%s: %s: simulated %.5f (standard error %.5f), chain %.5f", c.name, name, mean, se, want[i])
			}
		}
	}
}

// The habit of risks for each visit, and a plan and intervals chosen together. The
// results were computed outside the project, for the project's straight lines of 10 and
// 5% (from the third stop on) and of 1 and 10% (from the second).
func TestScenarioOfTheSeason(t *testing.T) {
	lines := func(minimum int, leave, act []int) rule.Table {
		t := rule.Table{Units: 15, Leave: leave, Act: act}
		for j := range minimum - 1 {
			t.Leave[j], t.Act[j] = -1, open
		}
		return t
	}
	for _, c := range []struct {
		table             rule.Table
		until, once       int
		needless, late    float64
		minutes, rounding float64
	}{
		{lines(3, []int{0, 0, 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23, 26, 28, 30, 32, 34, 36, 38, 40, 42, 44, 46, 52},
			[]int{0, 0, 10, 12, 14, 16, 18, 21, 23, 25, 27, 29, 31, 33, 35, 37, 39, 41, 43, 45, 47, 49, 51, 53, 53, 53}), 6, 3, .81, .005, 196, .5},
		{lines(2, []int{0, 0, 2, 4, 6, 8, 10, 12, 14, 17, 19, 21, 23, 25, 27, 29, 31, 34, 36, 38, 40, 42, 44, 46, 48, 55},
			[]int{0, 15, 17, 19, 21, 23, 25, 27, 29, 31, 34, 36, 38, 40, 42, 44, 46, 48, 51, 53, 55, 56, 56, 56, 56, 56}), 10, 4, .107, .098, 105, .5},
	} {
		p := scenario(2, true)
		s := p.layout(schedule{intervals: [3]int{c.until, c.once}}, []rule.Table{c.table}, 0)
		minutes := 0.0
		for _, f := range p.fields() {
			minutes += f.weight * mustFollow(t, s, f.course).Minutes
		}
		needless := mustFollow(t, s, Course{AtLower: true}).Treated
		late := mustFollow(t, s, Course{Start: .004, Growth: .12}).AfterUpper.Later(3)
		if math.Abs(needless-c.needless) > .005 || math.Abs(late-c.late) > .0005 || math.Abs(minutes-c.minutes) > c.rounding {
			t.Errorf("every %d and %d days: needless %.4f, late %.4f, %.2f minutes; want %g, %g, %g", c.until, c.once, needless, late, minutes, c.needless, c.late, c.minutes)
		}
	}
}

func means(k float64) func(float64) sampling.Population {
	return func(m float64) sampling.Population { return sampling.Counts{Mean: m, K: k} }
}

// Means grow as e^(rd): ln(16/0.5)/0.2 = 17.33 days from 0.5 to 16.
func TestMeans(t *testing.T) {
	table := rule.Table{Units: 10, Leave: []int{30, 90, 300}, Act: []int{200, 300, 301}}
	s := Season{LastDay: 60, Means: true, Stages: []Stage{{Family: means(.8), Lower: 6, Threshold: 10, Upper: 16,
		Classes: []Class{{Table: table, Interval: 6}, {Table: table, Interval: 3}}}}}
	p := mustFollow(t, s, Course{Start: .5, Growth: .2})
	near(t, "upper day", p.AfterUpper.Day, math.Log(32)/.2)
	near(t, "treated", p.Treated, 1)
	clean := mustFollow(t, s, Course{})
	near(t, "clean treated", clean.Treated, 0)
}

// A table that hardly ever says act: the lateness of fields that are never treated is
// known without a sum. logit(.25) - logit(.005) = 4.19470 at .15 a day.
func TestFieldsNeverTreated(t *testing.T) {
	leave := rule.Table{Units: 20, Leave: []int{20}, Act: []int{21}}
	s := weekly(leave, 42)
	s.Lead = 2
	p := mustFollow(t, s, Course{Start: .005, Growth: .15})
	near(t, "treated", p.Treated, 0)
	near(t, "late", p.AfterUpper.Later(3), 1)
	near(t, "days", p.AfterUpper.Expected(), 43+2-27.964616907)
	if q := p.AfterUpper.Quantile(.9); !math.IsInf(q, 1) {
		t.Errorf("nine of ten fields are treated within %g days; none is", q)
	}
	// One that does not reach the bound in the season cannot be late.
	p = mustFollow(t, weekly(leave, 27), Course{Start: .005, Growth: .15})
	near(t, "late", p.AfterUpper.Later(3), 0)
	near(t, "days", p.AfterUpper.Expected(), 0)
	if q := mustFollow(t, weekly(fourStops, 400), Course{Start: .005, Growth: .15}, 0).AfterUpper.Quantile(.9); !(q >= 2 && q < 4.1) {
		t.Errorf("90%% within %g days, though 19%% are later than 2 and the interval is 4", q)
	}
}

// The days of a path add up to it, and paths over the first days to their average.
func TestDaysAddUp(t *testing.T) {
	s := twoStages()
	p := mustFollow(t, s, Course{Start: .004, Growth: .14})
	var sum Day
	for _, d := range p.Days {
		sum.Visits += d.Visits
		sum.Stops += d.Stops
		sum.Units += d.Units
		sum.Minutes += d.Minutes
		sum.Treated += d.Treated
	}
	near(t, "visits", sum.Visits, p.Visits)
	near(t, "stops", sum.Stops, p.Stops)
	near(t, "units", sum.Units, p.Units)
	near(t, "minutes", sum.Minutes, p.Minutes)
	near(t, "treated", sum.Treated, p.Treated)
	visits := 0.0
	for d := range 8 {
		visits += mustFollow(t, s, Course{Start: .004, Growth: .14}, d).Visits / 8
	}
	near(t, "visits over first days", p.Visits, visits)
}
