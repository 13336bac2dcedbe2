package protocol

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

func fileText(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func shippedText(t testing.TB) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "marrow-vale", "protocol.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func shippedProtocol(t testing.TB) Protocol {
	t.Helper()
	p, err := Read([]byte(shippedText(t)))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func nearRelative(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Abs(want)
}

func TestReadShippedProtocol(t *testing.T) {
	p := shippedProtocol(t)
	want := Protocol{
		Title:  "Russet thrips in field beans",
		Region: "Marrow Vale (invented)",
		Season: "2026",
		Pest:   "russet thrips (invented)",
		Crop:   "field beans",

		Stages: Everywhere(Terms{Unit: SampleUnit{Text: "one plant: the youngest open leaf, both sides", Leaves: 1, Tally: 15}, Stop: StopRules{Plants: 15, Minimum: 3, Maximum: 26, WalkMinutes: 2.5, PlantMinutes: 0.2}, Clumping: Clumping{
			Rho:    &Range{0.088, 0.171},
			Source: "invented: 16 fields, 160 stops, pilot.csv: rho 0.125, 95% interval 0.088 to 0.171",
		}, ComingBack: &ComingBack{DaysUntilFound: 6, DaysOnceFound: 3, LeadDays: 1, GrowthPerDay: 0.12, Confidence: 0.8}}, []Terms{
			{Name: "leafing", Measure: ShareInfested, Lower: 0.08, Threshold: 0.14, Upper: 0.22, NeedlessRisk: 0.10, MissedRisk: 0.05, LateLoss: 0.1},
			{Name: "budding", Measure: ShareInfested, Lower: 0.12, Threshold: 0.20, Upper: 0.30, NeedlessRisk: 0.10, MissedRisk: 0.10, LateLoss: 0.07},
			{
				Name: "pod fill", Measure: ShareInfested, Lower: 0.20, Threshold: 0.30, Upper: 0.42, NeedlessRisk: 0.10, MissedRisk: 0.10, LateLoss: 0.04,
				Sign: &Sign{Text: "bronzed leaf tips", Stops: 2, Chance: 0.75, ChanceLower: 0.4},
			},
		}...),

		Route: &Route{Kind: "balanced"},
		Costs: &Costs{"crowns (invented)", 900, 35, 22, 30, &BetaPrior{1, 6}},
		Defaults: []string{
			"measure of stage leafing = share infested",
			"measure of stage budding = share infested",
			"measure of stage pod fill = share infested",
		},
	}
	if diff := cmp.Diff(want, p); diff != "" {
		t.Error(diff)
	}
}

func TestReadFullProtocol(t *testing.T) {
	p, err := Read(fileText(t, "full"))
	if err != nil {
		t.Fatal(err)
	}
	want := Protocol{
		Title:    "Russet thrips, counted",
		Region:   "Marrow Vale (invented)",
		Cautions: "Invented numbers.",

		Stages: Everywhere(Terms{Unit: SampleUnit{Text: "one plant, two leaves", Leaves: 2}, Stop: StopRules{Plants: 5, Minimum: 3, Maximum: 12, WalkMinutes: 2.5, PlantMinutes: 1}, Clumping: Clumping{Rho: &Range{0, 0}, K: &Range{0.8, 1.6}, CountRho: &Range{}, Source: "invented"}}, []Terms{
			{Name: "leafing", Measure: MeanPerLeaf, Lower: 2, Threshold: 2.9, Upper: 4, NeedlessRisk: 0.125, MissedRisk: 0.07},
			{Name: "ripening", Measure: ShareInfested, Lower: 0.07, Threshold: 0.105, Upper: 0.14, NeedlessRisk: 0.1, MissedRisk: 0.1, LateLoss: 1, Sign: &Sign{Text: "bronzed tips", Stops: 1}},
		}...),
		Defaults: []string{"threshold of stage ripening = 10.5% (the middle of the bounds)", "sign_stops of stage ripening = 1"},
	}
	if diff := cmp.Diff(want, p); diff != "" {
		t.Error(diff)
	}
}

func TestReadSmallProtocol(t *testing.T) {
	p, err := Read(fileText(t, "small"))
	if err != nil {
		t.Fatal(err)
	}
	if p.Stages[0].Stop != DefaultStop || *p.Stages[0].ComingBack != DefaultComingBack || p.Stages[0].Unit != (SampleUnit{Leaves: 1}) || p.Costs != nil {
		t.Errorf("%+v", p)
	}
	want := []string{
		"sample_unit.leaves = 1", "stop.plants = 20", "stop.minimum_stops = 4", "stop.maximum_stops = 20",
		"stop.walk_minutes = 3", "stop.plant_minutes = 0.25", "threshold of stage leafing = 3.5 per leaf (the middle of the bounds)",
		"coming_back.days_until_found = 7", "coming_back.days_once_found = 3.5", "coming_back.lead_days = 2", "coming_back.growth_per_day = 0.3", "coming_back.confidence = 80%",
	}
	if diff := cmp.Diff(want, p.Defaults); diff != "" {
		t.Error(diff)
	}
	// Taylor's k = m^2/(a m^b - m): 3.5^2/(3.2 x 3.5^1.5 - 3.5).
	if got, want := p.Stages[0].Worlds(3.5)[0].Clump, 12.25/(3.2*3.5*math.Sqrt(3.5)-3.5); !nearRelative(got, want, 1e-14) {
		t.Errorf("k %g, want %g", got, want)
	}
}

// A byte order mark, Windows line ends and an inline section change nothing.
func TestReadProtocolForms(t *testing.T) {
	text := shippedText(t)
	want := shippedProtocol(t)
	inline := strings.Replace(text, "[stop]\n", "", 1)
	for _, line := range []string{"plants        = 15\n", "minimum_stops = 3\n", "maximum_stops = 26\n", "walk_minutes  = 2.5       # to walk to a stop\n", "plant_minutes = 0.2       # twelve seconds a plant\n"} {
		inline = strings.Replace(inline, line, "", 1)
	}
	inline = "stop = {plants = 15, minimum_stops = 3, maximum_stops = 26, walk_minutes = 2.5, plant_minutes = 0.2}\n" + inline
	for name, changed := range map[string]string{
		"byte order mark": "\ufeff" + text,
		"Windows":         strings.ReplaceAll(text, "\n", "\r\n"),
		"inline section":  inline,
	} {
		p, err := Read([]byte(changed))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if diff := cmp.Diff(want, p); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// Every slip is answered with its line and with what is accepted. The slips are
// made in the shipped protocol; lines count from its first.
func TestReadProtocolSlips(t *testing.T) {
	text := shippedText(t)
	const top = "cautions, clumping, coming_back, costs, crop, hold_under, pest, region, route, sample_unit, season, stage, stop, title"
	for _, c := range []struct{ old, new, want string }{
		// keys and sections
		{"leaves = 1", "leafs = 1", `line 12: unknown key "leafs"; accepted here: leaves, tally, text, unit`},
		{"[stop]", "[stops]", `line 15: unknown key "stops"; accepted here: ` + top},
		{"[costs]", "[cost]", `line 68: unknown key "cost"; accepted here: ` + top},
		{"[stop]", "[[stop]]", `line 15: stop must be a section: write [stop] on a line of its own`},
		{"[stop]", "[stop.x]", `line 15: unknown key "x"; accepted here: cap, counting, maximum_stops, minimum_stops, plant_minutes, plants, points, walk_minutes`},
		{"[[stage]]", "[stage]", `line 39: key stage already exists as a table, but should be an array table; write every stage with two brackets: [[stage]]`},
		{"region =", "title =", `line 5: key title is already defined`},
		{"field_ha         = 30", "", `line 68: field_ha is missing; write a number, such as field_ha = 40`},
		// spelling
		{`"8%"      # at`, `0,10 # at`, `line 32: a comma follows the value; write decimals with a point: 0.25`},
		{`walk_minutes  = 2.5`, `walk_minutes  = 3,5`, `line 19: a comma follows the value; write decimals with a point: 0.25`},
		{`"8%"      # at`, `10% # at`, `line 32: a percent sign without quotes; write percentages in quotes: "25%"`},
		{`"8%"      # at`, `.1 # at`, `line 32: a value cannot start with a point; write 0.25`},
		{`"8%"      # at`, `# at`, `line 32: the value is missing after =`},
		{`"8%"      # at`, "\n# at", `line 32: the value is missing after =`},
		{`"leafing"`, `leafing`, `line 31: a value cannot start with "l"; put text in quotes: "leafing"`},
		{`"0.088..0.171"`, `0.05..0.15`, `line 23: a point follows the value; write ranges in quotes: "0.05..0.15"`},
		{`"Russet thrips in field beans"`, `"Russet thrips`, `line 4: the quotes are not closed on this line`},
		{`"Russet thrips in field beans"`, `"Russet" thrips`, `line 4: the line must end after the value, but "t" follows`},
		{`title  =`, `title`, `line 4: expected '=' after key`},
		// kinds of values
		{"plants        = 15", `plants = "20"`, `line 16: plants: "20" is not accepted; write a whole number, without quotes, or "auto" for the one with the shortest visits`},
		{"plants        = 15", `plants = 20.5`, `line 16: plants: 20.5 is not accepted; write a whole number, without quotes`},
		{"plants        = 15", `plants = 99999999999`, `line 16: plants: 99999999999 is not accepted; write a whole number up to 2147483647`},
		{`walk_minutes  = 2.5`, `walk_minutes  = "3"`, `line 19: walk_minutes: "3" is not accepted; write a number, with a point for decimals and without quotes`},
		{`walk_minutes  = 2.5`, `walk_minutes  = inf`, `line 19: walk_minutes: +Inf is not accepted; write a number, with a point for decimals and without quotes`},
		{`"leafing"`, `3`, `line 31: name: 3 is not accepted; write text in quotes: name = "..."`},
		{`"8%"      # at`, `true # at`, `line 32: lower: true is not accepted; write lower = "25%" or lower = 0.25`},
		{`"8%"      # at`, `[0.1] # at`, `line 32: lower: [0.1] is not accepted; write lower = "25%" or lower = 0.25`},
		{`"8%"      # at`, `{x = 1} # at`, `line 32: lower: a section is not accepted; write lower = "25%" or lower = 0.25`},
		{`"0.088..0.171"`, `[0.05, 0.15]`, `line 23: rho: [0.05, 0.15] is not accepted; write rho = 0.1 or rho = "0.05..0.15"`},
		{`rho    =`, "taylor = [3.2]\nrho =", `line 23: taylor: [3.2] is not accepted; write taylor = [a, b], for example taylor = [3.2, 1.5]`},
		{`rho    =`, "taylor = [3.2, \"1.5\"]\nrho =", `line 23: taylor: [3.2, "1.5"] is not accepted; write taylor = [a, b], for example taylor = [3.2, 1.5]`},
		// shares
		{`"8%"      # at`, `10 # at`, `line 32: lower: "10" is not a share; write 10% or 0.1`},
		{`"8%"      # at`, `"10" # at`, `line 32: lower: "10" is not a share; write 10% or 0.1`},
		{`"8%"      # at`, `"0,10" # at`, `line 32: lower: "0,10" is not a share; write it as 25% or 0.25`},
		{`"8%"      # at`, `"a tenth" # at`, `line 32: lower: "a tenth" is not a share; write it as 25% or 0.25`},
		{`"8%"      # at`, `nan # at`, `line 32: lower: "NaN" is not a share; write it as 25% or 0.25`},
		{`"8%"      # at`, `-0.1 # at`, `line 32: lower: "-0.1" is not a share; it must lie between 0% and 100%`},
		{`"8%"      # at`, `"110%" # at`, `line 32: lower: "110%" is not a share; it must lie between 0% and 100%`},
		{`"8%"      # at`, `0 # at`, `line 32: lower is 0; accepted: a share above 0% and below 100%`},
		{`late_loss     = "10%"`, `late_loss     = 90`, `line 37: late_loss: "90" is not a share; write 90% or 0.9`},
		// bounds and risks
		{`"22%"     # at`, `"100%" # at`, `line 34: upper is 1; accepted: a share above 0% and below 100%`},
		{`"22%"     # at`, `"8%" # at`, `line 34: upper bound 8% is not above the lower bound 8%`},
		{`"22%"     # at`, `"7.5%" # at`, `line 34: upper bound 7.5% is not above the lower bound 8%`},
		{`"14%"`, `"5%"`, `line 33: threshold 5% is not between the bounds 8% and 22%`},
		{`"14%"`, `"22.5%"`, `line 33: threshold 22.5% is not between the bounds 8% and 22%`},
		{`missed_risk   = "5%"`, ``, `line 30: missed_risk is missing; write missed_risk = "10%" or missed_risk = 0.10`},
		{`needless_risk = "10%"`, ``, `line 30: needless_risk is missing; write needless_risk = "10%" or needless_risk = 0.10`},
		{`missed_risk   = "5%"`, `missed_risk   = "50%"`, `line 36: missed_risk is 50%; accepted: above 0% and below 50%`},
		{`missed_risk   = "5%"`, `missed_risk   = 0`, `line 36: missed_risk is 0%; accepted: above 0% and below 50%`},
		{`missed_risk   = "5%"`, `missed_risk   = 5`, `line 36: missed_risk: "5" is not a share; write 5% or 0.05`},
		{`needless_risk = "10%"`, `needless_risk = "60%"`, `line 35: needless_risk is 60%; accepted: above 0% and below 50%`},
		// clumping
		{`"0.088..0.171"`, `"0.15..0.05"`, `line 23: rho: "0.15..0.05" runs downwards; write 0.05..0.15`},
		{`"0.088..0.171"`, `"0.05-0.15"`, `line 23: rho: "0.05-0.15" is not a number or a range; write 0.1 or 0.05..0.15`},
		{`"0.088..0.171"`, `"10%"`, `line 23: rho: "10%" is not a number or a range; write 0.1 or 0.05..0.15`},
		{`"0.088..0.171"`, `1`, `line 23: rho is 1; accepted: from 0 to below 1`},
		{`"0.088..0.171"`, `-0.1`, `line 23: rho is -0.1; accepted: from 0 to below 1`},
		{`"0.088..0.171"`, `"0.5..1"`, `line 23: rho is 0.5..1; accepted: from 0 to below 1`},
		{`rho    = "0.088..0.171"   # how alike the plants of one stop are: stopwise fit pilot.csv --protocol`, ``, `line 22: rho is missing, and stage "leafing" needs it; write rho = 0.1, or a range such as rho = "0.05..0.2"`},
		{`rho    =`, "k = 0\nrho =", `line 23: k is 0; accepted: from 0.001 up`},
		{`rho    =`, "k = \"0.0001..1\"\nrho =", `line 23: k is 0.0001..1; accepted: from 0.001 up`},
		{`rho    =`, "k = \"0.5..x\"\nrho =", `line 23: k: "0.5..x" is not a number or a range; write 0.1 or 0.05..0.15`},
		{`rho    =`, "taylor = [-1, 0]\nrho =", `line 23: Taylor's a and b are -1 and 0; accepted: both above 0`},
		{`rho    =`, "k = 1\ntaylor = [3.2, 1.5]\nrho =", `line 24: more than one of k, taylor, iwao and poisson is given; keep one`},
		// stages
		{`"leafing"`, `""`, `line 31: stage without a name; add name = "leafing" or the like`},
		{`name          = "leafing"`, ``, `line 30: stage without a name; add name = "leafing" or the like`},
		{`"budding"`, `"Leafing"`, `line 40: stage "Leafing" appears twice`},
		{`lower         = "8%"`, "measure = \"share\"\nlower = \"10%\"", `line 32: measure is "share"; accepted: "share infested" or "mean per leaf"`},
		{`sign          = "bronzed leaf tips"`, ``, "line 57: sign_stops without sign; say in sign what must be seen\nline 58: sign_chance without sign; say in sign what must be seen\nline 59: sign_chance_lower without sign; say in sign what must be seen"},
		{`sign          = "bronzed leaf tips"`, `sign = ""`, `line 56: sign is empty; say what must be seen, or leave the key out`},
		{`sign_stops    = 2`, `sign_stops    = 0`, `line 57: sign_stops is 0; accepted: a whole number from 1 to 26`},
		{`sign_stops    = 2`, `sign_stops    = 27`, `line 57: sign_stops is 27; accepted: a whole number from 1 to 26`},
		// other numbers
		{"plants        = 15", "plants        = 0", `line 16: plants per stop is 0; accepted: a whole number from 1 to 10000`},
		{`minimum_stops = 3`, `minimum_stops = 40`, `line 18: maximum number of stops 26 is below the minimum of 40`},
		{`minimum_stops = 3`, `minimum_stops = 0`, `line 17: minimum number of stops is 0; accepted: a whole number from 1 to 1000`},
		{`maximum_stops = 26`, `maximum_stops = 1001`, `line 18: maximum number of stops is 1001; accepted: a whole number from 1 to 1000`},
		{`walk_minutes  = 2.5`, `walk_minutes  = -3`, `line 19: minutes to walk to a stop is -3; accepted: a number of 0 or more`},
		{`plant_minutes = 0.2`, `plant_minutes = -1`, `line 20: minutes per plant is -1; accepted: a number of 0 or more`},
		{`leaves = 1`, `leaves = 0`, `line 12: leaves per plant is 0; accepted: a whole number from 1 to 1000`},
		{`tally  = 15`, `tally  = -1`, `line 13: tally number is -1; accepted: a whole number from 1 to 1000000`},
		{`days_until_found = 6`, `days_until_found = 0`, `line 62: days between visits until found is 0; accepted: a number above 0`},
		{`days_once_found  = 3`, `days_once_found  = 0`, `line 63: days between visits once found is 0; accepted: a number above 0`},
		{`lead_days        = 1`, `lead_days        = -2`, `line 64: lead days is -2; accepted: a number of 0 or more`},
		{`growth_per_day   = 0.12`, `growth_per_day   = -0.3`, `line 65: growth per day is -0.3; accepted: a number of 0 or more`},
		{`crop_per_ha      = 900`, `crop_per_ha      = -1`, `line 70: value of the crop per hectare is -1; accepted: a number of 0 or more`},
		{`treatment_per_ha = 35`, `treatment_per_ha = -1`, `line 71: cost of a treatment per hectare is -1; accepted: a number of 0 or more`},
		{`scout_per_hour   = 22`, `scout_per_hour   = -1`, `line 72: cost of a scout's hour is -1; accepted: a number of 0 or more`},
		{`field_ha         = 30`, `field_ha         = 0`, `line 73: hectares of a field is 0; accepted: a number above 0`},
	} {
		if strings.Count(text, c.old) == 0 {
			t.Fatalf("%q is not in the protocol", c.old)
		}
		_, err := Read([]byte(strings.Replace(text, c.old, c.new, 1)))
		if got := fmt.Sprint(err); got != c.want {
			t.Errorf("%q for %q:\n got %s\nwant %s", c.new, c.old, got, c.want)
		}
	}
}

func TestReadProtocolWholeSlips(t *testing.T) {
	const top = "cautions, clumping, coming_back, costs, crop, hold_under, pest, region, route, sample_unit, season, stage, stop, title"
	const needed = `
lower = 2
upper = 4
needless_risk = 0.1
missed_risk = 0.1
`
	for _, c := range []struct{ text, want string }{
		{"", "no growth stage; add a [[stage]] with its bounds and risks"},
		{"# only a remark", "no growth stage; add a [[stage]] with its bounds and risks"},
		{"stage = []", "line 1: no growth stage; add a [[stage]] with its bounds and risks"},
		{"\nstage = 3", "line 2: stage must be a list of sections: write [[stage]] on a line of its own"},
		{"stage = [3]", "line 1: stage must be a list of sections: write [[stage]] on a line of its own"},
		{"\n[stage]\nname = \"leafing\"", "line 2: stage must be a list of sections: write [[stage]] on a line of its own"},
		{"\n[stage.leafing]", "line 2: stage must be a list of sections: write [[stage]] on a line of its own"},
		{"\na.b.c = 1", `line 2: unknown key "a"; accepted here: ` + top},
		{"title = 3\n\nseason = 2026", "line 1: title: 3 is not accepted; write text in quotes: title = \"...\"\nline 3: season: 2026 is not accepted; write text in quotes: season = \"...\""},
		{"stop = 20\n[[stage]]\nname = \"a\"\n" + needed, "line 1: stop must be a section: write [stop] on a line of its own\n" +
			"line 5: lower: \"2\" is not a share; write 2% or 0.02\nline 6: upper: \"4\" is not a share; write 4% or 0.04"},
		{
			"stop = {plants = 0}\n[clumping]\nrho = 0\n[[stage]]\nname = \"a\"\nlower = 0.1\nupper = 0.2\nneedless_risk = 0.1\nmissed_risk = 0.1",
			"line 1: plants per stop is 0; accepted: a whole number from 1 to 10000",
		},
		{
			"[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + needed,
			`k is missing, and stage "a" needs it; write k = 0.8 (or taylor = [a, b], or iwao = [a, b])`,
		},
		{
			"[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + strings.Replace(needed, "2", `"10%"`, 1),
			`line 4: lower: "10%" is not accepted; write a number, with a point for decimals and without quotes`,
		},
		{
			"[clumping]\nk = 1\n[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + strings.Replace(needed, "4", "2", 1),
			"line 7: upper bound 2 per leaf is not above the lower bound 2 per leaf",
		},
		{
			"[clumping]\nk = 1\n[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + strings.Replace(needed, "2", "0", 1),
			"line 6: lower is 0; accepted: a number above 0",
		},
		{
			"[clumping]\nk = 1\n[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + strings.Replace(needed, "4", "4000", 1),
			"line 7: 4000 insects on each of 400 leaves are 1600000 in a visit; accepted: up to 250000; examine fewer leaves, or use a share infested at a tally number",
		},
		{
			"[clumping]\ntaylor = [1e5, 1.5]\n[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + needed,
			"line 2: taylor gives k = 1.4e-05 at 2 per leaf; accepted: from 0.001 up",
		},
		{
			"[clumping]\niwao = [0, 1e5]\n[[stage]]\nname = \"a\"\nmeasure = \"mean per leaf\"" + needed,
			"line 2: iwao gives k = 1e-05 at 2 per leaf; accepted: from 0.001 up",
		},
		// Everything that is wrong is said at once, in the order of the lines.
		{"\n[[stage]]", "line 2: needless_risk is missing; write needless_risk = \"10%\" or needless_risk = 0.10\n" +
			"line 2: missed_risk is missing; write missed_risk = \"10%\" or missed_risk = 0.10\n" +
			"line 2: stage without a name; add name = \"leafing\" or the like\n" +
			"line 2: lower is missing; write lower = \"10%\" or lower = 0.10\n" +
			"line 2: upper is missing; write upper = \"10%\" or upper = 0.10"},
	} {
		_, err := Read([]byte(c.text))
		if got := fmt.Sprint(err); got != c.want {
			t.Errorf("%q:\n got %s\nwant %s", c.text, got, c.want)
		}
	}
}

// Errors carry their place, so that a caller can put the file's name before it.
func TestInputErrorPlace(t *testing.T) {
	_, err := Read([]byte("title = 3\nseason = 4"))
	var in *InputError
	if !errors.As(err, &in) {
		t.Fatalf("%v is no InputError", err)
	}
	if line, column := in.Position(); line != 1 || column != 0 || in.Text() != `title: 3 is not accepted; write text in quotes: title = "..."` {
		t.Errorf("line %d, column %d: %s", line, column, in.Text())
	}
	_, err = Read([]byte("title = \"x\"\nseason = 4,5"))
	if !errors.As(err, &in) {
		t.Fatalf("%v is no InputError", err)
	}
	if line, column := in.Position(); line != 2 || column != 11 {
		t.Errorf("line %d, column %d", line, column)
	}
}

func TestParseShare(t *testing.T) {
	for in, want := range map[string]float64{
		"25%": 0.25, "0.25": 0.25, "7%": 0.07, "29%": 0.29, "0%": 0, "100%": 1, "1": 1, "0": 0, " 12.5 % ": 0.125, "1e-3": 0.001, "1e1%": 0.1,
	} {
		if got, err := ParseShare(in); err != nil || got != want {
			t.Errorf("ParseShare(%q) = %v, %v; want %v", in, got, err, want)
		}
	}
	for in, want := range map[string]string{
		"25": `"25" is not a share; write 25% or 0.25`, "100": `"100" is not a share; write 100% or 1`, "": `"" is not a share; write it as 25% or 0.25`, "%": `"%" is not a share; write it as 25% or 0.25`,
		"0,25": `"0,25" is not a share; write it as 25% or 0.25`, "25%%": `"25%%" is not a share; write it as 25% or 0.25`,
		"101": `"101" is not a share; it must lie between 0% and 100%`, "101%": `"101%" is not a share; it must lie between 0% and 100%`,
		"-1%": `"-1%" is not a share; it must lie between 0% and 100%`, "inf": `"inf" is not a share; write it as 25% or 0.25`, "nan%": `"nan%" is not a share; write it as 25% or 0.25`,
	} {
		if got, err := ParseShare(in); fmt.Sprint(err) != want {
			t.Errorf("ParseShare(%q) = %v, %v; want %s", in, got, err, want)
		}
	}
}

func TestParseRange(t *testing.T) {
	for in, want := range map[string]Range{
		"0.1": {0.1, 0.1}, "0.05..0.15": {0.05, 0.15}, " 0.05 .. 0.15 ": {0.05, 0.15}, "0..0": {0, 0}, "1e-3..2": {0.001, 2},
	} {
		got, err := ParseRange(in)
		if err != nil || got != want {
			t.Errorf("ParseRange(%q) = %v, %v", in, got, err)
		}
		if back, err := ParseRange(got.String()); err != nil || back != got {
			t.Errorf("%v reads back as %v, %v", got, back, err)
		}
	}
	for _, in := range []string{"", "..", "0.1..", "..0.1", "0.1...0.2", "0.1..0.2..0.3", "nan", "inf", "0..inf", "0,1", "10%"} {
		if got, err := ParseRange(in); err == nil {
			t.Errorf("ParseRange(%q) = %v", in, got)
		}
	}
}

func TestGrid(t *testing.T) {
	if diff := cmp.Diff([]float64{0.1}, Range{0.1, 0.1}.Grid(9)); diff != "" {
		t.Error(diff)
	}
	g := Range{0.05, 0.15}.Grid(5)
	for i, want := range []float64{0.05, 0.075, 0.1, 0.125, 0.15} {
		if !near(g[i], want, 1e-15) {
			t.Errorf("%v", g)
		}
	}
	// Both ends are met exactly.
	for low := 1; low < 100; low++ {
		r := Range{float64(low) / 100, float64(3*low+1) / 100}
		if g := r.Grid(clumpGrid); len(g) != clumpGrid || g[0] != r.Low || g[clumpGrid-1] != r.High {
			t.Errorf("%+v: %v", r, g)
		}
	}
}

func TestRatios(t *testing.T) {
	if diff := cmp.Diff([]float64{0.8}, Range{0.8, 0.8}.Ratios(9)); diff != "" {
		t.Error(diff)
	}
	for _, r := range []Range{{0.01, 1}, {0.8, 1.6}, {0.07, 0.29}, {1, 1e300}} {
		g := r.Ratios(clumpGrid)
		if len(g) != clumpGrid || g[0] != r.Low || g[clumpGrid-1] != r.High {
			t.Errorf("%+v: %v", r, g)
		}
		for i := 1; i < clumpGrid; i++ {
			if !nearRelative(g[i]/g[i-1], math.Pow(r.High/r.Low, 1./8), 1e-9) {
				t.Errorf("%+v: %v", r, g)
			}
		}
	}
}

// Between the values of the grid the risks are not worse by more than the third
// digit shows.
func TestClumpGridIsFine(t *testing.T) {
	lines, err := rule.CountLines(2, 4, 0.01, 0.1, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	table := lines.Table(5, 3, 12, false)
	act := func(k float64) float64 { return rule.Evaluate(table, sampling.Counts{Mean: 2, K: k}).Act }
	ks, rhos := Range{0.01, 1}, Range{0, 0.5}
	coarse, fine := 0.0, 0.0
	for _, w := range (Law{Kind: KLaw, Range: ks}).Worlds(2) {
		coarse = math.Max(coarse, act(w.Clump))
	}
	for _, k := range ks.Ratios(200) {
		fine = math.Max(fine, act(k))
	}
	if fine > coarse+0.0005 {
		t.Errorf("k: worst %g on the grid, %g between", coarse, fine)
	}
	if lines, err = rule.BinomialLines(0.15, 0.30, 0.10, 0.10); err != nil {
		t.Fatal(err)
	}
	shares := lines.Table(20, 2, 20, true)
	coarse, fine = 0, 0
	for _, w := range (Law{Kind: RhoLaw, Range: rhos}).Worlds(0.15) {
		coarse = math.Max(coarse, rule.Evaluate(shares, w.Population()).Act)
	}
	for _, rho := range rhos.Grid(200) {
		fine = math.Max(fine, rule.Evaluate(shares, sampling.Infested{P: 0.15, Rho: rho}).Act)
	}
	if fine > coarse+0.0005 {
		t.Errorf("rho: worst %g on the grid, %g between", coarse, fine)
	}
}

func TestTaylorK(t *testing.T) {
	law := Taylor{A: 3.2, B: 1.5}
	mean := 4.0
	if k, want := law.K(mean), 16/(3.2*8-4); !nearRelative(k, want, 1e-14) {
		t.Errorf("k %g, want %g", k, want)
	}
	if k := (Taylor{A: 1, B: 1}).K(3); !math.IsInf(k, 1) {
		t.Errorf("variance equal to the mean: k %g, want +Inf", k)
	}
	if k := (Taylor{A: 0.5, B: 1}).K(3); !math.IsInf(k, 1) {
		t.Errorf("variance below the mean: k %g, want +Inf", k)
	}
}

func TestClumpValue(t *testing.T) {
	for _, c := range []struct {
		v    ClumpValue
		json string
	}{
		{ClumpValue{Counts: false, Value: 0.1}, `{"rho":0.1}`},
		{ClumpValue{Counts: false, Value: 0}, `{"rho":0}`},
		{ClumpValue{Counts: true, Value: 0.8}, `{"k":0.8}`},
		{ClumpValue{Counts: true, Value: math.Inf(1)}, `{"k":null}`},
		{ClumpValue{Counts: true, Value: 0.8, CountRho: 0.1}, `{"count_rho":0.1,"k":0.8}`},
	} {
		b, err := json.Marshal(c.v)
		if err != nil || string(b) != c.json {
			t.Errorf("%+v: %s, %v", c.v, b, err)
		}
		var back ClumpValue
		if err := json.Unmarshal(b, &back); err != nil || back != c.v {
			t.Errorf("%s read as %+v, %v", b, back, err)
		}
	}
	for in, want := range map[string]string{
		`{"rho":null}`: "rho is null; accepted: a number", `{}`: "clumping must be one of rho and k", `{"rho":1,"k":1}`: "clumping must be one of rho and k", `{"kappa":1}`: `clumping "kappa"; accepted: rho or k`,
	} {
		var v ClumpValue
		if err := json.Unmarshal([]byte(in), &v); fmt.Sprint(err) != want {
			t.Errorf("%s: %v, want %s", in, err, want)
		}
	}
}
