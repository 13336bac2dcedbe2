package plans

import (
	"context"
	"math"
	"strings"
	"testing"

	"stopwise/sampling/size"
)

func habitTerms() Stage {
	rho := Range{Low: 0.1, High: 0.1}
	return Stage{
		Measure: ShareInfested, Lower: 0.15, Threshold: 0.225, Upper: 0.30, NeedlessRisk: 0.1, MissedRisk: 0.1,
		Unit: SampleUnit{Leaves: 1}, Stop: StopRules{Plants: 20, Minimum: 1, Maximum: 20}, Clumping: Clumping{Rho: &rho},
	}
}

func TestReadTables(t *testing.T) {
	one := []Stage{habitTerms()}
	two := Everywhere(habitTerms(), Stage{Name: "Leafing"}, Stage{Name: "budding"})
	for i := range two {
		two[i].Measure = ShareInfested
	}
	never, open := NeverLeave, NeverAct
	for _, c := range []struct {
		name, text string
		stages     []Stage
		want       []Table
	}{
		{"a habit of four stops", "stop,leave,act\n4,19,20\n", one,
			[]Table{{Units: 20, Leave: []int{never, never, never, 19}, Act: []int{open, open, open, 20}}}},
		{"any order, blanks, a mark of Windows", "\ufeff Act ,stop, LEAVE\r\n , 1,\r\n20,3,19\r\n15,2, 4\r\n", one,
			[]Table{{Units: 20, Leave: []int{never, 4, 19}, Act: []int{open, 15, 20}}}},
		{"as the command table writes it", "stage,stop,plants,leave,act\n,1,20,,\n,2,40,9,10\n", one,
			[]Table{{Units: 20, Leave: []int{never, 9}, Act: []int{open, 10}}}},
		{"stages in their own order", "stage,stop,leave,act\nbudding,1,2,3\nleafing,1,4,5\n", two,
			[]Table{{Units: 20, Leave: []int{4}, Act: []int{5}}, {Units: 20, Leave: []int{2}, Act: []int{3}}}},
	} {
		got, err := ReadTables([]byte(c.text), c.stages)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for i := range c.want {
			if !got[i].Equal(c.want[i]) {
				t.Errorf("%s: %+v, want %+v", c.name, got[i], c.want[i])
			}
		}
	}
	for _, c := range []struct {
		text   string
		stages []Stage
		want   string // all faults, a line each
	}{
		{"", one, "line 1: no rows"},
		{"stop;leave;act\n4;19\n", one, "line 2: 2 cells"},
		{"stop,leave\n4,19\n", one, "line 1: no column act"},
		{"stop,leave,act,leaves\n4,19,20,1\n", one, `line 1: unknown column "leaves"`},
		{"stop,leave,act\n", one, "no rows; accepted"},
		{"stop,leave,act\n4,19\n", one, "line 2: 2 cells; the first line has 3"},
		{"stop,leave,act\n4,19,\"20\n", one, "line 2: extraneous or missing"},
		{"stop,leave,act\n0,19,20\nx,19,20\n", one, `line 2: column stop: "0"; accepted: a whole number from 1 to 1000|line 3: column stop: "x"`},
		{"stop,leave,act\n1,-1,20\n", one, `line 2: column leave: "-1"; accepted: a whole number from 0 to 1000000000, or nothing for never`},
		{"stop,plants,leave,act\n2,30,9,10\n", one, "line 2: column plants: 30 by stop 2, but with 20 at each stop they are 40"},
		{"stop,leave,act\n1,4,4\n2,9,10\n", one, "line 2: leave number 4 is not below act number 4 at stop 1"},
		{"stop,leave,act\n1,4,9\n2,3,\n3,8,9\n", one, "line 3: leave number 3 at stop 2 is below the 4 of stop 1"},
		{"stop,leave,act\n1,4,9\n2,,10\n3,8,9\n", one, "line 3: leave number never at stop 2 is below|line 4: act number 9 at stop 3 is below the 10 of stop 2"},
		{"stop,leave,act\n1,,9\n2,3,\n3,8,9\n", one, "line 3: act number never at stop 2, though stop 1 has 9"},
		{"stop,leave,act\n1,,9\n3,8,9\n", one, "line 3: stop 2 is missing before stop 3"},
		{"stop,leave,act\n1,,9\n1,8,9\n", one, "line 3: stop 1 stands there twice"},
		{"stop,leave,act\n1,21,22\n", one, "line 2: leave number 21 at stop 1 is more than the 20 plants"},
		{"stop,leave,act\n1,,9\n2,8,11\n", one, "line 3: stop 2 is the last, so that a verdict must come: act has to be leave + 1; it has leave 8 and act 11"},
		{"stop,leave,act\n4,,20\n", one, "leave never and act 20"},
		{"stop,leave,act\n4,19,20\n", two, "line 1: no column stage, and there are several: Leafing, budding"},
		{"stage,stop,leave,act\nleafing,1,4,5\n", two, "no rows of stage budding"},
		{"stage,stop,leave,act\nleafing,1,4,5\nteens,1,4,5\nbudding,1,4,5\n", two, `line 3: column stage: no stage "teens"; accepted: Leafing, budding`},
		{"stage,stop,leave,act\nleafing,1,4,5\n", one, "one unnamed stage"},
	} {
		_, err := ReadTables([]byte(c.text), c.stages)
		if err == nil {
			t.Errorf("%q was taken", c.text)
			continue
		}
		lines, wants := strings.Split(err.Error(), "\n"), strings.Split(c.want, "|")
		if len(lines) != len(wants) {
			t.Errorf("%q: %d faults, want %d:\n%v", c.text, len(lines), len(wants), err)
			continue
		}
		for i := range wants {
			if !strings.Contains(lines[i], wants[i]) {
				t.Errorf("%q: %q, want %q in it", c.text, lines[i], wants[i])
			}
		}
	}
}

func FuzzReadTables(f *testing.F) {
	f.Add("stop,leave,act\n4,19,20\n")
	f.Add("stage,stop,plants,leave,act\n,1,20,,\n,2,40,9,10\n")
	f.Add("stop,leave,act\n1,,9\n3,8,\"9\n")
	f.Fuzz(func(t *testing.T, text string) {
		tables, err := ReadTables([]byte(text), []Stage{habitTerms()})
		if err == nil && tables[0].Check() != nil {
			t.Errorf("%q gives no table: %v", text, tables[0].Check())
		}
	})
}

// The fixed habit of four stops has the risks that the answer of a fixed visit has,
// which is computed by other code; and so have visits of other lengths.
func TestHabitAgreesWithFixedVisit(t *testing.T) {
	for _, c := range []struct{ stops, act int }{{4, 20}, {4, 17}, {8, 36}} {
		terms := habitTerms()
		table := Table{Units: 20}
		for range c.stops - 1 {
			table.Leave, table.Act = append(table.Leave, NeverLeave), append(table.Act, NeverAct)
		}
		table.Leave, table.Act = append(table.Leave, c.act-1), append(table.Act, c.act)
		s, err := NewStagePlan(terms, table)
		if err != nil {
			t.Fatal(err)
		}
		v, err := size.Visit(size.VisitRequest{
			Stops: c.stops, Act: c.act, Lower: terms.Lower, Upper: terms.Upper, NeedlessRisk: .1, MissedRisk: .1, PlantsPerStop: 20, Rho: .1,
		})
		if err != nil {
			t.Fatal(err)
		}
		if r := s.Risks[0]; math.Abs(r.Needless-v.Bounds.NeedlessRisk) > 1e-12 || math.Abs(r.Missed-v.Bounds.MissedRisk) > 1e-12 {
			t.Errorf("%d stops, act at %d: %+v, the fixed visit has %g and %g", c.stops, c.act, r, v.Bounds.NeedlessRisk, v.Bounds.MissedRisk)
		}
	}
}

// What could be had in place of a table is never worse than the table, and a plan
// file keeps it.
func TestOwnPlanRivals(t *testing.T) {
	terms := habitTerms()
	habit := Table{Units: 20, Leave: []int{NeverLeave, NeverLeave, NeverLeave, 19}, Act: []int{NeverAct, NeverAct, NeverAct, 20}}
	p := Protocol{Stages: []Stage{terms}, Defaults: []string{"stop.minimum_stops = 4", "stop.plants = 20"}}
	plan, err := OwnPlan(context.Background(), p, []Table{habit}, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	s := plan.Stages[0]
	if len(s.Rivals) != 3 || s.Method != OwnTable || s.Stop.Minimum != 4 || s.Stop.Maximum != 4 || len(plan.Protocol.Defaults) != 1 || p.Stages[0].Stop.Maximum != 20 {
		t.Fatalf("%+v", s)
	}
	n, m := s.Risks[0].Needless, s.Risks[0].Missed
	for i, want := range []struct{ needless, missed, stops float64 }{
		{.1, .1, 4.419}, // the best table of totals, computed independently outside the project
		{n, m, s.Weighted},
		{n, m, s.Weighted},
	} {
		r := s.Rivals[i]
		if r.Stops == nil || *r.Needless > want.needless+1e-12 || *r.Missed > want.missed+1e-12 || i > 0 && *r.Stops > want.stops {
			t.Errorf("%s: %+v, want at most %+v", r.Question, r, want)
		}
		if i == 0 && math.Abs(*r.Stops-want.stops) > .03 {
			t.Errorf("%s: %g stops, best known %g", r.Question, *r.Stops, want.stops)
		}
	}
	if *s.Rivals[1].Stops > .8*s.Weighted || *s.Rivals[2].Needless > .8*n {
		t.Errorf("stopping early saves little: %g stops, %g needless", *s.Rivals[1].Stops, *s.Rivals[2].Needless)
	}
	text, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	again, err := ReadPlan(text)
	if err != nil || *again.Stages[0].Rivals[1].Stops != *s.Rivals[1].Stops || !again.Stages[0].Table.Equal(habit) {
		t.Errorf("read again: %+v, %v", again, err)
	}
}
