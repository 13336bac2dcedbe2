package shell

import (
	"testing"

	"stopwise/plans"
)

// feed gives a flag a text as the parser does.
func feed[T any](o *Option[T], text string) (T, error) {
	err := o.read.Set(text)
	return o.Value, err
}

func TestFlagValues(t *testing.T) {
	accept := func(name string, got, want any, err error) {
		t.Helper()
		if err != nil || got != want {
			t.Errorf("%s: %v (%v), want %v", name, got, err, want)
		}
	}
	check := func(name string, err error, want string) {
		t.Helper()
		if err == nil || err.Error() != want {
			t.Errorf("%s: error %v, want %q", name, err, want)
		}
	}
	for _, f := range []func() *Option[float64]{LowerFlag, UpperFlag, PrevalenceFlag, ConfidenceFlag} {
		for text, want := range map[string]float64{"25%": 0.25, "0.25": 0.25, "7%": 0.07, "99.9%": 0.999} {
			got, err := feed(f(), text)
			accept(f().Name, got, want, err)
		}
		for text, want := range map[string]string{
			"25":   `"25" is not a share; write 25% or 0.25`,
			"0":    `"0" is out of range; it must be above 0% and below 100%`,
			"100%": `"100%" is out of range; it must be above 0% and below 100%`,
			"120%": `"120%" is not a share; it must lie between 0% and 100%`,
			"":     `"" is not a share; write it as 25% or 0.25`,
			"NaN":  `"NaN" is not a share; write it as 25% or 0.25`,
		} {
			_, err := feed(f(), text)
			check(f().Name, err, want)
		}
	}
	for _, f := range []func() *Option[float64]{NeedlessRiskFlag, MissedRiskFlag} {
		got, err := feed(f(), "10%")
		accept(f().Name, got, 0.1, err)
		_, err = feed(f(), "50%")
		check(f().Name, err, `"50%" is out of range; it must be above 0% and below 50%`)
	}
	for _, f := range []func() *Option[float64]{LowerMeanFlag, UpperMeanFlag} {
		got, err := feed(f(), " 12.5 ")
		accept(f().Name, got, 12.5, err)
		for _, text := range []string{"0", "-1", "NaN", "Inf", "1e999", "1,5", ""} {
			_, err = feed(f(), text)
			check(f().Name, err, `"`+text+`" is not a number above 0`)
		}
	}
	for _, f := range []func() *Option[float64]{WalkMinutesFlag, PlantMinutesFlag} {
		got, err := feed(f(), "0")
		accept(f().Name, got, 0.0, err)
		_, err = feed(f(), "-0.5")
		check(f().Name, err, `"-0.5" is not a number of 0 or more`)
	}
	for f, limit := range map[*Option[int]]string{
		PlantsPerStopFlag(): "10000", MinStopsFlag(): "1000", MaxStopsFlag(): "1000", TallyFlag(): "1000000",
	} {
		for _, text := range []string{"0", "-3", "2.5", "1e3", "99999999999999999999", limit + "0", ""} {
			f.Set = false
			_, err := feed(f, text)
			check(f.Name, err, `"`+text+`" is not a whole number from 1 to `+limit)
		}
		f.Set = false
		got, err := feed(f, limit)
		accept(f.Name, f.read.text, limit, err)
		if got == 0 {
			t.Errorf("--%s keeps nothing", f.Name)
		}
	}
	r, err := feed(RhoFlag(), "0.05..0.15")
	accept("rho", r, plans.Range{Low: 0.05, High: 0.15}, err)
	r, err = feed(RhoFlag(), "0")
	accept("rho", r, plans.Range{}, err)
	_, err = feed(RhoFlag(), "0.1..1")
	check("rho", err, `"0.1..1" is out of range; rho must be at least 0 and below 1`)
	_, err = feed(RhoFlag(), "-0.1")
	check("rho", err, `"-0.1" is out of range; rho must be at least 0 and below 1`)
	_, err = feed(RhoFlag(), "0.2..0.1")
	check("rho", err, `"0.2..0.1" runs downwards; write 0.1..0.2`)
	r, err = feed(KFlag(), "0.5")
	accept("k", r, plans.Range{Low: 0.5, High: 0.5}, err)
	_, err = feed(KFlag(), "0..2")
	check("k", err, `"0..2" is out of range; k must be above 0`)
	pair, err := feed(TaylorFlag(), "2.5, 1.4")
	accept("taylor", pair, plans.Taylor{A: 2.5, B: 1.4}, err)
	for _, text := range []string{"2.5", "2.5,", "a,b", "1,2,3", "NaN,1"} {
		_, err = feed(TaylorFlag(), text)
		check("taylor", err, `"`+text+`" is not a pair of numbers; write a,b such as 2.5,1.4`)
	}
	_, err = feed(TaylorFlag(), "0,1.4")
	check("taylor", err, `"0,1.4" is out of range; a and b must be above 0`)
	seed, err := feed(SeedFlag(), "18446744073709551615")
	accept("seed", seed, ^uint64(0), err)
	_, err = feed(SeedFlag(), "-1")
	check("seed", err, `"-1" is not a whole number of 0 or more`)
	_, err = feed(StageFlag(), " ")
	check("stage", err, "is empty")
	stage, err := feed(StageFlag(), " pod fill ")
	accept("stage", stage, "pod fill", err)
	for _, format := range []string{"text", "csv", "json", "markdown"} {
		got, err := feed(FormatFlag(), format)
		accept("format", got, format, err)
	}
	_, err = feed(FormatFlag(), "JSON")
	check("format", err, `"JSON" is not known; write text, csv, json or markdown`)
}

func TestOptions(t *testing.T) {
	o := LowerFlag().WithDefault("15%")
	if o.Value != 0.15 || o.Set || o.GetDefaultText() != "15%" {
		t.Errorf("default: value %v, set %t, text %q", o.Value, o.Set, o.GetDefaultText())
	}
	if _, err := feed(o, "20%"); err != nil || o.Value != 0.2 || !o.Set {
		t.Errorf("given: value %v, set %t, error %v", o.Value, o.Set, err)
	}
	if _, err := feed(o, "25%"); err == nil || o.Value != 0.2 {
		t.Errorf("given twice: value %v, error %v", o.Value, err)
	}
	low, high := MinStopsFlag(), MaxStopsFlag()
	if err := Required(low, high, StageFlag(), SeedFlag()); err == nil || err.Error() != "--min-stops, --max-stops and --stage are missing" {
		t.Error(err)
	}
	feed(low, "5")
	feed(high, "5")
	if err := Required(low, high); err != nil {
		t.Error(err)
	}
	if err := Below(low, high); err == nil || statusOf(err) != StatusInput {
		t.Error(err)
	}
}

func TestWrongDefaultIsABug(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a default that the flag itself refuses goes unnoticed")
		}
	}()
	LowerFlag().WithDefault("25")
}
