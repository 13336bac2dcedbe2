package main

import (
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// The two plans of the season's outside values: 20 plants a stop, rho .12.
const never = plans.NeverAct

var followed = map[string]plans.Table{
	"a": {Units: 20, Leave: []int{-1, -1, -1, 13}, Act: []int{never, never, never, 14}},
	"b": {Units: 20, Leave: []int{-1, 2, 5, 8, 11, 14, 18}, Act: []int{never, 9, 11, 13, 15, 17, 19}},
}

func followedPlan(t *testing.T, name string) string {
	t.Helper()
	rho := plans.Range{Low: .12, High: .12}
	s, err := plans.NewStagePlan(plans.Stage{
		Measure: plans.ShareInfested, Lower: .10, Threshold: .17, Upper: .25, NeedlessRisk: .1, MissedRisk: .1,
		Unit:     plans.SampleUnit{Leaves: 1},
		Stop:     plans.StopRules{Plants: 20, Minimum: 1, Maximum: 30, WalkMinutes: 3, PlantMinutes: .25},
		Clumping: plans.Clumping{Rho: &rho},
	}, followed[name])
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), name+".json")
	if err := shell.WritePlan(file, &plans.Plan{Protocol: plans.Protocol{Stages: []plans.Stage{s.Stage}}, Stages: []*plans.StagePlan{s}}); err != nil {
		t.Fatal(err)
	}
	return file
}

// Values computed independently outside the project: an exact chain on whole days,
// first visit on day 0 or 3, then every 7 days while nothing was ever found and every
// 4 once it was.
func TestFollowOutsideValues(t *testing.T) {
	type field map[string]float64
	for _, c := range []struct {
		plan, args string
		stay, grow []field
	}{
		{plan: "a", args: "--first-day 0 --at 2%,6%,10% --days 42", stay: []field{
			{"level": .02, "p_treated": .0194294606, "visits": 10.3132031797, "stops": 41.2528127188},
			{"level": .06, "p_treated": .3027124675, "visits": 9.3106690014, "stops": 37.2426760054},
			{"level": .10, "p_treated": .7932144986, "visits": 5.9322178557}}},
		{plan: "b", args: "--first-day 0 --at 10%,6%,2% --days 42", stay: []field{
			{"level": .02, "p_treated": .0709943403, "visits": 9.3591398546, "stops": 19.9726809062},
			{"level": .06, "p_treated": .5311746602, "visits": 7.7203964259, "stops": 19.4486223158},
			{"level": .10, "p_treated": .9371921937, "visits": 4.1490984910}}},
		{plan: "a", args: "--first-day 0 --growth 0.15,0.3 --start 0.5%", grow: []field{
			{"growth": .15, "start": .005, "crossing_day": 24.7178504066, "upper_day": 27.964616907, "p_early": .0791896539, "days_after_threshold": 2.1540192899,
				"days_after_upper": .5642195497, "p_late": .1889153504, "late_days": 2, "visits": 6.4361165386, "stops": 25.7444661544, "plants": 514.889323088, "minutes": 8 * 25.7444661544},
			{"growth": .3, "p_early": .0128176943, "days_after_threshold": 2.2391151409, "days_after_upper": .9730678989, "p_late": .1661360519, "visits": 3.8423238270}}},
		{plan: "a", args: "--first-day 3 --growth 0.15 --start 0.5%", grow: []field{
			{"p_early": .0615837823, "days_after_threshold": 2.1329245466, "days_after_upper": .6002225093, "p_late": .1840299309, "visits": 5.9266122919}}},
		{plan: "b", args: "--first-day 0 --growth 0.15 --start 0.5% --days 200", grow: []field{
			{"p_early": .1199750526, "days_after_threshold": 1.3553390321, "days_after_upper": .2642973241, "p_late": .0754753997, "visits": 5.6508221734, "stops": 13.7126068614}}},
	} {
		args := append([]string{"follow", followedPlan(t, c.plan), "--until-found", "7", "--once-found", "4", "--no-growth-limit", "--format", "json"}, strings.Fields(c.args)...)
		status, out, errOut := runIn(t, "", args...)
		var got struct {
			Kind       string
			Stay, Grow []map[string]any
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil || status != 0 || got.Kind != "stopwise follow" {
			t.Fatal(status, errOut, err)
		}
		for _, list := range []struct {
			got  []map[string]any
			want []field
		}{{got.Stay, c.stay}, {got.Grow, c.grow}} {
			if len(list.got) != len(list.want) {
				t.Fatalf("%s: %d rows, want %d", c.args, len(list.got), len(list.want))
			}
			for i, want := range list.want {
				for key, x := range want {
					if y, ok := list.got[i][key].(float64); !ok || math.Abs(x-y) > 1e-7 {
						t.Errorf("%s %s: row %d, %s: %v, want %.10f", c.plan, c.args, i, key, list.got[i][key], x)
					}
				}
			}
		}
	}
}
