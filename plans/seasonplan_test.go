package plans

import (
	"context"
	"errors"
	"math"
	"strings"
	"sync"
	"testing"

	"stopwise/plans/season"
	"stopwise/sampling"
)

// seasonText is an invented protocol whose season is searched quickly.
const seasonText = `
[sample_unit]
text = "one plant"
[stop]
plants = 15
maximum_stops = 4
walk_minutes = 2.5
plant_minutes = 0.2
[clumping]
rho = "0.02..0.05"
[coming_back]
lead_days = 1
days_until_found = 5
days_once_found = 3
[season]
weeks = 5
start = "1%"
growth = "0.14..0.15"
needless = "40%"
late = "30%"
late_days = 3
[region]
fields = 30
drive_minutes = 10
[[stage]]
name = "leafing"
lower = "8%"
threshold = "14%"
upper = "22%"
`

func seasonProtocol(t *testing.T, changes ...string) Protocol {
	t.Helper()
	text := strings.NewReplacer(changes...).Replace(seasonText)
	p, err := ReadProtocol([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func designedSeason(t *testing.T, p Protocol) *Plan {
	t.Helper()
	plan, err := Design(t.Context(), p, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// What a plan for a season says of itself is what a chain of its tables and dates gives
// that is put together here by hand, over the ends of clumping and growth.
func TestSeasonPlanSaysWhatItDoes(t *testing.T) {
	plan := designedSeason(t, seasonProtocol(t))
	s, r := plan.Stages[0], plan.Season
	needless, late, minutes := 0.0, 0.0, 0.0
	for _, rho := range []float64{.02, .035, .05} {
		chain, err := season.New(season.Season{LastDay: 35, Lead: 1, Stages: []season.Stage{{
			Family: func(p float64) sampling.Population { return sampling.Infested{P: p, Rho: rho} },
			Lower:  .08, Threshold: .14, Upper: .22, Effort: season.Effort{Visit: 10, Stop: 2.5, Unit: .2},
			Classes: []season.Class{{Table: s.Table, Interval: 5}, {Table: s.Table, Interval: 3}},
		}}})
		if err != nil {
			t.Fatal(err)
		}
		follow := func(c season.Course) *season.Path {
			p, err := chain.Follow(c)
			if err != nil {
				t.Fatal(err)
			}
			return p
		}
		needless = math.Max(needless, follow(season.Course{Start: .08}).Treated)
		for _, g := range []float64{.14, .15} {
			late = math.Max(late, follow(season.Course{Start: .01, Growth: g}).AfterUpper.Later(3))
		}
		minutes = .5*follow(season.Course{}).Minutes + .3*follow(season.Course{Start: .08 / 3}).Minutes + .2*follow(season.Course{Start: .01, Growth: .145}).Minutes
	}
	if math.Abs(r.Needless-needless) > 1e-9 || math.Abs(r.Late-late) > 1e-9 || math.Abs(r.Minutes-minutes) > 1e-9 {
		t.Errorf("says %g, %g in %g minutes; by hand %g, %g in %g", r.Needless, r.Late, r.Minutes, needless, late, minutes)
	}
	if !r.Kept || r.UntilFound != 5 || r.OnceFound != 3 || strings.Join(r.Chosen, " ") != "needless_risk missed_risk minimum_stops" {
		t.Errorf("%+v", r)
	}
	if !s.ComingBack.ByIntervals || s.Method != SeasonTrue || !s.Keeps() {
		t.Errorf("comes back by intervals %v, method %s, keeps %v", s.ComingBack.ByIntervals, s.Method, s.Keeps())
	}
}

// A sign has its say in all that is promised: where it forbids half of the treatments of
// harmless fields the season's needless ones are rarer with the same table.
func TestSeasonPlanOfSign(t *testing.T) {
	const sign = "\nsign = \"bronzed tips\"\nsign_stops = 1\n"
	signed := designedSeason(t, seasonProtocol(t, "upper = \"22%\"\n", "upper = \"22%\"\n"+sign+"sign_chance = \"90%\"\nsign_chance_lower = \"30%\"\n"))
	bare := *signed.Stages[0]
	bare.Sign = nil
	without := *signed
	without.Protocol = without.Protocol.Each(func(s *Stage) { s.Sign = nil })
	without.Stages = []*StagePlan{&bare}
	r, err := without.overSeason()
	if err != nil {
		t.Fatal(err)
	}
	if !(signed.Season.Kept && signed.Season.Needless < r.Needless && signed.Season.Late > r.Late) {
		t.Errorf("with the sign needless %g and late %g, by the count alone %g and %g", signed.Season.Needless, signed.Season.Late, r.Needless, r.Late)
	}
	_, err = Design(t.Context(), seasonProtocol(t, "upper = \"22%\"\n", "upper = \"22%\"\n"+sign), DesignOptions{})
	if field, ok := errors.AsType[*FieldError](err); !ok || field.Path != "stage.0.sign" {
		t.Errorf("a sign of unknown chances: %v", err)
	}
}

// Where all is given nothing is chosen; other methods and tables by the last visit need
// what is open.
func TestSeasonPlanOfGivenRisks(t *testing.T) {
	given := []string{"late_days = 3", "late_days = 3\nTABLES", "upper = \"22%\"", "upper = \"22%\"\nneedless_risk = \"20%\"\nmissed_risk = \"30%\"", "maximum_stops = 4", "minimum_stops = 1\nmaximum_stops = 12"}
	with := func(tables string) Protocol {
		args := append([]string(nil), given...)
		args[1] = strings.Replace(args[1], "TABLES", tables, 1)
		return seasonProtocol(t, args...)
	}
	plan := designedSeason(t, with(""))
	if len(plan.Season.Chosen) != 0 || plan.Stages[0].NeedlessRisk != .2 {
		t.Errorf("chosen %v, risk %g", plan.Season.Chosen, plan.Stages[0].NeedlessRisk)
	}
	if _, err := Design(t.Context(), with("tables = 2"), DesignOptions{}); err == nil || !strings.Contains(err.Error(), "needless_risk") {
		t.Errorf("tables by the last visit for given risks: %v", err)
	}
	if _, err := Design(t.Context(), seasonProtocol(t), DesignOptions{Method: Lines}); err == nil || !strings.Contains(err.Error(), "left to be chosen") {
		t.Errorf("lines for what is left open: %v", err)
	}
}

// threeTables is the file of a season's plan with a table for each class of last visits.
var threeTables = sync.OnceValues(func() ([]byte, error) {
	p, err := ReadProtocol([]byte(strings.NewReplacer(`rho = "0.02..0.05"`, "rho = 0.05", `growth = "0.14..0.15"`, "growth = 0.15", "late_days = 3", "late_days = 3\ntables = 3").Replace(seasonText)))
	if err != nil {
		return nil, err
	}
	plan, err := Design(context.Background(), p, DesignOptions{})
	if err != nil {
		return nil, err
	}
	return plan.JSON()
})

// Tables by the last visit: kept in the file, taken by what was found, followed as they
// are, and no dearer than one.
func TestTablesByLastVisit(t *testing.T) {
	text, err := threeTables()
	if err != nil {
		t.Fatal(err)
	}
	plan, err := ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	again, err := plan.JSON()
	if err != nil || string(again) != string(text) {
		t.Errorf("the plan file changes when it is read (%v)", err)
	}
	s, r := plan.Stages[0], plan.Season
	if len(s.ByLast) != 3 || !(r.Minutes <= r.OneTable+1e-9) || !s.ByLast[0].Table.Equal(s.Table) {
		t.Fatalf("%d tables, %g minutes against %g", len(s.ByLast), r.Minutes, r.OneTable)
	}
	over, err := plan.overSeason()
	if err != nil || math.Abs(over.Needless-r.Needless) > 1e-12 || math.Abs(over.Late-r.Late) > 1e-12 || over.MoreFrom != r.MoreFrom {
		t.Errorf("read back it does %+v, %v; said %+v", over, err, r)
	}
	more := r.MoreFrom
	for _, c := range []struct {
		h    History
		want Last
	}{
		{History{}, LastNone}, {History{Found: true}, LastLittle}, {History{Found: true, Seen: more}, LastMore},
		{History{Found: true, Seen: more - 1e-6}, LastLittle}, {History{Last: LastMore}, LastMore}, {History{Found: true, Seen: 1, Last: LastNone}, LastNone},
	} {
		of := s.Of(c.h)
		if of.Last != c.want || of.ByLast != nil {
			t.Errorf("%+v: the table for %q, want %q", c.h, of.Last, c.want)
		}
		if named, err := s.OfLast(c.want); err != nil || named != of {
			t.Errorf("%q: %v", c.want, err)
		}
	}
	if _, err := s.OfLast(""); err == nil || !strings.Contains(err.Error(), "none, little, more") {
		t.Errorf("no table is named: %v", err)
	}
	if _, err := s.ByLast[0].OfLast(LastMore); err == nil {
		t.Error("one table is taken for several")
	}
	// Leave brings the days for what the visit saw.
	for _, c := range []struct {
		counts []Count
		h      History
		want   float64
		last   Last
	}{
		{[]Count{{Total: 0}}, History{}, s.ComingBack.DaysUntilFound, LastNone},
		{[]Count{{Total: 0}}, History{Found: true}, s.ComingBack.DaysOnceFound, LastLittle},
		{[]Count{{Total: 15}}, History{}, s.ComingBack.DaysMoreFound, LastMore},
	} {
		back, err := s.Revisit(c.counts, c.h)
		if err != nil || float64(back.Days) != c.want || back.Last != c.last {
			t.Errorf("%v after %+v: %+v, %v", c.counts, c.h, back, err)
		}
	}
}

// A change costs or saves what it says; the plan as it is stands first.
func TestRegionChanges(t *testing.T) {
	plan := designedSeason(t, seasonProtocol(t))
	rows, err := plan.RegionChanges(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 4 {
		t.Fatalf("%d rows", len(rows))
	}
	is := rows[0]
	if is.Needless != plan.Season.Needless || is.Late != plan.Season.Late || math.Abs(is.Hours*60-30*plan.Season.Minutes) > 1e-6 {
		t.Errorf("as it is: %+v; the plan says %+v", is, plan.Season)
	}
	if r := rows[1]; r.UntilFound != 7 || r.OnceFound != 3 || !(r.Visits < is.Visits && r.Late > is.Late) {
		t.Errorf("longer until found: %+v", r)
	}
	if r := rows[2]; r.UntilFound != 5 || r.OnceFound != 4 || !(r.Visits < is.Visits) {
		t.Errorf("longer once found: %+v", r)
	}
	if r := rows[3]; r.MostStops > 2 || !(r.Hours < is.Hours) {
		t.Errorf("shorter visits: %+v", r)
	}
	if plan.Stages[0].ComingBack.DaysUntilFound != 5 || plan.Stages[0].Table.Stops() != is.MostStops {
		t.Error("looking at changes changed the plan")
	}
}

// A risk that is stated is written with three decimals and never below the exact one.
func TestPromisableRisks(t *testing.T) {
	for risk, want := range map[float64]float64{0: .001, .0123: .013, .05: .051, .9995: 1 - Slack} {
		if got := promisable(risk); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g is stated as %g, want %g", risk, got, want)
		}
	}
}
