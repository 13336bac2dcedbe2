package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// followedPlan returns the file of a plan of the values computed outside the project,
// made by design from a table of one's own: four stops and one number, or seven rows.
func followedPlan(t *testing.T, name string) string {
	t.Helper()
	dir := t.TempDir()
	table, plan := filepath.Join(dir, name+".csv"), filepath.Join(dir, name+".json")
	rows := map[string]string{
		"a": "stop,leave,act\n4,13,14\n",
		"b": "stop,leave,act\n2,2,9\n3,5,11\n4,8,13\n5,11,15\n6,14,17\n7,18,19\n",
	}
	if err := os.WriteFile(table, []byte(rows[name]), 0o644); err != nil {
		t.Fatal(err)
	}
	status, _, errOut := runIn(t, "", "design", "--lower", "10%", "--threshold", "17%", "--upper", "25%", "--needless-risk", "10%", "--missed-risk", "10%",
		"--plants-per-stop", "20", "--rho", "0.12", "--table", table, "--out", plan)
	if status != 0 {
		t.Fatal(status, errOut)
	}
	return plan
}

// Values computed independently outside the project: an exact chain on whole days,
// first visit on day 0 or 3, then every 7 days while nothing was ever found and every
// 4 once it was.
func TestFollowOutsideValues(t *testing.T) {
	t.Parallel()
	planOf := map[string]string{"a": followedPlan(t, "a"), "b": followedPlan(t, "b")}
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
		args := append([]string{"follow", planOf[c.plan], "--until-found", "7", "--once-found", "4", "--no-growth-limit", "--format", "json"}, strings.Fields(c.args)...)
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
