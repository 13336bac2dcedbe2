package validate

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stopwise/plans"
	"stopwise/sampling/pilot"
)

func TestParseRequirements(t *testing.T) {
	stage := plans.Stage{NeedlessRisk: .1, MissedRisk: .05}
	for _, c := range []struct {
		text string
		want []Requirement
		err  string
	}{
		{"needless<=10%", []Requirement{{NeedlessRisk, .1, false}}, ""},
		{" needless <= 0.1 , missed<=5%,stops<=9,minutes<=62.5", []Requirement{{NeedlessRisk, .1, false}, {MissedRisk, .05, false}, {StopsWalked, 9, false}, {MinutesSpent, 62.5, false}}, ""},
		{"promise", []Requirement{{NeedlessRisk, .1, true}, {MissedRisk, .05, true}}, ""},
		{"needless<=10", nil, "10%"},
		{"needless<10%", nil, "not a requirement"},
		{"needless", nil, "not a requirement"},
		{"wrong<=10%", nil, "needless, missed, stops, minutes"},
		{"stops<=0", nil, "above 0"},
		{"stops<=NaN", nil, "above 0"},
		{"", nil, "not a requirement"},
		{"promise,", nil, "not a requirement"},
	} {
		got, err := ParseRequirements(c.text, stage)
		if c.err == "" && (err != nil || cmp.Diff(c.want, got) != "") {
			t.Errorf("%q: %v, %v", c.text, got, err)
		}
		if c.err != "" && (err == nil || !strings.Contains(err.Error(), c.err)) {
			t.Errorf("%q: error %v, want one with %q", c.text, err, c.err)
		}
	}
}

func FuzzParseRequirements(f *testing.F) {
	f.Add("needless<=10%,missed<=5%")
	f.Add("promise,stops<=9")
	f.Fuzz(func(t *testing.T, text string) {
		qs, err := ParseRequirements(text, plans.Stage{NeedlessRisk: .1, MissedRisk: .1})
		if err != nil {
			return
		}
		for _, q := range qs {
			if !(q.Limit >= 0) || math.IsInf(q.Limit, 0) {
				t.Errorf("%q: limit %v", text, q.Limit)
			}
			written := string(q.Quantity) + "<=" + strconv.FormatFloat(q.Limit, 'f', -1, 64)
			again, err := ParseRequirements(written, plans.Stage{})
			if err != nil || len(again) != 1 || again[0].Quantity != q.Quantity || math.Abs(again[0].Limit-q.Limit) > 1e-4*(1+q.Limit) {
				t.Errorf("%q is written as %q, which reads as %v, %v", text, written, again, err)
			}
		}
	})
}

// TestAgainst: 50 of 1000 has the 99% score interval 3.50% to 7.09%; none of
// 1000 the interval 0 to 0.659% (the formula of Wilson 1927, computed by hand).
func TestAgainst(t *testing.T) {
	for _, c := range []struct {
		c     Chance
		limit float64
		want  Standing
	}{
		{Exact(.1), .1, Within}, {Exact(.1 + 1e-13), .1, Within}, {Exact(.1001), .1, Beyond},
		{Chance{Value: .05, Visits: 1000}, .0715, Within}, {Chance{Value: .05, Visits: 1000}, .0705, Open}, {Chance{Value: .05, Visits: 1000}, .0355, Open}, {Chance{Value: .05, Visits: 1000}, .0345, Beyond},
		{Chance{Value: 0, Visits: 1000}, .0067, Within}, {Chance{Value: 0, Visits: 1000}, .0065, Open},
	} {
		if got := c.c.Against(c.limit); got != c.want {
			t.Errorf("%v against %v: %v, want %v", c.c, c.limit, got, c.want)
		}
	}
	if (Mean{9, .1}).Against(9.3) != Within || (Mean{9, .1}).Against(9.1) != Open || (Mean{9, .1}).Against(8.7) != Beyond || (Mean{Value: 9}).Against(9) != Within {
		t.Error("means are judged wrongly")
	}
}

func TestJudge(t *testing.T) {
	row := Row{World: "rho", Needless: Exact(.12), Missed: Exact(.04),
		Stops: [3]Mean{{Value: 5}, {Value: 7}, {Value: 6}}, Minutes: [3]Mean{{Value: 40}, {Value: 56}, {Value: 48}}}
	pools := PoolLines([3]Pool{{Zone: Low, Fields: 2, Wrong: Chance{Value: .05, Visits: 1000}, Stops: Mean{6, .01}}, {Zone: Between}, {Zone: High, Fields: 1, Wrong: Chance{Value: .2, Visits: 1000}}})
	lines := append([]Line{row.Line("rho, rho 0.2")}, pools...)
	if len(lines) != 3 {
		t.Fatalf("%d lines", len(lines))
	}
	faults, err := Judge([]Requirement{{NeedlessRisk, .1, false}, {NeedlessRisk, .045, false}, {MissedRisk, .1, false}, {StopsWalked, 6.5, false}, {MinutesSpent, 60, false}}, lines)
	if err != nil {
		t.Fatal(err)
	}
	type brief struct {
		What     Quantity
		Limit    float64
		Line     string
		Standing Standing
	}
	var got []brief
	for _, f := range faults {
		got = append(got, brief{f.Requirement.Quantity, f.Requirement.Limit, f.Line, f.Standing})
	}
	want := []brief{
		{NeedlessRisk, .1, "rho, rho 0.2", Beyond},
		{NeedlessRisk, .045, "rho, rho 0.2", Beyond},
		{NeedlessRisk, .045, "fields at or below the lower bound", Open},
		{MissedRisk, .1, "fields at or above the upper bound", Beyond},
		{StopsWalked, 6.5, "rho, rho 0.2", Beyond},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if _, err := Judge([]Requirement{{MissedRisk, .1, false}}, pools[:1]); err == nil {
		t.Error("a requirement holds where nothing was said of it")
	}
	if faults, err := Judge(nil, nil); err != nil || faults != nil {
		t.Error("nothing required, and it does not hold")
	}
}

func TestSplitFields(t *testing.T) {
	fields := []pilot.Field{{Name: "A", Date: "2026-06-01"}, {Name: "B", Stage: "leafing"}, {Name: "C", Stage: "budding"}, {Name: "a", Date: "2026-06-08"}, {Name: "D"}}
	s := SplitFields(fields, []string{"A"}, "Leafing")
	var kept []string
	for _, f := range s.Fields {
		kept = append(kept, f.Name)
	}
	if d := cmp.Diff([]string{"B", "D"}, kept); d != "" {
		t.Error(d)
	}
	if len(s.Fitted) != 2 || len(s.OtherStage) != 1 {
		t.Errorf("left out %v and %v", s.Fitted, s.OtherStage)
	}
	if s := SplitFields(fields, nil, ""); len(s.Fields) != 5 {
		t.Error("fields are left out of a plan with one unnamed stage")
	}
	if err := CheckFitted(fields, []string{"b", "A"}); err != nil {
		t.Error(err)
	}
	if err := CheckFitted(fields, []string{"E"}); err == nil || !strings.Contains(err.Error(), `"E"`) {
		t.Errorf("error %v", err)
	}
}
