package plans

import (
	"errors"
	"math"
	"slices"
	"stopwise/plans/protocol"
	"strings"
	"testing"
)

// A season whose stops count points: the plan file holds what they count, what the last
// visit counted per stop chooses the table, and what becomes of the promise in patches is
// what the same plan says where it is to be held there.
func TestSeasonOfPoints(t *testing.T) {
	p := seasonProtocol(t, `rho = "0.02..0.05"`, "rho = 0.05", "maximum_stops = 4", "maximum_stops = 4\ncounting = \"points\"",
		`growth = "0.14..0.15"`, "growth = 0.15", "late_days = 3", "late_days = 3\ntables = 3")
	made := designedSeason(t, p)
	text, err := made.JSON()
	if err != nil {
		t.Fatal(err)
	}
	plan, err := ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	s, r := plan.Stages[0], plan.Season
	if !r.Kept || s.Worth.Points == nil || len(s.ByLast) != 3 || s.ByLast[2].Worth.Points == nil || r.InPatches == nil || r.Totals != 0 {
		t.Fatalf("%+v, counts %+v in %d tables", r, s.Worth, len(s.ByLast))
	}
	if over, err := plan.overSeason(); err != nil || math.Abs(over.Late-r.Late) > 1e-12 || over.MoreFrom != r.MoreFrom {
		t.Errorf("read back it does %+v, %v; said %+v", over, err, r)
	}
	held := *plan
	held.Protocol = held.Protocol.Each(func(t *Stage) { t.HoldUnder.Patches = true })
	held.Stages = []*StagePlan{s.changed(func(t *StagePlan) { t.HoldUnder.Patches = true })}
	over, err := held.overSeason()
	if err != nil || over.InPatches != nil || over.Late != max(r.Late, r.InPatches.Late) || over.Needless != max(r.Needless, r.InPatches.Needless) {
		t.Errorf("held in patches it does %+v, %v; said %+v", over, err, r.InPatches)
	}
	// Points of a stop, not the share found there.
	points := s.WorthMap()
	counts := []Count{{Total: 0}, {Total: 3, Plants: 15}}
	if got, want := s.Shown(counts), float64(points[3])/2; got != want {
		t.Errorf("two stops show %g points each, want %g", got, want)
	}
	for _, x := range []int{1, 2, 3} {
		want := LastLittle
		if float64(points[x]) >= r.MoreFrom {
			want = LastMore
		}
		back, err := s.ByLast[0].Revisit([]Count{{Total: x}}, History{})
		if err != nil || back.Last != want {
			t.Errorf("%d found (%d points) in one stop, more from %g: %+v, %v", x, points[x], r.MoreFrom, back, err)
		}
		if of := s.Of(History{Found: true, Seen: s.Shown([]Count{{Total: x}})}); of.Last != want {
			t.Errorf("%d found: the table for %q, want %q", x, of.Last, want)
		}
	}
}

// The cap is chosen where it is left open; one class of finds cannot be told in two ways
// of counting.
func TestSeasonChoosesWhatCounts(t *testing.T) {
	capped := []string{`rho = "0.02..0.05"`, "rho = 0.15", `growth = "0.14..0.15"`, "growth = 0.15", "plants = 15\nmaximum_stops = 4", "maximum_stops = 12\nplants = 5\ncounting = \"capped\"\ncap = \"auto\""}
	plan := designedSeason(t, seasonProtocol(t, capped...))
	if c := plan.Stages[0].Worth.Cap; c < 2 || c > 3 {
		t.Errorf("at most %d of a stop", c)
	}
	// Left open, the way of counting is chosen: what it comes to stands in the plan, and
	// points are tried only where the promise is held in patches.
	auto := append([]string(nil), capped...)
	auto[5] = "maximum_stops = 12\nplants = 5\ncounting = \"auto\""
	plan = designedSeason(t, seasonProtocol(t, auto...))
	s := plan.Stages[0]
	if !plan.Season.Kept || s.Stop.Counting == protocol.Auto || s.Worth.Points != nil || s.Stop.Plain() != s.Worth.Plain() || !slices.Contains(plan.Season.Chosen, "counting") {
		t.Errorf("%+v counts %+v, chosen %v", s.Stop, s.Worth, plan.Season.Chosen)
	}
	text, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ReadPlan(text); err != nil {
		t.Error(err)
	}
	for _, least := range []string{"counting = \"total\"", "counting = \"capped\""} {
		auto[5] = "maximum_stops = 12\nplants = 5\n" + least
		if own := designedSeason(t, seasonProtocol(t, auto...)); !own.Season.Kept || own.Season.Minutes < plan.Season.Minutes-.02*plan.Season.Minutes {
			t.Errorf("%s takes %g minutes, what was chosen %g", least, own.Season.Minutes, plan.Season.Minutes)
		}
	}
	held := seasonProtocol(t, auto...)
	held = held.Each(func(t *Stage) { t.Stop.Counting, t.HoldUnder.Patches = protocol.Auto, true })
	if ways := countingsOf(held); len(ways) != 3 || ways[2].Stages[0].Stop.Points == 0 {
		t.Errorf("in patches %d ways are tried", len(ways))
	}
	if _, err := Design(t.Context(), held, DesignOptions{Method: Lines}); err == nil || !strings.Contains(err.Error(), "counting") {
		t.Errorf("lines for a way of counting that is left open: %v", err)
	}
	held.Seasonal = nil
	if _, err := Design(t.Context(), held, DesignOptions{}); err == nil || !strings.Contains(err.Error(), "with [season]") {
		t.Errorf("left open without a season: %v", err)
	}
	mixed := seasonProtocol(t, "late_days = 3", "late_days = 3\ntables = 3", "name = \"leafing\"", "name = \"leafing\"\nlasts_days = 10",
		"upper = \"22%\"\n", "upper = \"22%\"\n[[stage]]\nname = \"flower\"\nlower = \"8%\"\nthreshold = \"14%\"\nupper = \"22%\"\ncounting = \"points\"\n")
	_, err = Design(t.Context(), mixed, DesignOptions{})
	if field, ok := errors.AsType[*FieldError](err); !ok || field.Path != "stage.1.counting" {
		t.Errorf("two ways of counting with three classes: %v", err)
	}
}
