package fitting

import (
	"math"
	"strings"
	"testing"
)

func TestParseModel(t *testing.T) {
	m, err := parseModel("4.73, 1.02,0.019,12,-1.48,0.036")
	if err != nil || m.line == nil || m.line.C != 4.73 || m.line.D != 1.02 || m.line.MSE != .019 || m.line.Fields != 12 || m.line.MeanX != -1.48 || m.line.SE != .036 {
		t.Errorf("%+v (%v)", m.line, err)
	}
	if m, err := parseModel("4.73,1.02"); err != nil || m.line == nil || m.line.Uncertain() {
		t.Errorf("%+v (%v), want a line taken as exact", m, err)
	}
	for _, file := range []string{"fit.json", "./a,b.json", "4.json"} {
		if m, err := parseModel(file); err != nil || m.file != file {
			t.Errorf("%q: %+v (%v), want a file", file, m, err)
		}
	}
	for _, bad := range []string{"", " ", "4,1,2", "4,x", "4,-1", "4,1,0.1,2,0,0.1", "4,1,0.1,5.5,0,0.1", "4,1,-0.1,5,0,0.1", "NaN,1", "4,1,0.1,1e9,0,0.1"} {
		if m, err := parseModel(bad); err == nil && m.line != nil || bad == "" && err == nil {
			t.Errorf("%q accepted: %+v", bad, m)
		}
	}
}

// The mean of x that a file leaves out follows from the standard errors: in the
// invented fields of testdata/ref/tally.json it is -1.476786861489994.
func TestReadModelsImpliesMeanX(t *testing.T) {
	const text = `{"kind": "stopwise fit", "tally_models": [{"tally": 50,
		"c": {"estimate": 4.734544708119123, "standard_error": 0.0657875781660914},
		"d": {"estimate": 1.023546628054906, "standard_error": 0.0357299146740281},
		"residual_mean_square": 0.0185257292324032, "fields": 12, "valid_from": 0.03, "valid_to": FROM}]}`
	all, err := readModels([]byte(strings.Replace(text, "FROM", "0.62", 1)))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 1 || math.Abs(all[0].MeanX+1.476786861489994) > 1e-9 {
		t.Errorf("%+v", all)
	}
	if _, err := readModels([]byte(strings.Replace(text, "FROM", "0.99999", 1))); err == nil || !strings.Contains(err.Error(), "lacks x_mean") {
		t.Errorf("both signs are possible: %v", err)
	}
}

func TestReadModelsRefuses(t *testing.T) {
	for text, says := range map[string]string{
		`c,d`:                       "is not the JSON",
		`{"kind": "stopwise plan"}`: "accepted: \"stopwise fit\"",
		`{"kind": "stopwise fit", "tally_models": []}`:                                                              "has no line",
		`{"kind": "stopwise fit", "tally_models": [{"tally": 5, "c": {"estimate": null, "reason": "two fields"}}]}`: "two fields",
		`{"kind": "stopwise fit", "tally_models": [{"tally": 5, "c": {"estimate": 1}, "d": {"estimate": -2}}]}`:     "d is -2",
		`{"kind": "stopwise fit", "tally_models": [{"tally": 0, "c": {"estimate": 1}, "d": {"estimate": 2}}]}`:      "tally number 0",
		`{"kind": "stopwise fit", "tally_models": [{"tally": "x", "c": {"estimate": 1}, "d": {"estimate": 2}}]}`:    "is not the JSON",
	} {
		if all, err := readModels([]byte(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %+v (%v), want an error with %q", text, all, err, says)
		}
	}
}

// Whatever is read can be used.
func FuzzModels(f *testing.F) {
	f.Add("4.73,1.02,0.019,12,-1.48,0.036")
	f.Add("4.73,1.02")
	f.Add(`{"kind": "stopwise fit", "tally_models": [{"tally": 50, "c": {"estimate": 4.7, "standard_error": 0.07}, "d": {"estimate": 1, "standard_error": 0.04}, "residual_mean_square": 0.02, "fields": 12, "valid_from": 0.03, "valid_to": 0.6}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		if m, err := parseModel(text); err == nil {
			if (m.line == nil) == (m.file == "") {
				t.Fatalf("%q: neither or both of a line and a file", text)
			}
			if m.line != nil {
				if err := m.line.Check(); err != nil {
					t.Fatal(err)
				}
			}
		}
		all, err := readModels([]byte(text))
		if err == nil && len(all) == 0 {
			t.Fatal("no models and no error")
		}
		for _, m := range all {
			if err := m.Check(); err != nil {
				t.Fatal(err)
			}
			for _, c := range m.Spread(10) {
				if !(c.Share >= 0 && c.Share <= 1) {
					t.Fatalf("%+v: share %g", m, c.Share)
				}
			}
		}
	})
}
