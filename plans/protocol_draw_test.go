package plans

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Values a person, a script or a slip of the hand could leave in a protocol.
var oddValues = []string{
	"0", "-0.0", "1", "-1", "2", "20", "0.5", "1e-9", "1e-300", "5e-324", "1e9", "1e300", "9223372036854775807", "inf", "-inf", "nan", "true", "1979-05-27",
	`"10%"`, `"20%"`, `"99.9999999%"`, `"1e-9%"`, `"0.1"`, `"0.05..0.2"`, `"0..0.999999"`, `"1e-9..1e9"`, `"2..1"`, `""`, `" "`, `"leafing"`, `"mean per leaf"`, `"share infested"`, `"\u0000"`,
	"[]", "[3.2, 1.5]", "[1e9, 3]", "[1e-9, 1e-9]", "[1, 2, 3]", "{}", "{a = 1}",
}

// Any value anywhere: an answer with the line, or a plan that keeps its laws.
func TestOddProtocols(t *testing.T) {
	good := map[string][]string{
		"":            {`title = "x"`, `crop = "x"`},
		"sample_unit": {"leaves = 2", "tally = 5"},
		"stop":        {"plants = 4", "minimum_stops = 2", "maximum_stops = 6", "walk_minutes = 3", "plant_minutes = 0.2"},
		"clumping":    {`rho = "0.05..0.2"`, "k = 0.8", "count_rho = 0.1"},
		"coming_back": {"days_until_found = 7", "lead_days = 2"},
		"costs":       {"crop_per_ha = 1", "treatment_per_ha = 1", "scout_per_hour = 1", "field_ha = 1"},
	}
	bounds := []string{"lower = 0.1", "upper = 0.2", "threshold = 0.15"}
	rest := []string{"needless_risk = 0.1", "missed_risk = 0.1", "late_loss = 0.5", `sign = "x"`, "sign_stops = 1"}
	sections := []string{"", "sample_unit", "stop", "clumping", "coming_back", "costs"}
	// one is true about once in so many draws; rapid prefers small numbers.
	one := func(in int) *rapid.Generator[bool] {
		return rapid.Map(rapid.Uint64(), func(x uint64) bool { return x*0x9e3779b97f4a7c15>>32%uint64(in) == 7 })
	}
	accepted, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		var text strings.Builder
		lines := func(from []string, leaveOut int) {
			used := map[string]bool{}
			for _, line := range from {
				key, _, _ := strings.Cut(line, " =")
				if used[key] || one(leaveOut).Draw(t, "leave out") {
					continue
				}
				used[key] = true
				if one(30).Draw(t, "odd") {
					line = key + " = " + rapid.SampledFrom(oddValues).Draw(t, "value")
				}
				fmt.Fprintln(&text, line)
			}
		}
		if rapid.Bool().Draw(t, "Taylor") {
			good["clumping"][1] = "taylor = [3.2, 1.5]"
		} else {
			good["clumping"][1] = "k = 0.8"
		}
		for _, s := range sections {
			if s != "" {
				fmt.Fprintf(&text, "[%s]\n", s)
			}
			lines(good[s], 80)
		}
		for i := range rapid.IntRange(1, 2).Draw(t, "stages") {
			fmt.Fprintln(&text, "[[stage]]")
			lines([]string{fmt.Sprintf("name = \"%d\"", i), rapid.SampledFrom([]string{`measure = "share infested"`, `measure = "mean per leaf"`}).Draw(t, "measure")}, 80)
			lines(bounds, 80)
			lines(rest, 80)
		}
		p, err := ReadProtocol([]byte(text.String()))
		if err != nil {
			refused++
			for _, e := range err.(interface{ Unwrap() []error }).Unwrap() {
				var in *InputError
				if !errors.As(e, &in) || in.Text() == "" {
					t.Fatalf("%v", e)
				}
				if in.Line == 0 && !strings.Contains(in.Message, "no growth stage") && !strings.Contains(in.Message, "is missing") {
					t.Fatalf("no line: %v\n%s", e, text.String())
				}
			}
			return
		}
		accepted++
		// What a protocol may leave out, but no plan of means.
		checkPlan(t, p.Each(func(s *Stage) {
			if s.Clumping.CountRho == nil {
				s.Clumping.CountRho = &Range{}
			}
		}))
	})
	if accepted == 0 || refused == 0 {
		t.Errorf("%d protocols accepted, %d refused", accepted, refused)
	}
}

// checkPlan makes the plan of an accepted protocol and checks what every plan must
// keep.
func checkPlan(t rapid.TB, p Protocol) {
	t.Helper()
	if err := p.Check(); err != nil {
		t.Fatalf("accepted, but %v", err)
	}
	if !small(p) {
		return
	}
	plan, err := designLines(p)
	if err != nil {
		if strings.Contains(err.Error(), "stop") {
			t.Fatalf("lines made no table: %v", err)
		}
		return
	}
	for _, s := range plan.Stages {
		for _, r := range s.Risks {
			if !(r.Needless >= 0 && r.Needless <= 1+1e-9 && (r.Missed >= 0 && r.Missed <= 1+1e-9 || s.Sign != nil && s.Sign.Chance == 0 && math.IsNaN(r.Missed))) {
				t.Fatalf("risks %+v of %+v", r, s.Stage)
			}
		}
		for _, w := range s.Worlds(s.Threshold) {
			if e := Evaluate(s.Table, w.Population()); !near(e.Act+e.Leave, 1, 1e-9) {
				t.Fatalf("chances sum to %g in %+v", e.Act+e.Leave, w)
			}
		}
		if _, err := s.Check([]Count{{Total: 1}, {Total: 0, Plants: 1}}[:min(2, s.Table.Stops())]); err != nil {
			t.Fatal(err)
		}
	}
	written, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	back, err := ReadPlan(written)
	if err != nil {
		t.Fatalf("own plan refused: %v", err)
	}
	if diff := samePlan(plan, back); diff != "" {
		t.Fatal(diff)
	}
}
