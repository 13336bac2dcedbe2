package fit

import (
	"flag"
	"fmt"
	"math"
	"strings"
	"testing"

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

// What counts do not carry is missing, and says why.
func TestCountsThatCarryNothing(t *testing.T) {
	even := []int{3, 2, 3, 4, 3, 3, 2, 3}
	r := must(Fit(read(t, leafRows(even, even, even, even, even)), Options{}))
	if r.K.Estimate.Missing != underdispersed || r.K.Estimate.Known() || !(r.K.Estimate.Lower > 1) || !math.IsInf(r.K.Estimate.Upper, 1) {
		t.Errorf("%+v", r.K.Estimate)
	}
	if r.Taylor.B.Missing != "all fields are at the same level" {
		t.Errorf("%+v", r.Taylor)
	}
	none := must(Fit(read(t, leafRows([]int{0, 0, 0, 0})), Options{}))
	if none.K.Estimate.Missing != "all counts are 0" || none.K.Fit.Known() || none.Taylor.A.Missing != "0 of the fields can be used; at least 3 are needed" {
		t.Errorf("%+v", none)
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
	})
}

// TestSparseFields: with fewer infested plants than stops rho is by the
// likelihood over fields, with few such fields by the adjusted profile.
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
	many := must(Fit(data(8, 0, 0, 2, 0, 1, 0), Options{}))
	if many.Rho.Method != OverFields || many.Rho.Estimate.Value != many.Rho.Pooled.Sparse.Value {
		t.Errorf("%+v", many.Rho.Method)
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
	if few.Rho.Method != AdjustedProfile || few.Rho.Pooled.Sparse.Known() {
		t.Errorf("%+v", few.Rho.Method)
	}
	dense := must(Fit(data(8, 0, 3, 2, 0, 1, 5), Options{}))
	if dense.Rho.Method != AdjustedProfile || dense.Rho.Pooled.Sparse.Known() {
		t.Errorf("%+v", dense.Rho.Method)
	}
}
