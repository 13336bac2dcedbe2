package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/validate"
)

// The worlds that --simulate takes: those of package validate, and made fields
// walked along a route.
const spaceWorld = "space"

var simulateWorlds = []string{validate.OtherRho, validate.OtherK, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops, spaceWorld}

// validation holds the flags of validate.
type validation struct {
	stage, format     *option[string]
	simulate          *option[[]string]
	rho, k            *option[plans.Range]
	overlooked, alarm *option[float64]
	data              *option[string]
	fitted            *option[[]string]
	independent       *cli.BoolFlag
	patterns          *option[[]string]
	routes            *option[[]string]
	hectares, spots   *option[float64]
	spotRadius, speed *option[float64]
	visits            *option[int]
	seed              *option[uint64]
	require, plot     *option[string]
}

func validateCommand(e env) *cli.Command {
	v := &validation{
		stage: stageFlag(), format: formatFlag(),
		simulate: newOption("simulate", "`WORLDS` what to try, with commas between: rho, k, mixture, patches, misread, short, space (see above)",
			listOf(simulateWorlds)).withoutValue("all but space; only the data where --data is given"),
		rho: rhoFlag().withoutValue("around the plan's own range"), k: kFlag().withoutValue("around the plan's own range"),
		overlooked: shareOrNone("overlooked", "`SHARE` share of the infested plants that the scout takes for clean ones"),
		alarm:      shareOrNone("false-alarm", "`SHARE` share of the clean plants that the scout takes for infested ones"),
		data:       newOption("data", "`FILE.csv` counts from fields that the plan was not made from", notEmpty),
		fitted: newOption("fitted-on", "`FIELDS` the fields that the plan's constants were fitted to, by name with commas between, or the file that holds them; they are left out",
			parseList),
		independent: &cli.BoolFlag{Name: "all-fields-independent", Usage: "says that no field of --data was used to fit the plan's constants"},
		patterns:    newOption("pattern", "`PATTERNS` where the pest sits in made fields, with commas between: "+either(texts(validate.Patterns)), listOf(texts(validate.Patterns))).withoutValue("all"),
		routes:      newOption("route", "`ROUTES` how made fields are walked, with commas between: "+either(texts(validate.Routes)), listOf(texts(validate.Routes))).withoutValue("all"),
		hectares:    newOption("field-ha", "`NUMBER` size of made fields in hectares", positive).withoutValue("the protocol's, or 40"),
		spots:       newOption("hot-spots", "`NUMBER` mean number of hot spots in a made field", positive).withDefault("8"),
		spotRadius:  newOption("spot-radius", "`METRES` radius of a hot spot (standard deviation)", positive).withDefault("50"),
		speed:       newOption("speed", "`NUMBER` metres walked in a minute", positive).withDefault("60"),
		visits:      newOption("visits", "`COUNT` simulated visits in each situation", whole(100, 10_000_000)).withDefault("10000"),
		seed:        seedFlag(),
		require:     newOption("require", "`LIST` what must hold, such as needless<=10%,missed<=5%,stops<=9,minutes<=60, or promise for what the stage promises; exit status 1 where it does not", notEmpty),
		plot:        plotFlag("a made field with a walk through it"),
	}
	return &cli.Command{
		Name:      "validate",
		Usage:     "try a plan on other worlds, on seen fields and on made fields",
		ArgsUsage: "PLAN.json",
		Description: `Shows whether a plan keeps its promise where its assumptions do not hold, and on real fields. What the model allows is exact; the rest is simulated and carries its standard error. The same seed gives the same numbers on any machine.

$ stopwise validate plan.json --stage boot
$ stopwise validate plan.json --stage boot --data fields.csv --all-fields-independent
$ stopwise validate plan.json --stage boot --pattern gradient --route w,transect --plot field.svg
$ stopwise validate plan.json --stage boot --simulate rho --rho 0..0.12 --require promise

The worlds of --simulate are

  rho      plants of a stop more or less alike than the plan takes them to be
  k        for a mean per leaf: counts more or less clumped
  mixture  clumping that differs from field to field
  patches  the same share and rho, but no pest at all outside patches
  misread  plants taken for what they are not
  short    fewer plants at a stop than planned
  space    made fields where the pest sits in spots, along an edge or on a gradient, walked along a route`,
		Flags: []cli.Flag{v.stage, v.simulate, v.rho, v.k, v.overlooked, v.alarm, v.data, v.fitted, v.independent,
			v.patterns, v.routes, v.hectares, v.spots, v.spotRadius, v.speed, v.visits, v.seed, v.require, v.plot, v.format},
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return usageHint("see stopwise validate --help", "validate takes one plan, not %d arguments", c.NArg())
			}
			ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
			defer cancel()
			err := v.run(ctx, e, c)
			if errors.Is(err, context.Canceled) {
				return failure("interrupted; nothing was written")
			}
			return err
		},
	}
}

func (v *validation) run(ctx context.Context, e env, c *cli.Context) error {
	plan, err := readPlan(e, c.Args().First())
	if err != nil {
		return err
	}
	s, err := plan.Stage(v.stage.value)
	if err != nil {
		return usageError("%v", err)
	}
	worlds, err := v.worlds(s)
	if err != nil {
		return err
	}
	independent := v.independent.Value || c.Bool(v.independent.Name)
	if err := v.consistent(worlds, independent); err != nil {
		return err
	}
	var required []validate.Requirement
	if v.require.set {
		if required, err = validate.ParseRequirements(v.require.value, s.Stage); err != nil {
			return usageError("--require: %v", err)
		}
	}
	r := &validationResult{stage: s, visits: v.visits.value, seed: v.seed.value, required: required}
	if v.data.set {
		if r.data, err = v.readData(e, s); err != nil {
			return err
		}
	}
	if err := r.csvHolds(v.format.value, worlds); err != nil {
		return err
	}
	if err := v.compute(ctx, e, worlds, r); err != nil {
		return err
	}
	faults, err := validate.Judge(required, r.lines())
	if err != nil {
		return usageError("--require: %v", err)
	}
	r.faults = faults
	if v.plot.set {
		if err := v.draw(r); err != nil {
			return err
		}
	}
	if err := report.Write(e.Out, v.format.value, r.output()); err != nil {
		return err
	}
	return faultErrors(required, faults)
}

// worlds returns what to try.
func (v *validation) worlds(s *plans.StagePlan) ([]string, error) {
	if v.simulate.set {
		for _, w := range v.simulate.value {
			if err := worldFits(s, w); err != nil {
				return nil, err
			}
		}
		return v.simulate.value, nil
	}
	var implied []string
	if anySet(v.patterns, v.routes, v.hectares, v.spots, v.spotRadius, v.speed, v.plot) {
		implied = append(implied, spaceWorld)
	}
	if anySet(v.overlooked, v.alarm) {
		implied = append(implied, validate.Misreading)
	}
	if len(implied) > 0 || v.data.set {
		for _, w := range implied {
			if err := worldFits(s, w); err != nil {
				return nil, err
			}
		}
		return implied, nil
	}
	if s.Measure == plans.MeanPerLeaf {
		return []string{validate.OtherK, validate.Mixture, validate.Misreading, validate.ShortStops}, nil
	}
	return []string{validate.OtherRho, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops}, nil
}

// worldFits refuses worlds that say nothing of a plan's measure.
func worldFits(s *plans.StagePlan, world string) error {
	shares := []string{validate.OtherRho, validate.PatchesOnly, spaceWorld}
	if s.Measure == plans.MeanPerLeaf && slices.Contains(shares, world) {
		return usageError("--simulate %s goes with a plan for the share infested; this one is for a mean per leaf", world)
	}
	if s.Measure == plans.ShareInfested && world == validate.OtherK {
		return usageError("--simulate k goes with a plan for a mean per leaf; this one is for the share infested, use rho")
	}
	return nil
}

func anySet(options ...anOption) bool {
	return slices.ContainsFunc(options, func(o anOption) bool {
		_, _, set := o.given()
		return set
	})
}

// consistent refuses flags that would do nothing.
func (v *validation) consistent(worlds []string, independent bool) error {
	for _, need := range []struct {
		flag  anOption
		with  []string
		other anOption // that serves as well
	}{
		{v.rho, []string{validate.OtherRho, validate.Mixture, validate.PatchesOnly, spaceWorld}, nil},
		{v.k, []string{validate.OtherK, validate.Mixture}, nil},
		{v.overlooked, []string{validate.Misreading}, nil},
		{v.alarm, []string{validate.Misreading}, nil},
		{v.patterns, []string{spaceWorld}, nil}, {v.routes, []string{spaceWorld}, nil}, {v.hectares, []string{spaceWorld}, nil},
		{v.spots, []string{spaceWorld}, nil}, {v.spotRadius, []string{spaceWorld}, nil}, {v.speed, []string{spaceWorld}, nil},
		{v.plot, []string{spaceWorld}, nil},
		{v.visits, []string{validate.ShortStops, spaceWorld}, v.data},
		{v.seed, []string{validate.ShortStops, spaceWorld}, v.data},
	} {
		name, _, set := need.flag.given()
		if !set || overlap(worlds, need.with) || need.other != nil && anySet(need.other) {
			continue
		}
		with := "--simulate " + either(need.with)
		if need.other != nil {
			other, _, _ := need.other.given()
			with += ", or " + other
		}
		return usageError("%s does nothing here; it goes with %s", name, with)
	}
	switch {
	case !v.data.set && v.fitted.set:
		return usageError("--fitted-on goes with --data")
	case !v.data.set && independent:
		return usageError("--all-fields-independent goes with --data")
	case v.fitted.set && independent:
		return usageError("--fitted-on and --all-fields-independent cannot be used together; give one of them")
	case v.data.set && !v.fitted.set && !independent:
		return usageHint("name the fields that the plan's constants were fitted to with --fitted-on FIELD,... (they are left out), "+
			"or say with --all-fields-independent that there are none", "a plan does well on the data that made it")
	}
	return nil
}

func overlap(a, b []string) bool {
	return slices.ContainsFunc(a, func(x string) bool { return slices.Contains(b, x) })
}

// compute runs everything that was asked for.
func (v *validation) compute(ctx context.Context, e env, worlds []string, r *validationResult) error {
	s := r.stage
	o := validate.Options{Visits: v.visits.value, Seed: v.seed.value}
	walk := v.walkOptions(s, o)
	if slices.Contains(worlds, spaceWorld) {
		if err := walk.Ground.Check(); err != nil {
			return usageError("made fields: %s", strings.TrimPrefix(err.Error(), "validate: "))
		}
	}
	var total int64
	if slices.Contains(worlds, validate.ShortStops) {
		total += validate.SurveyShortVisits(o)
	}
	if slices.Contains(worlds, spaceWorld) {
		total += int64(len(walk.Patterns)) * int64(o.Visits)
	}
	if r.data != nil {
		total += int64(len(r.data.split.Fields)) * int64(o.Visits)
	}
	progress := report.NewProgress(e.Err, "simulating", total)
	defer progress.Done()
	o.Progress = progress.Add
	walk.Progress = progress.Add
	rho, k := given(v.rho), given(v.k)
	for _, w := range worlds {
		if err := ctx.Err(); err != nil {
			return err
		}
		switch w {
		case validate.OtherRho:
			r.surveys = append(r.surveys, validate.SurveyClumping(s, rho))
		case validate.OtherK:
			r.surveys = append(r.surveys, validate.SurveyClumping(s, k))
		case validate.Mixture:
			over := rho
			if s.Measure == plans.MeanPerLeaf {
				over = k
			}
			r.surveys = append(r.surveys, validate.SurveyMixture(s, over))
		case validate.PatchesOnly:
			r.surveys = append(r.surveys, validate.SurveyPatches(s, rho))
		case validate.Misreading:
			slip, err := v.slip(s)
			if err != nil {
				return err
			}
			r.surveys = append(r.surveys, validate.SurveyMisread(s, slip))
		case validate.ShortStops:
			short, err := validate.SurveyShort(ctx, s, o)
			if err != nil {
				return err
			}
			r.surveys = append(r.surveys, short)
		case spaceWorld:
			rows, err := validate.Walks(ctx, s, walk)
			if err != nil {
				return err
			}
			r.walks, r.walk = rows, walk
		}
	}
	if r.data == nil {
		return nil
	}
	fields, err := validate.Resample(ctx, s, r.data.split.Fields, o)
	if err != nil {
		return err
	}
	slices.SortStableFunc(fields, func(a, b validate.FieldResult) int {
		switch {
		case a.Level < b.Level:
			return -1
		case a.Level > b.Level:
			return 1
		}
		return 0
	})
	r.fields = fields
	return nil
}

func given(o *option[plans.Range]) *plans.Range {
	if !o.set {
		return nil
	}
	return &o.value
}

func (v *validation) slip(s *plans.StagePlan) (*validate.Slip, error) {
	if v.alarm.set && s.Measure == plans.MeanPerLeaf {
		return nil, usageError("--false-alarm goes with a plan for the share infested; this one is for a mean per leaf")
	}
	if !v.overlooked.set && !v.alarm.set {
		return nil, nil
	}
	return &validate.Slip{Overlooked: v.overlooked.value, FalseAlarm: v.alarm.value}, nil
}

func (v *validation) walkOptions(s *plans.StagePlan, o validate.Options) validate.WalkOptions {
	hectares := 40.0
	if c := s.Costs; c != nil && c.FieldHa > 0 {
		hectares = c.FieldHa
	}
	set(v.hectares, &hectares)
	w := validate.WalkOptions{Options: o, Patterns: validate.Patterns, Routes: validate.Routes, Speed: v.speed.value,
		Ground: validate.GroundOf(hectares, v.spots.value, v.spotRadius.value)}
	if v.patterns.set {
		w.Patterns = typed[validate.Pattern](v.patterns.value)
	}
	if v.routes.set {
		w.Routes = typed[validate.Route](v.routes.value)
	}
	if s.Measure == plans.ShareInfested {
		w.Rho = s.Clumped(s.Threshold).Clump
		if v.rho.set {
			w.Rho = v.rho.value.High
		}
	}
	return w
}

// faultErrors returns one error for each requirement that does not hold: the
// worst line, and how many more there are.
func faultErrors(required []validate.Requirement, faults []validate.Fault) error {
	var out []error
	for _, q := range uniqueRequirements(required) {
		var worst *validate.Fault
		n := 0
		for i, f := range faults {
			if f.Requirement != q {
				continue
			}
			n++
			if worst == nil || f.Standing > worst.Standing || f.Standing == worst.Standing && f.Value > worst.Value {
				worst = &faults[i]
			}
		}
		if worst == nil {
			continue
		}
		text := fmt.Sprintf("required %s does not hold: %s: %s", q, worst.Line, faultValue(*worst))
		if worst.Standing == validate.Open {
			text = fmt.Sprintf("required %s is not shown to hold: %s: %s, too close to call; give more --visits", q, worst.Line, faultValue(*worst))
		}
		if n > 1 {
			text += fmt.Sprintf(" (and %s more)", report.Count(n-1, "line", "lines"))
		}
		out = append(out, failure("%s", text))
	}
	return errors.Join(out...)
}

func faultValue(f validate.Fault) string {
	risk := f.Requirement.Quantity == validate.NeedlessRisk || f.Requirement.Quantity == validate.MissedRisk
	show := func(x float64) string {
		if risk {
			return report.Percent(x)
		}
		return report.Number(x, 3)
	}
	if f.SE == 0 {
		return show(f.Value)
	}
	return show(f.Value) + " ± " + show(f.SE)
}

func notEmpty(s string) (string, error) {
	if s = strings.TrimSpace(s); s == "" {
		return "", errEmpty
	}
	return s, nil
}

// shareOrNone returns a flag that takes a share from 0 to below 1.
func shareOrNone(name, usage string) *option[float64] {
	return newOption(name, usage, func(s string) (float64, error) {
		x, err := plans.ParseShare(s)
		if err == nil && x >= 1 {
			err = fmt.Errorf("%q is out of range; it must be below 100%%", s)
		}
		return x, err
	})
}

// listOf returns a reader of words with commas between them, each one of the
// choices.
func listOf(choices []string) func(string) ([]string, error) {
	return func(s string) ([]string, error) {
		list, err := parseList(s)
		if err != nil {
			return nil, err
		}
		var out []string
		for _, w := range list {
			if !slices.Contains(choices, w) {
				return nil, fmt.Errorf("%q is not known; write %s", w, either(choices))
			}
			if !slices.Contains(out, w) {
				out = append(out, w)
			}
		}
		return out, nil
	}
}

func texts[T ~string](list []T) []string { return typed[string](list) }

func typed[T, S ~string](list []S) []T {
	out := make([]T, len(list))
	for i, x := range list {
		out[i] = T(x)
	}
	return out
}

// orNullSE returns the standard error of a simulated chance, nil for an exact one.
func orNullSE(c validate.Chance) *float64 {
	if c.IsExact() {
		return nil
	}
	se := c.SE()
	return &se
}
