package plans

import (
	"fmt"
	"testing"
)

// The risks, the effort and the curve of a plan are those of its table.
func TestPlanTellsItsTable(t *testing.T) {
	p := shippedProtocol(t)
	p = p.Each(func(s *Stage) { // the worked case
		s.Stop = StopRules{Plants: 20, Minimum: 2, Maximum: 20, WalkMinutes: 3, PlantMinutes: 0.25}
		s.Clumping.Rho = &Range{Low: 0, High: 0.1}
		s.Lower, s.Threshold, s.Upper = .15, .22, .30
	})
	s := linesPlan(t, p).Stages[1]
	if !s.Table.Equal(workedTable(t, 2)) {
		t.Fatalf("table %+v", s.Table)
	}
	if len(s.Risks) != clumpGrid {
		t.Fatalf("%d risks", len(s.Risks))
	}
	// Computed independently outside the project.
	first, last := s.Risks[0], s.Risks[clumpGrid-1]
	if first.Clump.Value != 0 || !near(first.Needless, 0.028027, 5e-7) || !near(first.Missed, 0.040738, 5e-7) {
		t.Errorf("least clumped: %+v", first)
	}
	if last.Clump.Value != 0.1 || !near(last.Needless, 0.148939, 5e-7) || !near(last.Missed, 0.211929, 5e-7) {
		t.Errorf("most clumped: %+v", last)
	}
	if s.WorstNeedless() != last || s.WorstMissed() != last {
		t.Errorf("worst %+v, %+v", s.WorstNeedless(), s.WorstMissed())
	}
	if s.Keeps() {
		t.Error("the plan is said to keep risks of 10%")
	}
	if len(s.Effort) != 6 {
		t.Fatalf("%d efforts", len(s.Effort))
	}
	for i, want := range []struct {
		at           string
		level, clump float64
		stops        float64 // 0 where not given
	}{
		{"lower", 0.15, 0, 2.79412}, {"lower", 0.15, 0.1, 2.53105}, {"threshold", 0.22, 0, 0}, {"threshold", 0.22, 0.1, 0}, {"upper", 0.30, 0, 0}, {"upper", 0.30, 0.1, 0},
	} {
		e := s.Effort[i]
		if e.At != want.at || e.Level != want.level || e.Clump.Value != want.clump || want.stops != 0 && !near(e.Stops, want.stops, 5e-6) {
			t.Errorf("effort %+v, want %+v", e, want)
		}
		// 3 minutes to a stop, 15 seconds a plant.
		if !near(e.Plants, 20*e.Stops, 1e-10) || !near(e.Minutes, 3*e.Stops+0.25*e.Plants, 1e-10) {
			t.Errorf("effort %+v", e)
		}
		exact := s.Evaluate(s.World(want.level, want.clump))
		if e.Act != exact.Act || e.Within90 != exact.StopsWithin(0.9) {
			t.Errorf("effort %+v", e)
		}
	}
	points := s.Curve([]float64{0, 0.15, 0.225, 1}, s.As(0.1))
	for i, want := range []CurvePoint{
		{0, ClumpValue{Value: 0.1}, 0, 1, 2, 40, 16},
		{0.15, ClumpValue{Value: 0.1}, 0.148939, 1 - 0.148939, 2.53105, 50.621, 20.2484},
		{0.225, ClumpValue{Value: 0.1}, 0.471071, 1 - 0.471071, 2.814843, 56.29686, 22.518744},
		{1, ClumpValue{Value: 0.1}, 1, 0, 2, 40, 16},
	} {
		got := points[i]
		if got.Level != want.Level || got.Clump != want.Clump || !near(got.Act, want.Act, 5e-7) || !near(got.Leave, want.Leave, 5e-7) || !near(got.Stops, want.Stops, 5e-6) || !near(got.Plants, want.Plants, 1e-4) || !near(got.Minutes, want.Minutes, 4e-5) {
			t.Errorf("curve %+v, want %+v", got, want)
		}
	}
}

func TestPlanKeeps(t *testing.T) {
	s := shareStage(workedTable(t, 2), 0.15, 0.30, Range{Low: 0, High: 0.1})
	for _, c := range []struct {
		risks []Risk
		want  bool
	}{
		{[]Risk{{Needless: 0.1, Missed: 0.1}, {Needless: 0.05, Missed: 0.02}}, true},
		{[]Risk{{Needless: 0.05, Missed: 0.02}, {Needless: 0.11, Missed: 0.01}, {Needless: 0.04, Missed: 0.02}}, false},
		{[]Risk{{Needless: 0.05, Missed: 0.02}, {Needless: 0.01, Missed: 0.11}, {Needless: 0.04, Missed: 0.02}}, false},
	} {
		s.Risks = c.risks
		if got := s.Keeps(); got != c.want {
			t.Errorf("%+v: keeps %v", c.risks, got)
		}
	}
	s.Risks = []Risk{{Needless: 0.05, Missed: 0.03}, {Needless: 0.08, Missed: 0.01}, {Needless: 0.04, Missed: 0.02}}
	if w := s.WorstNeedless(); w != s.Risks[1] {
		t.Errorf("worst needless %+v", w)
	}
	if w := s.WorstMissed(); w != s.Risks[0] {
		t.Errorf("worst missed %+v", w)
	}
}

// A mean per leaf: units are leaves, plants are what the scout examines.
func TestPlanOfMeans(t *testing.T) {
	s := mixedPlan(t).Stages[0]
	for _, e := range s.Effort {
		exact := s.Evaluate(s.World(e.Level, e.Clump.Value))
		if !near(e.Plants, exact.ExpectedUnits/2, 1e-10) || !near(e.Plants, 5*e.Stops, 1e-9) || !e.Clump.Counts {
			t.Errorf("%+v: %g leaves", e, exact.ExpectedUnits)
		}
	}
	for _, r := range s.Rows() {
		if r.Plants != 5*r.Stop {
			t.Errorf("row %+v", r)
		}
	}
}

func TestPlanStage(t *testing.T) {
	plan := linesPlan(t, shippedProtocol(t))
	for _, name := range []string{"leafing", "Leafing", " pod fill "} {
		if _, err := plan.Stage(name); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	if s, err := plan.Stage("budding"); err != nil || s != plan.Stages[1] {
		t.Errorf("budding: %v", err)
	}
	for name, want := range map[string]string{
		"":         "the plan has 3 stages; say which: leafing, budding, pod fill",
		"ripening": `no stage "ripening" in the plan; it has: leafing, budding, pod fill`,
	} {
		if _, err := plan.Stage(name); fmt.Sprint(err) != want {
			t.Errorf("%q: %v, want %s", name, err, want)
		}
	}
	one := shareStage(workedTable(t, 2), 0.15, 0.30, Range{Low: 0, High: 0})
	only := &Plan{Stages: []*StagePlan{one}}
	if s, err := only.Stage(""); err != nil || s != one {
		t.Errorf("one stage: %v", err)
	}
	one.Name = ""
	if _, err := only.Stage("leafing"); fmt.Sprint(err) != "the plan has one unnamed stage; leave the stage name out" {
		t.Errorf("unnamed stage: %v", err)
	}
}
