package plans

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// A table of one's own is judged as one that was designed: the worked case by the
// textbook's lines (checks computed independently outside the project).
func TestNewStagePlan(t *testing.T) {
	rho := Range{Low: 0.1, High: 0.1}
	terms := Stage{
		Name: "leafing", Measure: ShareInfested, Lower: 0.15, Threshold: 0.225, Upper: 0.30, NeedlessRisk: 0.1, MissedRisk: 0.1,
		Unit: SampleUnit{Leaves: 1}, Stop: StopRules{Plants: 20, Minimum: 4, Maximum: 30, WalkMinutes: 3, PlantMinutes: .25},
		Clumping: Clumping{Rho: &rho}, ComingBack: &DefaultComingBack,
	}
	table := workedTable(t, 2)
	s, err := NewStagePlan(terms, table)
	if err != nil {
		t.Fatal(err)
	}
	if r := s.Risks[0]; math.Abs(r.Needless-0.148939) > 5e-7 || math.Abs(r.Missed-0.211929) > 5e-7 || s.Keeps() {
		t.Errorf("risks %+v", s.Risks)
	}
	if s.Stop.Minimum != table.First() || s.Stop.Maximum != s.Table.Stops() || s.Method != OwnTable {
		t.Errorf("stop rules %+v of a table from %d to %d", s.Stop, table.First(), table.Stops())
	}
	// It answers whatever a designed plan does.
	for _, e := range s.Effort {
		if math.Abs(e.Minutes-8*e.Stops) > 1e-9 {
			t.Errorf("%g minutes for %g stops, want eight each", e.Minutes, e.Stops)
		}
	}
	if a, err := s.Check([]Count{{Total: 0}, {Total: 0}, {Total: 0}}); err != nil || a.Verdict != Leave {
		t.Errorf("%+v, %v", a, err)
	}
	if r, err := s.Revisit([]Count{{Total: 0}, {Total: 0}, {Total: 0}}, History{}); err != nil || r == nil || r.Days < 1 {
		t.Errorf("%+v, %v", r, err)
	}
	var field *FieldError
	terms.Stop.Plants = 10
	if _, err := NewStagePlan(terms, table); !errors.As(err, &field) || field.Stage != "leafing" || field.Value != 20 {
		t.Errorf("a table for other plants: %v", err)
	}
	terms.Stop.Plants, terms.Upper = 20, .1
	if _, err := NewStagePlan(terms, table); err == nil || !strings.Contains(err.Error(), "upper bound 10%") {
		t.Errorf("crossed bounds: %v", err)
	}
	if _, err := NewStagePlan(terms, Table{Units: 20}); err == nil {
		t.Error("a table without stops was taken")
	}
}
