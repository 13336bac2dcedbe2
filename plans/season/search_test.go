package season

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"stopwise/plans/rule"
)

// scenario is the invented region that the outside computations were made for.
func scenario(classes int, oneTable bool) Problem {
	return Problem{
		Season: Season{LastDay: 49, Lead: 1, Stages: []Stage{{Lower: .08, Threshold: .14, Upper: .22, Effort: Effort{Stop: 2.5, Unit: .2}}}},
		Walks:  []Walk{{15, 1, 26}}, Worlds: []World{{infested(.12)}},
		Mix: Mix{.5, .3, .03, .2}, Growth: Growth{.004, .12, .12}, Promise: Promise{.15, .10, 3},
		Classes: classes, OneTable: oneTable, LongestInterval: 14,
	}
}

// small is a problem that is searched quickly: a short season of two stages, with a
// range of clumping and of growth.
func small() Problem {
	return Problem{
		Season: Season{LastDay: 34, Lead: 1, Stages: []Stage{
			{Days: 20, Lower: .08, Threshold: .14, Upper: .22, Effort: Effort{20, 2.5, .2}},
			{Lower: .12, Threshold: .2, Upper: .3, Effort: Effort{20, 2.5, .2}},
		}},
		Walks: []Walk{{15, 1, 6}, {15, 2, 6}}, Worlds: []World{{infested(.04), infested(.04)}, {infested(.1), infested(.1)}},
		Mix: Mix{.5, .3, .03, .2}, Growth: Growth{.006, .12, .15}, Promise: Promise{.3, .25, 3},
		Classes: 2, OneTable: true, LongestInterval: 14,
	}
}

// promised fails the test unless the plan does what it says, by chains made anew.
func promised(t *testing.T, p Problem, got *Plan) {
	t.Helper()
	needless, late := 0.0, 0.0
	for _, w := range p.Worlds {
		s := got.Season
		s.Stages = append([]Stage(nil), s.Stages...)
		for i := range s.Stages {
			s.Stages[i].Family = w[i]
		}
		needless = max(needless, mustFollow(t, s, Course{AtLower: true}).Treated)
		for _, g := range []float64{p.Growth.Low, p.Growth.High} {
			late = max(late, mustFollow(t, s, Course{Start: p.Growth.Start, Growth: g}).AfterUpper.Later(p.Promise.LateDays))
		}
	}
	near(t, "needless", got.Needless, needless)
	near(t, "late", got.Late, late)
	if kept := needless <= p.Promise.Needless+1e-9 && late <= p.Promise.Late+1e-9; kept != got.Kept {
		t.Errorf("says kept %v: needless %g, late %g", got.Kept, needless, late)
	}
	minutes := p.Mix.Clean*mustFollow(t, got.Season, Course{}).Minutes +
		p.Mix.Staying*mustFollow(t, got.Season, Course{Start: p.Mix.StayingLevel}).Minutes +
		p.Mix.Growing*mustFollow(t, got.Season, Course{Start: p.Growth.Start, Growth: (p.Growth.Low + p.Growth.High) / 2}).Minutes
	near(t, "minutes", got.Minutes, minutes)
}

func TestSearchKeepsPromises(t *testing.T) {
	p := small()
	told := 0
	p.Progress = func(int, float64) { told++ }
	got, err := Search(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	if !got.Kept || told == 0 {
		t.Errorf("kept %v, told %d times of progress", got.Kept, told)
	}
	promised(t, p, got)
	t.Logf("%.1f minutes, needless %.3f, late %.3f, %d schedules", got.Minutes, got.Needless, got.Late, got.Tried)
}

// The numbers to reach were found outside the project with straight lines and a coarse
// grid: 105 minutes with one table, 98 with two, 87 with three by the class of the last
// visit. A search over all numbers of the tables must do better with three.
func TestSearchOfTheScenario(t *testing.T) {
	if !*full {
		t.Skip("takes seconds; run with -full")
	}
	for _, c := range []struct {
		p    Problem
		most float64
	}{{scenario(2, true), 105}, {scenario(2, false), 98}, {scenario(3, false), 80}} {
		got, err := Search(t.Context(), c.p)
		if err != nil {
			t.Fatal(err)
		}
		promised(t, c.p, got)
		if !got.Kept || got.Minutes > c.most {
			t.Errorf("kept %v in %.2f minutes, want at most %g", got.Kept, got.Minutes, c.most)
		}
		for _, cl := range got.Season.Stages[0].Classes {
			t.Logf("%.2f minutes, cut %v: every %d days %v", got.Minutes, got.Season.Stages[0].Cuts, cl.Interval, cl.Table)
		}
	}
}

// With given tables the search is over all intervals: none that keeps the promises needs
// fewer minutes.
func TestSearchOfIntervals(t *testing.T) {
	p := scenario(2, true)
	p.LongestInterval = 9
	p.Promise = Promise{.6, .3, 3}
	table := rule.Table{Units: 15, Leave: []int{-1, 0, 2, 4, 6, 12}, Act: []int{open, 13, 13, 13, 13, 13}}
	p.Tables = []rule.Table{table}
	got, err := Search(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	promised(t, p, got)
	least := math.Inf(1)
	for a := 1; a <= 9; a++ {
		for b := 1; b <= a; b++ {
			s := p.layout(schedule{intervals: [3]int{a, b}}, p.Tables, 0)
			if mustFollow(t, s, Course{AtLower: true}).Treated > .6 || mustFollow(t, s, Course{Start: .004, Growth: .12}).AfterUpper.Later(3) > .3 {
				continue
			}
			minutes := 0.0
			for _, f := range p.fields() {
				minutes += f.weight * mustFollow(t, s, f.course).Minutes
			}
			least = min(least, minutes)
		}
	}
	if !got.Kept {
		t.Fatalf("not kept: needless %g, late %g", got.Needless, got.Late)
	}
	near(t, "least minutes", got.Minutes, least)
}

// A season in means: the sweep treats totals without a largest value.
func TestSearchOfMeans(t *testing.T) {
	p := small()
	p.Season.Means = true
	p.Season.Stages = []Stage{{Lower: 3, Threshold: 5, Upper: 8, Effort: Effort{20, 2.5, .2}}}
	p.Walks, p.Worlds = []Walk{{5, 1, 4}}, []World{{means(1)}}
	p.Mix.StayingLevel, p.Growth = 1, Growth{.2, .15, .15}
	p.Promise = Promise{.4, .3, 3}
	got, err := Search(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	promised(t, p, got)
	t.Logf("%.1f minutes, needless %.3f, late %.3f, %d schedules", got.Minutes, got.Needless, got.Late, got.Tried)
}

func TestSearchSaysWhatCannotBeKept(t *testing.T) {
	p := small()
	p.Promise = Promise{.001, .001, 0}
	p.Intervals = []int{7, 4}
	got, err := Search(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	if got.Kept || got.Hindrance == "" {
		t.Errorf("kept %v, hindrance %q", got.Kept, got.Hindrance)
	}
	promised(t, p, got)
}

func TestSearchStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	p := small()
	p.Progress = func(int, float64) { cancel() }
	if _, err := Search(ctx, p); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestProblemsThatDoNotHoldTogether(t *testing.T) {
	for want, change := range map[string]func(p *Problem){
		"walks for":      func(p *Problem) { p.Walks = p.Walks[:1] },
		"no worlds":      func(p *Problem) { p.Worlds = nil },
		"families for":   func(p *Problem) { p.Worlds[0] = p.Worlds[0][:1] },
		"promises of":    func(p *Problem) { p.Promise.Late = 0 },
		"must sum to 1":  func(p *Problem) { p.Mix.Clean = .9 },
		"growth from":    func(p *Problem) { p.Growth.Low = .3 },
		"classes of":     func(p *Problem) { p.Classes = 4 },
		"interval of 20": func(p *Problem) { p.Intervals = []int{20, 3} },
		"units a stop":   func(p *Problem) { p.Walks[1].Units = 0 },
		"lasts 0 days":   func(p *Problem) { p.Season.Stages[0].Days = 0 },
		"bounds":         func(p *Problem) { p.Season.Stages[1].Lower = .5 },
		"last day":       func(p *Problem) { p.Season.LastDay = -1 },
		"no family":      func(p *Problem) { p.Worlds[0][1] = nil },
		"tables, must":   func(p *Problem) { p.Tables = []rule.Table{sevenRows} },
		"no family of":   func(p *Problem) { p.Worlds[0][1] = nil },
	} {
		p := small()
		change(&p)
		if _, err := Search(t.Context(), p); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: got %v", want, err)
		}
	}
}

func TestTrade(t *testing.T) {
	p := scenario(2, true)
	fixed := func(stops int) ([]rule.Table, bool) {
		t := rule.Table{Units: 15}
		for range stops {
			t.Leave, t.Act = append(t.Leave, rule.NeverLeave), append(t.Act, rule.NeverAct)
		}
		t.Leave[stops-1] = int(.14 * float64(15*stops))
		t.Act[stops-1] = t.Leave[stops-1] + 1
		return []rule.Table{t}, stops < 9
	}
	rows, err := Trade(t.Context(), p, []Schedule{{4, 7, 4}, {8, 7, 4}, {4, 10, 7}, {9, 7, 4}}, fixed, Costs{1000, 500, 5000, 22})
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 3 {
		t.Fatalf("%d rows; the schedule without tables is to be left out", len(rows))
	}
	more, seldom := rows[1], rows[2]
	if !(more.Needless < rows[0].Needless && more.Minutes > rows[0].Minutes) {
		t.Errorf("more stops: %+v after %+v", more, rows[0])
	}
	if !(seldom.DaysLate > rows[0].DaysLate && seldom.Needless < rows[0].Needless) {
		t.Errorf("longer intervals: %+v after %+v", seldom, rows[0])
	}
	// The loss of the first by its parts.
	ts, _ := fixed(4)
	s := p.layout(schedule{intervals: [3]int{7, 4}}, ts, 0)
	growing := mustFollow(t, s, Course{Start: .004, Growth: .12})
	late := growing.AfterUpper.mean(func(days float64) float64 { return min(5000, 500*days) })
	want := rows[0].Minutes/60*22 + .2*late +
		1000*(.3*mustFollow(t, s, Course{Start: .03}).Treated+.5*mustFollow(t, s, Course{}).Treated)
	near(t, "loss", rows[0].Loss.Total(), want)
	near(t, "days late", rows[0].DaysLate, growing.AfterUpper.Expected())
}

// In a region of clean fields with one-stop visits every 7 days all is known without a
// simulation: 50 fields, 7 visits each, one in every week, 22.5 + 3 minutes a visit.
func TestRegionOfCleanFields(t *testing.T) {
	table := rule.Table{Units: 15, Leave: []int{7}, Act: []int{8}}
	c, err := New(Season{LastDay: 48, Stages: []Stage{{Family: infested(.12), Lower: .08, Threshold: .14, Upper: .22, Effort: Effort{20, 2.5, .2},
		Classes: []Class{{Table: table, Interval: 7}, {Table: table, Interval: 4}}}}})
	if err != nil {
		t.Fatal(err)
	}
	weeks, err := Region{Fields: 50, Mix: Mix{Clean: 1}, HoursPerDay: 6, DaysPerWeek: 5, HourCost: 22, Seasons: 60, Seed: 3}.Weeks(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	if len(weeks) != 7 {
		t.Fatalf("%d weeks", len(weeks))
	}
	for _, w := range weeks {
		hours := 50 * 25.5 / 60
		near(t, "visits", w.Visits, 50)
		near(t, "hours", w.Hours, hours)
		near(t, "high hours", w.HighHours, hours)
		near(t, "scouts", w.Scouts, hours/30)
		near(t, "cost", w.Cost, hours*22)
	}
}

// A simulated week's 90th percentile lies above its mean, by about 1.28 standard
// deviations of the season's; and the same seed gives the same hours.
func TestRegion(t *testing.T) {
	p := scenario(2, true)
	s := p.layout(schedule{intervals: [3]int{10, 4}}, []rule.Table{sevenRows}, 0)
	c, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	r := Region{Fields: 120, Mix: p.Mix, Growth: p.Growth, HoursPerDay: 6, DaysPerWeek: 5, HourCost: 22, Seasons: 400, Seed: 5}
	weeks, err := r.Weeks(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	again, _ := r.Weeks(t.Context(), c)
	for i, w := range weeks {
		if !(w.HighHours > w.Hours && w.HighHours < 1.5*w.Hours && w.HighError > 0 && w.HighError < .1*w.Hours) {
			t.Errorf("week %d: %+v", i+1, w)
		}
		if again[i] != w {
			t.Errorf("week %d: the same seed gave %+v and %+v", i+1, w, again[i])
		}
	}
}
