package fit

import (
	"flag"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"stopwise/sampling/pilot"
)

func read(t *testing.T, text string) *pilot.Data {
	t.Helper()
	d, err := pilot.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// stopRows writes one row a stop: a line of infested plants for each field.
func stopRows(plants int, fields ...[]int) string {
	var b strings.Builder
	b.WriteString("field,stop,plants,infested\n")
	for i, f := range fields {
		for j, x := range f {
			fmt.Fprintf(&b, "Field %c,%d,%d,%d\n", 'A'+i, j+1, plants, x)
		}
	}
	return b.String()
}

// leafRows writes one row a leaf, two plants of one leaf a stop.
func leafRows(fields ...[]int) string {
	var b strings.Builder
	b.WriteString("field,stop,plant,leaf,count\n")
	for i, f := range fields {
		for j, x := range f {
			fmt.Fprintf(&b, "Field %c,%d,%d,1,%d\n", 'A'+i, j/2+1, j%2+1, x)
		}
	}
	return b.String()
}

// The numbers in the warnings (upper end .01413, likelihood ratio 72.153) were
// found with scipy 1.10.1, by searching the likelihood in its product form.
func TestWarnings(t *testing.T) {
	spread := []int{0, 1, 5, 9, 2, 12, 0, 7}
	tests := []struct {
		name, text string
		want       []Warning
	}{
		{"nothing infested", stopRows(20, []int{0, 0}, []int{0, 0}), []Warning{
			{"data", "no plant was infested in any field: the data cannot show how the pest is spread; take counts where it is present"}}},
		{"one stop a field", stopRows(20, []int{3}, []int{9}, []int{0}, []int{4}), []Warning{
			{"data", "4 fields have one stop and say nothing of rho: Field A, Field B, Field C and 1 more; look at several stops in each field"}}},
		{"one field with one stop", stopRows(20, spread, spread, spread, spread, spread, []int{4}), []Warning{
			{"data", "1 field has one stop and says nothing of rho: Field F; look at several stops in each field"}}},
		{"few fields", stopRows(20, spread, spread), []Warning{
			{"rho", "rho is fitted to 2 fields; fewer than 5 show little of how fields differ"}}},
		{"a short binary power law", stopRows(20, spread, []int{1, 0, 2, 0}, []int{9, 12, 19, 4}), []Warning{
			{"rho", "rho is fitted to 3 fields; fewer than 5 show little of how fields differ"},
			{"binary", "the binary power law is fitted to 3 fields; 5 or more are needed for a slope worth having"}}},
		{"fields that say nothing", stopRows(20, spread, spread, spread, spread, spread, []int{0, 0}, []int{20, 20}), []Warning{
			{"data", "1 field has no infested plant and says nothing of rho"},
			{"data", "in 1 field every plant is infested, which says nothing of rho"}}},
		{"no clumping", stopRows(20, []int{5, 5, 5, 5}, []int{4, 5, 4, 4}, []int{9, 9, 8, 9}, []int{2, 2, 2, 2}, []int{7, 7, 7, 7}), []Warning{
			{"rho", "no clumping found: stops differ no more than independent plants would make them; plan with the upper end of the interval, 0.014"}}},
		{"all or none", stopRows(20, []int{0, 20, 20, 0}), []Warning{
			{"rho", "rho is fitted to 1 field; fewer than 5 show little of how fields differ"},
			{"rho", "at each stop all plants or none were infested, so that rho has no upper limit below 1"}}},
		{"fields that differ in rho", stopRows(20, []int{5, 5, 5, 5, 5, 5}, []int{0, 20, 0, 20, 19, 1}, []int{5, 6, 5, 4, 5, 5}, []int{8, 8, 9, 7, 8, 8}, []int{3, 2, 2, 3, 2, 2}), []Warning{
			{"rho", "rho differs from field to field (likelihood ratio 72.2 on 4 degrees of freedom, P = 8e-15): one value for all is a compromise, and its interval is too narrow"},
			{"binary", "the binary power law is fitted to 4 fields; 5 or more are needed for a slope worth having"}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := must(Fit(read(t, test.text), Options{}))
			if d := cmp.Diff(test.want, r.Warnings); d != "" {
				t.Error(d)
			}
		})
	}
}

func about(r *Result, what string) string {
	var out []string
	for _, w := range r.Warnings {
		if w.About == what {
			out = append(out, w.Text)
		}
	}
	return strings.Join(out, "; ")
}

func TestCountWarnings(t *testing.T) {
	even := []int{3, 2, 3, 4, 3, 3, 2, 3}
	r := must(Fit(read(t, leafRows(even, even, even, even, even)), Options{}))
	if got, want := about(r, "k"), underdispersed+", so that k has no value; the Poisson distribution fits as well"; got != want {
		t.Error(got)
	}
	if r.K.Estimate.Known() || !(r.K.Estimate.Lower > 1) || !math.IsInf(r.K.Estimate.Upper, 1) {
		t.Errorf("%+v", r.K.Estimate)
	}
	if r.Taylor.B.Missing != "all fields are at the same level" {
		t.Errorf("%+v", r.Taylor)
	}
	wild := []int{0, 0, 40, 22, 0, 1, 9, 14}
	r = must(Fit(read(t, leafRows(wild, even, []int{0, 0, 0, 0, 1, 0, 0, 0})), Options{}))
	for _, want := range []string{
		"k is fitted to 3 fields; fewer than 5 show little of how fields differ",
		"with about 8 leaves a field k comes out too large by some 12%, and its interval is too narrow; count 40 or more leaves in each field",
		"k differs from field to field (likelihood ratio",
	} {
		if !strings.Contains(about(r, "k"), want) {
			t.Errorf("%q is not in %q", want, about(r, "k"))
		}
	}
	if got, want := about(r, "taylor"), "Taylor's law is fitted to 3 fields; 5 or more are needed for a slope worth having"; !strings.HasPrefix(got, want) {
		t.Error(got)
	}
	if got, want := about(r, "iwao"), "Iwao's line is fitted to 3 fields; 5 or more are needed for a slope worth having"; !strings.HasPrefix(got, want) {
		t.Error(got)
	}
	if got, want := about(r, "tally"), "at tally number 1, 1 field is left out: no plant infested there, or every plant"; got != want {
		t.Error(got)
	}
	none := must(Fit(read(t, leafRows([]int{0, 0, 0, 0})), Options{}))
	if none.K.Estimate.Missing != "all counts are 0" || none.K.Fit.Known() || none.Taylor.A.Missing != "0 of the fields can be used; at least 3 are needed" {
		t.Errorf("%+v", none)
	}
	clumpy := []int{30, 28, 0, 1, 12, 15, 0, 0, 33, 25, 2, 1}
	r = must(Fit(read(t, leafRows(clumpy, clumpy, clumpy, clumpy, clumpy)), Options{}))
	if got := about(r, "k"); !strings.Contains(got, "the counts of one stop are alike (count rho 0.94") {
		t.Error(got)
	}
}

// One field has the maximum-likelihood rho that other programs print.
func TestOneField(t *testing.T) {
	d := read(t, stopRows(20, []int{0, 1, 5, 9, 2, 12, 0, 7}))
	r := must(Fit(d, Options{}))
	if r.Rho.Estimate != r.Rho.Pooled.ML || r.Rho.Method != MaximumLikelihood || r.Rho.Estimate != r.PerField[0].Rho.ML {
		t.Errorf("%+v", r.Rho)
	}
	if f := r.PerField[0]; f.Label != "Field A" || f.Stops != 8 || f.Plants != 160 || f.Infested != 36 {
		t.Errorf("%+v", f)
	}
}

func TestOptions(t *testing.T) {
	stops := read(t, stopRows(20, []int{3, 4}))
	leaves := read(t, leafRows([]int{3, 0, 60, 5}))
	for _, test := range []struct {
		d    *pilot.Data
		o    Options
		want string
	}{
		{stops, Options{Confidence: 95}, "confidence 95, must be between 0 and 1"},
		{stops, Options{Tally: 50}, "a tally number needs counts (one row a leaf), the data have one row a stop"},
		{stops, Options{Tallies: []int{50}}, "a tally number needs counts (one row a leaf), the data have one row a stop"},
		{leaves, Options{Tally: -1}, "tally number -1, must be at least 1"},
		{leaves, Options{Tallies: []int{0}}, "tally number 0, must be at least 1"},
	} {
		if _, err := Fit(test.d, test.o); err == nil || err.Error() != test.want {
			t.Errorf("got %v, want %s", err, test.want)
		}
	}
	if r := must(Fit(leaves, Options{Tally: 50})); r.Infested != 1 || r.Tally != 50 || r.Tallies[0].T != 50 {
		t.Errorf("%+v", r)
	}
	if r := must(Fit(leaves, Options{})); r.Infested != 3 || r.Tally != 1 || r.Confidence != 0.95 {
		t.Errorf("%+v", r)
	}
}

func TestBadInput(t *testing.T) {
	for _, test := range []struct {
		err  error
		want string
	}{
		{second(FitRho([]StopCount{{20, 3}, {20, 21}}, 0.95)), "stop 2: 21 infested of 20 plants, must be from 0 to the number of plants, which is at least 1"},
		{second(FitPooledRho([][]StopCount{{{0, 0}}}, 0.95)), "stop 1: 0 infested of 0 plants, must be from 0 to the number of plants, which is at least 1"},
		{second(FitRho(nil, 1)), "confidence 1, must be between 0 and 1"},
		{second(FitK(Counts{}, math.NaN())), "confidence NaN, must be between 0 and 1"},
		{second(FitTally(0, nil, 0.95)), "tally number 0, must be at least 1"},
		{second(CountsOf(3, -1)), "-1 units with a count of 1, must be 0 or more"},
		{second(NewCounts([]pilot.Frequency{{Count: 3, Leaves: 1}, {Count: 3, Leaves: 1}})), "count 3 after 3, must ascend"},
		{second(NewCounts([]pilot.Frequency{{Count: -3, Leaves: 1}})), "1 units with a count of -3, both must be positive (a count may be 0)"},
	} {
		if test.err == nil || test.err.Error() != test.want {
			t.Errorf("got %v, want %s", test.err, test.want)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestMissing(t *testing.T) {
	for _, test := range []struct {
		stops []StopCount
		want  string
	}{
		{nil, "there are no stops"},
		{[]StopCount{{20, 3}}, "there is one stop; at least 2 are needed"},
		{[]StopCount{{1, 0}, {1, 1}}, "there is one plant a stop; at least 2 are needed"},
		{[]StopCount{{20, 0}, {20, 0}}, "no plant was infested"},
		{[]StopCount{{20, 20}, {20, 20}}, "every plant was infested"},
	} {
		r := must(FitRho(test.stops, 0.95))
		p := must(FitPooledRho([][]StopCount{test.stops}, 0.95))
		for _, got := range []string{r.ML.Missing, r.ANOVA.Missing, r.Tarone.Missing, p.ML.Missing, p.Adjusted.Missing, p.ANOVA.Missing, p.Tarone.Missing, p.Same.Missing} {
			if got != test.want {
				t.Errorf("%v: %q, want %q", test.stops, got, test.want)
			}
		}
	}
	both := must(FitPooledRho([][]StopCount{{{20, 0}, {20, 0}}, {{20, 5}}}, 0.95))
	if want := "no field has 2 stops with infested and other plants among them"; both.ML.Missing != want {
		t.Error(both.ML.Missing)
	}
	if none := must(FitPooledRho(nil, 0.95)); none.ML.Missing != "there are no fields" {
		t.Error(none.ML.Missing)
	}
	one := must(FitRho([]StopCount{{20, 20}, {20, 20}}, 0.95))
	if one.Share.Value != 1 || !math.IsNaN(one.LogLik) {
		t.Errorf("%+v", one)
	}
}

// Whatever was counted, fitting ends without a panic, and each estimate has
// either a value within its interval or a reason. Forty sets of data unless -rapid.checks
// asks for another number than its own.
func TestFitAlwaysAnswers(t *testing.T) {
	if checks := flag.Lookup("rapid.checks").Value; checks.String() == flag.Lookup("rapid.checks").DefValue {
		usual := checks.String()
		checks.Set("40")
		defer checks.Set(usual)
	}
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.IntRange(0, 60)
		fields := rapid.SliceOfN(rapid.SliceOfN(level, 1, 10), 1, 6).Draw(t, "fields")
		d := must(pilot.Read(strings.NewReader(leafRows(fields...))))
		tally := rapid.IntRange(1, 50).Draw(t, "tally")
		r := must(Fit(d, Options{Tally: tally, Tallies: []int{1, tally}}))
		for name, e := range map[string]Estimate{
			"rho": r.Rho.Estimate, "pooled rho": r.Rho.Pooled.ML, "k": r.K.Estimate, "common k": r.K.Common.BlissOwen,
			"a": r.Taylor.A, "b": r.Taylor.B, "A": r.Iwao.A, "B": r.Iwao.B,
			"binary A": r.Binary.A, "binary B": r.Binary.B, "c": r.Tallies[0].C, "d": r.Tallies[1].D,
		} {
			if e.Known() == math.IsNaN(e.Value) {
				t.Fatalf("%s: %+v", name, e)
			}
			if e.Known() && !(e.Lower <= e.Value && e.Value <= e.Upper) {
				t.Fatalf("%s: %+v", name, e)
			}
		}
		for _, w := range r.Warnings {
			if w.Text == "" || strings.Contains(w.Text, "NaN") || strings.Contains(w.Text, "%!") {
				t.Fatal(w)
			}
		}
	})
}

// TestSparseFields: with fewer infested plants than stops rho is by the
// likelihood over fields, and the answer says so; with few such fields it warns.
func TestSparseFields(t *testing.T) {
	data := func(fields int, infested ...int) *pilot.Data {
		d := &pilot.Data{Layout: pilot.PerStop}
		for range fields {
			var f pilot.Field
			for _, x := range infested {
				f.Stops = append(f.Stops, pilot.Stop{Plants: 10, Infested: x})
			}
			d.Fields = append(d.Fields, f)
		}
		return d
	}
	says := func(r *Result, text string) bool {
		for _, w := range r.Warnings {
			if w.About == "rho" && strings.Contains(w.Text, text) {
				return true
			}
		}
		return false
	}
	many := must(Fit(data(8, 0, 0, 2, 0, 1, 0), Options{}))
	if many.Rho.Method != OverFields || many.Rho.Estimate.Value != many.Rho.Pooled.Sparse.Value || !says(many, "by the likelihood over fields") || !says(many, "errs to the low side") {
		t.Errorf("%+v, %v", many.Rho.Method, many.Warnings)
	}
	if e := many.Rho.Estimate; !(e.Lower <= e.Value && e.Value <= e.Upper) {
		t.Errorf("%+v", e)
	}
	// Fields that all say the same leave nothing to be off by.
	var able []clump
	for _, f := range data(20, 0, 0, 2, 0, 1, 0).Fields {
		var stops []StopCount
		for _, s := range f.Stops {
			stops = append(stops, StopCount{Plants: s.Plants, Infested: s.Infested})
		}
		able = append(able, must(newClump(stops)))
	}
	p := sparseProfile{able, []float64{-3, -.7}}
	if rho := sparseRho(able, .95).Value; math.Abs(p.bias(rho)) > 2e-3 {
		t.Errorf("rho %g of fields alike is off by %g", rho, p.bias(rho))
	}
	few := must(Fit(data(3, 0, 0, 2, 0, 1, 0), Options{}))
	if few.Rho.Method != AdjustedProfile || few.Rho.Pooled.Sparse.Known() || !says(few, "twice too large") {
		t.Errorf("%+v, %v", few.Rho.Method, few.Warnings)
	}
	dense := must(Fit(data(8, 0, 3, 2, 0, 1, 5), Options{}))
	if dense.Rho.Method != AdjustedProfile || dense.Rho.Pooled.Sparse.Known() {
		t.Errorf("%+v", dense.Rho.Method)
	}
}
