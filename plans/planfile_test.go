package plans

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"stopwise/plans/internal/planfile"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

const changedPlan = "the plan was changed after it was made, so its risks no longer hold; make it again with design"

func samePlan(a, b *Plan) string {
	return cmp.Diff(a, b, cmpopts.IgnoreUnexported(StagePlan{}), cmpopts.EquateNaNs())
}

func planText(t testing.TB, plan *Plan) []byte {
	t.Helper()
	text, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func mixedPlan(t testing.TB) *Plan {
	t.Helper()
	p, err := ReadProtocol(protocolText(t, "full"))
	if err != nil {
		t.Fatal(err)
	}
	plan := linesPlan(t, p)
	plan.Program = "stopwise 1.2.3"
	return plan
}

// poissonPlan has an infinite k, which JSON has no number for.
func poissonPlan(t testing.TB) *Plan {
	t.Helper()
	p, err := ReadProtocol([]byte(strings.Replace(string(protocolText(t, "small")), "[3.2, 1.5]", "[1, 1]", 1)))
	if err != nil {
		t.Fatal(err)
	}
	return linesPlan(t, p)
}

// A plan that is written and read is the same plan, and gives the same answers.
func TestPlanFileRoundTrip(t *testing.T) {
	for name, plan := range map[string]*Plan{
		"shipped": linesPlan(t, shippedProtocol(t)), "mixed": mixedPlan(t), "Poisson": poissonPlan(t),
	} {
		text := planText(t, plan)
		back, err := ReadPlan(text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if diff := samePlan(plan, back); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
		if again := planText(t, back); !bytes.Equal(text, again) {
			t.Errorf("%s: the file changes when it is written again", name)
		}
		for i, s := range plan.Stages {
			counts := []Count{{Total: 1}, {Total: 2, Plants: 3}}
			want, err := s.Check(counts)
			if err != nil {
				t.Fatal(err)
			}
			got, err := back.Stages[i].Check(counts)
			if diff := cmp.Diff(want, got, cmpopts.EquateNaNs()); diff != "" || err != nil {
				t.Errorf("%s: %v %s", name, err, diff)
			}
		}
	}
}

// The form of the file is a promise to scripts.
func TestPlanFileForm(t *testing.T) {
	var file map[string]any
	if err := json.Unmarshal(planText(t, mixedPlan(t)), &file); err != nil {
		t.Fatal(err)
	}
	if file["kind"] != "stopwise plan" || file["version"] != 3.0 || file["program"] != "stopwise 1.2.3" {
		t.Errorf("%v %v %v", file["kind"], file["version"], file["program"])
	}
	rows := file["stages"].([]any)[0].(map[string]any)["rows"].([]any)
	first, last := rows[0].(map[string]any), rows[11].(map[string]any)
	want := map[string]any{"stop": 1.0, "plants": 5.0, "leave": nil, "act": nil}
	if diff := cmp.Diff(want, first, cmpopts.EquateNaNs()); diff != "" {
		t.Error(diff)
	}
	if last["plants"] != 60.0 || last["act"].(float64) != last["leave"].(float64)+1 {
		t.Errorf("%v", last)
	}
}

// Whatever single byte is changed, left out or put in: the file is refused, or the
// plan is the same as before (as with a blank between two values).
func TestPlanFileDamage(t *testing.T) {
	plan := mixedPlan(t)
	text := planText(t, plan)
	refused, same := 0, 0
	check := func(t rapid.TB, damaged []byte) {
		if bytes.Equal(damaged, text) {
			return
		}
		got, err := ReadPlan(damaged)
		if err != nil {
			refused++
			return
		}
		same++
		if diff := samePlan(plan, got); diff != "" {
			t.Fatalf("read as another plan: %s", diff)
		}
	}
	for i := range text {
		if i%16 > 0 && !*all {
			continue
		}
		damaged := append([]byte(nil), text...)
		damaged[i] = `0 "1-`[i%5]
		check(t, damaged)
		if i%3 == 0 {
			check(t, append(damaged[:i], text[i+1:]...))
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		damaged := append([]byte(nil), text...)
		for range rapid.IntRange(1, 3).Draw(t, "bytes") {
			damaged[rapid.IntRange(0, len(text)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "byte")
		}
		check(t, damaged)
	})
	if refused == 0 || same == 0 {
		t.Errorf("%d refused, %d the same", refused, same)
	}
}

// A file that ends too early is never a plan; only the last line's end can go.
func TestPlanFileTruncated(t *testing.T) {
	text := planText(t, mixedPlan(t))
	step := 23
	if *all {
		step = 1
	}
	for n := (len(text) - 2) % step; n < len(text)-1; n += step {
		if _, err := ReadPlan(text[:n]); err == nil {
			t.Fatalf("%d of %d bytes read as a plan", n, len(text))
		}
	}
	if _, err := ReadPlan(text[:len(text)-1]); err != nil {
		t.Errorf("without the last line's end: %v", err)
	}
}

// Every value of the file is guarded: change any one, leave it out or add one, and
// the plan is refused. Only null may stand for 0 or for nothing: the plan is the
// same.
func TestPlanFileEveryValue(t *testing.T) {
	plan := mixedPlan(t)
	var file any
	if err := json.Unmarshal(planText(t, plan), &file); err != nil {
		t.Fatal(err)
	}
	changes := 0
	try := func(what string, mayBeSame bool) {
		t.Helper()
		text, err := json.Marshal(file)
		if err != nil {
			t.Fatal(err)
		}
		changes++
		back, err := ReadPlan(text)
		if err == nil && !(mayBeSame && samePlan(plan, back) == "") {
			t.Errorf("%s: not noticed", what)
		}
	}
	var visit func(path string, v any, set func(any))
	visit = func(path string, v any, set func(any)) {
		change := func(x any) {
			set(x)
			try(fmt.Sprintf("%s: %v for %v", path, x, v), x == nil)
			set(v)
		}
		switch x := v.(type) {
		case map[string]any:
			for key, inner := range x {
				visit(path+"."+key, inner, func(y any) { x[key] = y })
				delete(x, key)
				try(path+"."+key+" left out", true)
				x[key] = inner
			}
			x["another"] = 1
			try(path+" with another key", false)
			delete(x, "another")
		case []any:
			for i, inner := range x {
				if 1 < i && i < len(x)-1 && !*all {
					continue // of a row of numbers
				}
				visit(fmt.Sprintf("%s[%d]", path, i), inner, func(y any) { x[i] = y })
			}
			change(append([]any{1}, x...))
			if len(x) > 0 {
				change(x[:len(x)-1])
			}
		case float64:
			change(x + 1)
			change(math.Nextafter(x, 2*x+1))
			change("1")
			change(nil)
		case string:
			change(x + " ")
			change(1)
		case nil:
			change(1)
		default:
			t.Fatalf("%s: %T", path, v)
		}
	}
	visit("", file, func(any) {})
	if changes < 500 {
		t.Errorf("only %d changes", changes)
	}
}

func TestReadPlanRefuses(t *testing.T) {
	text := string(planText(t, mixedPlan(t)))
	replace := func(old, new string) string {
		if !strings.Contains(text, old) {
			t.Fatalf("%q is not in the file", old)
		}
		return strings.Replace(text, old, new, 1)
	}
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "line 1: the plan file is damaged (unexpected end of JSON input); make it again with design"},
		{"protocol", "title = 3", "line 1: the plan file is damaged (invalid character 'i' in literal true (expecting 'r')); make it again with design"},
		{"other kind", replace(`"stopwise plan"`, `"stopwise season"`), `not a plan file: kind is "stopwise season"; accepted: "stopwise plan", as design writes it`},
		{"no kind", `{"a": 1}`, `not a plan file: kind is ""; accepted: "stopwise plan", as design writes it`},
		{"list", `[1]`, `line 1: the plan file is damaged: the file cannot be of kind array; make it again with design`},
		{"newer", replace(`"version": 3`, `"version": 5`), "plan file version 5; this program reads versions up to 4: use a newer program"},
		{"newer, with new keys", replace(`"version": 3`, `"version": 5, "more": 1`), "plan file version 5; this program reads versions up to 4: use a newer program"},
		{"older", replace(`"version": 3`, `"version": 1`), "plan file version 1, of an older program; this one reads version 3: make the plan again from its protocol"},
		{"unknown key", replace(`"version": 3`, `"version": 3, "more": 1`), `the plan file is damaged (unknown field "more"); make it again with design`},
		{"wrong type", replace(`"leaves": 2`, `"leaves": "2"`), "line 19: the plan file is damaged: protocol.stages.sample_unit.leaves cannot be of kind string; make it again with design"},
		{"number cut", replace(`"leaves": 2`, `"leaves": `), "line 20: the plan file is damaged (invalid character '}' looking for beginning of value); make it again with design"},
		{"title", replace(`Russet thrips, counted`, `Russet thrips, mounted`), changedPlan},
		{"checksum", replace(`sha256:`, `sha256:0`), changedPlan},
		{"no checksum", replace(`"checksum"`, `"program"`), changedPlan},
		{"second value of a key", replace(`"leaves": 2`, `"leaves": 2, "leaves": 3`), changedPlan},
		{"more after the end", text + "{}", "line 1: the plan file is damaged (invalid character '{' after top-level value); make it again with design"},
		{"twice", text + text, ""},
	} {
		_, err := ReadPlan([]byte(c.text))
		if err == nil {
			t.Errorf("%s: no error", c.name)
			continue
		}
		if c.name == "more after the end" || c.name == "twice" {
			if !strings.Contains(err.Error(), "after top-level value") {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err.Error() != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, err, c.want)
		}
	}
	// The same key twice with the same value, other blanks and another order of
	// keys are the same plan.
	var compact bytes.Buffer
	if err := json.Compact(&compact, []byte(text)); err != nil {
		t.Fatal(err)
	}
	var file map[string]any
	if err := json.Unmarshal([]byte(text), &file); err != nil {
		t.Fatal(err)
	}
	sorted, err := json.Marshal(file)
	if err != nil {
		t.Fatal(err)
	}
	for name, same := range map[string]string{
		"compact": compact.String(), "sorted": string(sorted), "blank lines": "\n\n" + text + "\n\n", "twice the same": replace(`"leaves": 2`, `"leaves": 2, "leaves": 2`),
	} {
		back, err := ReadPlan([]byte(same))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if diff := samePlan(mixedPlan(t), back); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// A checksum alone does not make a plan: a file whose table or protocol cannot be
// is refused although its checksum fits.
func TestReadPlanChecksTable(t *testing.T) {
	for name, spoil := range map[string]func(*planFile){
		"leave above act":   func(f *planFile) { *f.Stages[0].Rows[5].Leave = 10000 },
		"no last act":       func(f *planFile) { f.Stages[0].Rows[11].Act = nil },
		"no rows":           func(f *planFile) { f.Stages[0].Rows = nil },
		"no plants":         func(f *planFile) { f.Stages[0].PlantsPerStop = 0 },
		"no risks":          func(f *planFile) { f.Stages[0].Risks = nil },
		"no effort":         func(f *planFile) { f.Stages[0].Effort = nil },
		"a stage missing":   func(f *planFile) { f.Stages = f.Stages[:1] },
		"protocol upset":    func(f *planFile) { f.Protocol.Stages[0].Upper = 1 },
		"no rho":            func(f *planFile) { f.Protocol.Stages[1].Clumping.Rho = nil },
		"other stage":       func(f *planFile) { f.Stages[0].Stage = "ripening" },
		"other plants":      func(f *planFile) { f.Stages[0].PlantsPerStop = 4 },
		"rows out of order": func(f *planFile) { f.Stages[0].Rows[3].Stop = 9 },
		"rows' plants":      func(f *planFile) { f.Stages[0].Rows[3].Plants = 9 },
	} {
		f, _, err := decodePlan(planText(t, mixedPlan(t)))
		if err != nil {
			t.Fatal(err)
		}
		spoil(&f)
		text, err := planfile.Seal(&f, &f.Checksum)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ReadPlan(text); fmt.Sprint(err) != changedPlan {
			t.Errorf("%s: %v", name, err)
		}
	}
}
