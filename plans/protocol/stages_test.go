package protocol

import (
	"fmt"
	"strings"
	"testing"
)

const twoStages = `[stop]
plants = 5
[clumping]
rho = 0.1
k = 0.8
count_rho = 0.1
[[stage]]
name = "leafing"
lower = 0.1
upper = 0.2
needless_risk = 0.1
missed_risk = 0.1
[[stage]]
name = "podding"
measure = "mean per leaf"
lower = 2
upper = 4
needless_risk = 0.1
missed_risk = 0.1
`

// A fault is told where its value stands: once in a section that all stages
// share, else in the stage.
func TestStageFaultsHaveTheirLines(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{"plants = 5", "plants = 0", "line 2: plants per stop is 0; accepted: a whole number from 1 to 10000"},
		{`measure = "mean`, "plants = 0\nmeasure = \"mean", "line 15: plants per stop is 0; accepted: a whole number from 1 to 10000"},
		{`measure = "mean`, "k = 0\nmeasure = \"mean", "line 15: k is 0; accepted: from 0.001 up"},
		{"count_rho = 0.1", "count_rho = \"0..1\"", "line 6: count_rho is 0..1; accepted: from 0 to 0.95"},
		{`measure = "mean`, "maximum_stops = 2\nmeasure = \"mean", "line 15: maximum number of stops 2 is below the minimum of 4"},
		{`measure = "mean`, "unit = \"two words\"\nmeasure = \"mean", "line 15: unit is \"two words\"; accepted: one word for one unit, such as stem or sweep"},
		{`measure = "mean`, "poisson = 1\nmeasure = \"mean", "line 15: poisson: 1 is not accepted; write true or false, without quotes"},
		{`measure = "mean`, "sign_absent = true\nmeasure = \"mean", "line 15: sign_absent without sign; say in sign what must be seen"},
		{`measure = "mean per leaf"`, `measure = "mean per leav"`, `line 15: measure is "mean per leav"; accepted: "share infested" or "mean per leaf"`},
		{`measure = "mean`, "plants = \"auto\"\nmeasure = \"mean", `line 15: plants = "auto" is accepted in [stop] only: one number is found for all stages`},
		{"plants = 5", "plants = \"some\"", `line 2: plants: "some" is not accepted; write a whole number, without quotes, or "auto" for the one with the shortest visits`},
		{"k = 0.8\n", "", `line 3: k is missing, and stage "podding" needs it; write k = 0.8 (or taylor = [a, b], or iwao = [a, b])`},
	} {
		_, err := Read([]byte(strings.Replace(twoStages, c.old, c.new, 1)))
		if got := fmt.Sprint(err); got != c.want {
			t.Errorf("%q:\n got %s\nwant %s", c.new, got, c.want)
		}
	}
}

// The plants per stop may be left to be searched for: the flag says so, and the
// stages have the default number until then.
func TestAutoPlants(t *testing.T) {
	for text, want := range map[string]bool{twoStages: false, strings.Replace(twoStages, "plants = 5", `plants = "auto"`, 1): true} {
		p, err := Read([]byte(text))
		if err != nil || p.AutoPlants != want || want && p.Stages[1].Stop.Plants != DefaultStop.Plants {
			t.Errorf("%v: %+v, %v", want, p, err)
		}
	}
}

func TestStageReplaces(t *testing.T) {
	text := strings.Replace(twoStages, `measure = "mean`, "taylor = [2, 1.4]\nunit = \"sweep\"\nlead_days = 4\nsign = \"bronzed tips\"\nsign_absent = true\nmeasure = \"mean", 1)
	p, err := Read([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	leafing, podding := p.Stages[0], p.Stages[1]
	// One law of counts stands in the other's place; what is beside it stays.
	if podding.Law() != (Law{Kind: TaylorLaw, A: 2, B: 1.4, CountRho: Range{.1, .1}}) || leafing.Clumping.Taylor != nil || leafing.Clumping.K == nil || podding.Clumping.K != nil {
		t.Errorf("laws %+v and %+v", leafing.Clumping, podding.Clumping)
	}
	if leafing.Law() != (Law{Kind: RhoLaw, Range: Range{.1, .1}}) {
		t.Errorf("%+v", leafing.Law())
	}
	if podding.UnitWord() != "sweep" || leafing.UnitWord() != "plant" || leafing.Unit.Word != "" {
		t.Errorf("units %q and %q", leafing.UnitWord(), podding.UnitWord())
	}
	want := DefaultComingBack
	want.LeadDays = 4
	if leafing.ComingBack != nil || *podding.ComingBack != want {
		t.Errorf("coming back %+v and %+v", leafing.ComingBack, podding.ComingBack)
	}
	if !strings.Contains(strings.Join(p.Defaults, "\n"), "days_until_found of stage podding = 7") {
		t.Errorf("what a stage took for granted is not told: %q", p.Defaults)
	}
	// Not seen at one stop or more.
	if g := *podding.Sign; !g.Absent || !g.Met(0) || g.Met(1) {
		t.Errorf("%+v", g)
	}
	changed := p.Each(func(s *Terms) {
		s.Stop.Plants = 9
		if s.ComingBack != nil {
			s.ComingBack.LeadDays = 1
		}
	})
	if p.Stages[0].Stop.Plants != 5 || podding.ComingBack.LeadDays != 4 || changed.Stages[1].Stop.Plants != 9 || changed.Stages[1].ComingBack.LeadDays != 1 {
		t.Error("a change of all stages reached the protocol that it started from, or not all of its own")
	}
}
