package plans

import (
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// With the planned plants the numbers are the table's own.
func TestAtPlannedPlants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 20, 20)
		for j := range table.Leave {
			leave, act := table.At(j+1, table.Units*(j+1))
			if leave != table.Leave[j] || act != table.Act[j] {
				t.Fatalf("stop %d: %d, %d; the table has %d, %d", j+1, leave, act, table.Leave[j], table.Act[j])
			}
		}
	})
}

// Fewer plants never make it easier to leave, and never ask for more infested
// plants before act; a verdict is possible only from the stop where the table has
// one, and always at the last.
func TestAtFewerPlants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 12, 12)
		for stop := 1; stop <= table.Stops(); stop++ {
			leave, act := NeverLeave, 0
			for units := 1; units <= 2*table.Units*table.Stops(); units++ {
				a, r := table.At(stop, units)
				if a < leave || r < act {
					t.Fatalf("stop %d: %d, %d at %d plants after %d, %d", stop, a, r, units, leave, act)
				}
				if a < NeverLeave || a >= r {
					t.Fatalf("stop %d: %d, %d at %d plants", stop, a, r, units)
				}
				if table.Leave[stop-1] == NeverLeave && stop < table.Stops() && a != NeverLeave {
					t.Fatalf("stop %d: leave number %d where the table has none", stop, a)
				}
				if (table.Act[stop-1] == NeverAct) != (r == NeverAct) {
					t.Fatalf("stop %d: act number %d where the table has %d", stop, r, table.Act[stop-1])
				}
				leave, act = a, r
			}
		}
	})
}

// Between the stops of a table made from lines, and beyond them, the numbers stay
// on the careful side of the lines: no verdict comes that the lines would not
// bring for the plants really seen.
func TestAtCarefulSide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := LinePair{
			Slope:    rapid.Float64Range(0.01, 2).Draw(t, "slope"),
			LeaveGap: rapid.Float64Range(0.01, 6).Draw(t, "leaveGap"),
			ActGap:   rapid.Float64Range(0.01, 6).Draw(t, "actGap"),
		}
		units := rapid.IntRange(1, 30).Draw(t, "units")
		stops := rapid.IntRange(2, 25).Draw(t, "stops")
		minimum := rapid.IntRange(1, stops-1).Draw(t, "minimum")
		table := l.Table(units, minimum, stops, false)
		last := table.Leave[stops-1]
		for stop := minimum; stop < stops; stop++ {
			for seen := 1; seen <= units*stops; seen++ {
				leave, act := table.At(stop, seen)
				if leave > l.LeaveAt(seen) {
					t.Fatalf("stop %d, %d plants: leave number %d, the line has %d", stop, seen, leave, l.LeaveAt(seen))
				}
				if act < min(l.ActAt(seen), last+1) {
					t.Fatalf("stop %d, %d plants: act number %d, the line has %d", stop, seen, act, l.ActAt(seen))
				}
				// Not more careful than rounding makes it.
				if leave < l.LeaveAt(seen)-2 && leave != NeverLeave || act > max(l.ActAt(seen)+2, last+1) {
					t.Fatalf("stop %d, %d plants: %d, %d, the lines have %d, %d", stop, seen, leave, act, l.LeaveAt(seen), l.ActAt(seen))
				}
			}
		}
	})
}

func TestAtWorkedCase(t *testing.T) {
	table := workedTable(t, 4) // 4: 15, 20; 5: 19, 25; 19: 80, 86; 20: 87, 88
	for _, c := range []struct {
		name             string
		stop, units      int
		leave, act       int
		planned, byLines string
	}{
		{name: "before the minimum", stop: 3, units: 60, leave: NeverLeave, act: NeverAct},
		{name: "before the minimum, many plants", stop: 3, units: 200, leave: NeverLeave, act: NeverAct},
		{name: "planned", stop: 4, units: 80, leave: 15, act: 20},
		{name: "half way to the next stop", stop: 4, units: 90, leave: 17, act: 23},
		{name: "the fifth stop with the plants of four", stop: 5, units: 80, leave: 15, act: 20},
		{name: "one plant a stop: lines at -1.6 and 3.35", stop: 4, units: 4, leave: NeverLeave, act: 4},
		{name: "half the plants: lines at 6.3 and 11.2", stop: 4, units: 40, leave: 6, act: 12},
		{name: "stop 19 with three quarters of a stop more: lines at 83.96 and 88.9", stop: 19, units: 395, leave: 83, act: 90},
		{name: "last stop", stop: 20, units: 400, leave: 87, act: 88},
		{name: "last stop, one plant less each: 21.75% of 380 is 82.65", stop: 20, units: 380, leave: 82, act: 83},
		{name: "last stop, one plant each", stop: 20, units: 20, leave: 4, act: 5},
		{name: "last stop, one plant more", stop: 20, units: 401, leave: 87, act: 88},
	} {
		if leave, act := table.At(c.stop, c.units); leave != c.leave || act != c.act {
			t.Errorf("%s: %d, %d; want %d, %d", c.name, leave, act, c.leave, c.act)
		}
	}
}

// The risks of a path sum to one, and with the planned plants are the plan's.
func TestPathRisks(t *testing.T) {
	s := shareStage(workedTable(t, 2), 0.15, 0.30, Range{Low: 0.1, High: 0.1})
	plain := s.pathRisks([]int{20, 20})
	if len(plain) != 1 || !near(plain[0].Needless, 0.148939, 5e-7) || !near(plain[0].Missed, 0.211929, 5e-7) {
		t.Errorf("planned plants: %+v", plain)
	}
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 4, 3)
		seen := rapid.SliceOfN(rapid.IntRange(1, 5), 1, table.Stops()).Draw(t, "seen")
		s := shareStage(table, 0.2, 0.4, Range{Low: 0, High: 0.3})
		plants := func(j int) int {
			if j < len(seen) {
				return seen[j]
			}
			return table.Units
		}
		numbers := func(j int) (int, int) {
			total := 0
			for i := range j + 1 {
				total += plants(i)
			}
			return table.At(j+1, total)
		}
		risks := s.pathRisks(seen)
		if len(risks) != clumpGrid {
			t.Fatalf("%d risks", len(risks))
		}
		for _, r := range risks {
			lower := urn{0.2, r.Clump.Value}.list(0, 0, table.Stops(), plants, numbers)
			upper := urn{0.4, r.Clump.Value}.list(0, 0, table.Stops(), plants, numbers)
			if !near(r.Needless, lower.act, 1e-13) || !near(r.Missed, upper.leave, 1e-13) {
				t.Fatalf("%+v, listed %g, %g", r, lower.act, upper.leave)
			}
			if !near(lower.act+lower.leave, 1, 1e-13) {
				t.Fatalf("listing sums to %g", lower.act+lower.leave)
			}
		}
	})
}

// A large total before a verdict can come needs no memory of its size.
func TestFollowLargeTotal(t *testing.T) {
	table := Table{Units: 1, Leave: []int{NeverLeave, NeverLeave, 10}, Act: []int{NeverAct, NeverAct, 11}}
	e := rule.Follow(table.Steps()[1:], 1<<40, sampling.Counts{Mean: 1, K: 1})
	if e.Act != 1 || e.Leave != 0 || e.ExpectedStops != 2 {
		t.Errorf("got %+v", e)
	}
}
