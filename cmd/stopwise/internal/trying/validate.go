// Package trying holds the command validate, which tries a plan on made and on
// seen fields.
package trying

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/signal"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

// The worlds that --simulate takes: those of package validate, and made fields
// walked along a route.
const spaceWorld = "space"

var simulateWorlds = []string{validate.OtherRho, validate.OtherK, validate.OtherAlike, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops, spaceWorld}

// validation holds the flags of validate.
type validation struct {
	stage, last, format *shell.Option[string]
	simulate            *shell.Option[[]string]
	rho, k, alike       *shell.Option[plans.Range]
	overlooked, alarm   *shell.Option[float64]
	data, field         *shell.Option[string]
	fitted              *shell.Option[[]string]
	independent         *cli.BoolFlag
	patterns            *shell.Option[[]string]
	routes              *shell.Option[[]string]
	hectares, spots     *shell.Option[float64]
	spotRadius, speed   *shell.Option[float64]
	visits              *shell.Option[int]
	seed                *shell.Option[uint64]
	require, plot       *shell.Option[string]
}

func newValidation() *validation {
	return &validation{
		stage: shell.StageFlag(), last: shell.LastFlag(), format: shell.FormatFlag(),
		simulate: shell.NewOption("simulate", "`WORLDS` what to try, with commas between: rho, k, count-rho, mixture, patches, misread, short, space (see above)",
			shell.ListOf(simulateWorlds)).WithoutValue("all but space; only the data where --data is given"),
		rho: shell.RhoFlag().WithoutValue("around the plan's own range"), k: shell.KFlag().WithoutValue("around the plan's own range"),
		alike:      shell.CountRhoFlag().WithoutValue("around the plan's own range"),
		overlooked: shareOrNone("overlooked", "`SHARE` share of the infested plants that the scout takes for clean ones, or of the insects that are not counted"),
		alarm:      shareOrNone("false-alarm", "`SHARE` share of the clean plants that the scout takes for infested ones"),
		data:       shell.NewOption("data", "`FILE.csv` counts from fields that the plan was not made from", shell.NotEmpty),
		fitted: shell.NewOption("fitted-on", "`FIELDS` the fields that the plan's constants were fitted to, by name with commas between, or the file that holds them; they are left out",
			shell.ParseList),
		independent: &cli.BoolFlag{Name: "all-fields-independent", Usage: "says that no field of --data was used to fit the plan's constants"},
		patterns:    shell.NewOption("pattern", "`PATTERNS` where the pest sits in made fields, with commas between: "+shell.Either(shell.Texts(validate.Patterns)), shell.ListOf(shell.Texts(validate.Patterns))).WithoutValue("all"),
		routes:      shell.NewOption("route", "`ROUTES` how made fields are walked, with commas between: "+shell.Either(shell.Texts(validate.Routes)), allOr(shell.Texts(validate.Routes))).WithoutValue("all"),
		field:       shell.NewOption("field", "`FILE.geojson` walk through fields with this boundary", shell.NotEmpty),
		hectares:    shell.NewOption("field-ha", "`NUMBER` size of made fields in hectares", shell.Positive).WithoutValue("the protocol's, or 40"),
		spots:       shell.NewOption("hot-spots", "`NUMBER` mean number of hot spots in a made field", shell.Positive).WithDefault("8"),
		spotRadius:  shell.NewOption("spot-radius", "`METRES` radius of a hot spot (standard deviation)", shell.Positive).WithDefault("50"),
		speed:       shell.NewOption("speed", "`NUMBER` metres walked in a minute", shell.Positive).WithDefault("60"),
		visits:      shell.NewOption("visits", "`COUNT` simulated visits in each situation", shell.Whole(100, 10_000_000)).WithDefault("10000"),
		seed:        shell.SeedFlag(),
		require:     shell.NewOption("require", "`LIST` what must hold, such as needless<=10%,missed<=5%,stops<=9,minutes<=60, or promise for what the stage promises, in the worlds that the promise speaks of and in those that are asked for; exit status 1 where it does not", shell.NotEmpty),
		plot:        shell.PlotFlag("a made field with a walk through it"),
	}
}

func ValidateCommand(e shell.Env) *cli.Command {
	v := newValidation()
	return &cli.Command{
		Name:      "validate",
		Usage:     "try a plan on other worlds, on seen fields and on made fields",
		ArgsUsage: "PLAN.json",
		Description: `Shows whether a plan keeps its promise where its assumptions do not hold, and on real fields. What the model allows is exact; the rest is simulated and carries its standard error. The same seed gives the same numbers on any machine.

$ stopwise validate plan.json --stage leafing
$ stopwise validate plan.json --stage leafing --data fields.csv --all-fields-independent
$ stopwise validate plan.json --stage leafing --pattern gradient --route w,transect --plot field.svg
$ stopwise validate plan.json --stage leafing --simulate rho --rho 0..0.12 --require promise

The worlds of --simulate are

  rho        plants of a stop more or less alike than the plan takes them to be
  k          for a mean per leaf: counts more or less clumped
  count-rho  likewise: the counts of a stop more or less alike
  mixture    clumping that differs from field to field
  patches    the same level and likeness of a stop, but no pest at all outside patches
  misread    plants taken for what they are not, insects overlooked
  short      fewer plants at a stop than planned
  space      made fields where the pest sits in spots, along an edge or on a gradient, walked along a route`,
		Flags: []cli.Flag{v.stage, v.last, v.simulate, v.rho, v.k, v.alike, v.overlooked, v.alarm, v.data, v.fitted, v.independent,
			v.patterns, v.routes, v.field, v.hectares, v.spots, v.spotRadius, v.speed, v.visits, v.seed, v.require, v.plot, shell.DetailFlag(), v.format},
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return shell.UsageHint("see stopwise validate --help", "validate takes one plan, not %d arguments", c.NArg())
			}
			ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
			defer cancel()
			err := v.run(ctx, e, c)
			if errors.Is(err, context.Canceled) {
				return shell.Failure("interrupted; nothing was written")
			}
			return err
		},
	}
}

func (v *validation) run(ctx context.Context, e shell.Env, c *cli.Context) error {
	plan, err := shell.ReadPlan(e, c.Args().First())
	if err != nil {
		return err
	}
	s, err := plan.Stage(v.stage.Value)
	if err != nil {
		return shell.UsageError("%w", err)
	}
	if s, err = shell.TableFor(s, v.last); err != nil {
		return err
	}
	worlds, err := v.worlds(s)
	if err != nil {
		return err
	}
	detailed, err := shell.Detailed(c, v.format.Value)
	if err != nil {
		return err
	}
	independent := v.independent.Value || c.Bool(v.independent.Name)
	if err := shell.ClumpingGoes(s.Measure, v.rho, v.k, v.alike); err != nil {
		return err
	}
	if err := v.consistent(worlds, independent); err != nil {
		return err
	}
	var required []validate.Requirement
	if v.require.Set {
		if required, err = validate.ParseRequirements(v.require.Value, s.Stage); err != nil {
			return shell.UsageError("--require: %w", err)
		}
		for i := range required { // worlds that were asked for are judged too
			required[i].Own = required[i].Own && !v.asked()
		}
	}
	r := &validationResult{detailed: detailed, stage: s, visits: v.visits.Value, seed: v.seed.Value, required: required,
		promised: v.require.Set && validate.HasPromise(v.require.Value)}
	if v.data.Set {
		if r.data, err = v.readData(e, s); err != nil {
			return err
		}
	}
	if err := r.csvHolds(v.format.Value, worlds); err != nil {
		return err
	}
	if err := v.compute(ctx, e, worlds, r); err != nil {
		return err
	}
	faults, err := validate.Judge(required, r.lines())
	if err != nil {
		return shell.UsageError("--require: %w", err)
	}
	r.faults = faults
	if v.plot.Set {
		if err := v.draw(r); err != nil {
			return err
		}
	}
	if err := report.Write(e.Out, v.format.Value, r.output()); err != nil {
		return err
	}
	return faultErrors(required, faults)
}

// worlds returns what to try.
func (v *validation) worlds(s *plans.StagePlan) ([]string, error) {
	if v.simulate.Set {
		for _, w := range v.simulate.Value {
			if err := worldFits(s, w); err != nil {
				return nil, err
			}
		}
		return v.simulate.Value, nil
	}
	var implied []string
	if anySet(v.patterns, v.routes, v.field, v.hectares, v.spots, v.spotRadius, v.speed, v.plot) {
		implied = append(implied, spaceWorld)
	}
	if anySet(v.overlooked, v.alarm) {
		implied = append(implied, validate.Misreading)
	}
	if len(implied) > 0 || v.data.Set {
		for _, w := range implied {
			if err := worldFits(s, w); err != nil {
				return nil, err
			}
		}
		return implied, nil
	}
	switch {
	case s.Measure == plans.MeanPerLeaf && s.MostCountRho() == 0:
		return []string{validate.OtherK, validate.Mixture, validate.Misreading, validate.ShortStops}, nil
	case s.Measure == plans.MeanPerLeaf:
		return []string{validate.OtherK, validate.OtherAlike, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops}, nil
	}
	return []string{validate.OtherRho, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops}, nil
}

// asked reports whether the user named what to try.
func (v *validation) asked() bool {
	return v.simulate.Set || v.data.Set || anySet(v.patterns, v.routes, v.hectares, v.spots, v.spotRadius, v.speed, v.plot, v.overlooked, v.alarm)
}

// worldFits refuses worlds that say nothing of a plan's measure.
func worldFits(s *plans.StagePlan, world string) error {
	counts := s.Measure == plans.MeanPerLeaf
	switch {
	case counts && world == validate.OtherRho:
		return shell.UsageError("--simulate rho goes with a plan for the share infested; this one is for a mean per leaf, use k or count-rho")
	case !counts && (world == validate.OtherK || world == validate.OtherAlike):
		return shell.UsageError("--simulate %s goes with a plan for a mean per leaf; this one is for the share infested, use rho", world)
	}
	return nil
}

func anySet(options ...shell.AnOption) bool {
	return slices.ContainsFunc(options, func(o shell.AnOption) bool {
		_, _, set := o.Given()
		return set
	})
}

// consistent refuses flags that would do nothing.
func (v *validation) consistent(worlds []string, independent bool) error {
	for _, need := range []struct {
		flag  shell.AnOption
		with  []string
		other shell.AnOption // that serves as well
	}{
		{v.rho, []string{validate.OtherRho, validate.Mixture, validate.PatchesOnly, spaceWorld}, nil},
		{v.k, []string{validate.OtherK, validate.Mixture, spaceWorld}, nil},
		{v.alike, []string{validate.OtherAlike, validate.Mixture, validate.PatchesOnly, spaceWorld}, nil},
		{v.overlooked, []string{validate.Misreading}, nil},
		{v.alarm, []string{validate.Misreading}, nil},
		{v.patterns, []string{spaceWorld}, nil}, {v.routes, []string{spaceWorld}, nil}, {v.field, []string{spaceWorld}, nil}, {v.hectares, []string{spaceWorld}, nil},
		{v.spots, []string{spaceWorld}, nil}, {v.spotRadius, []string{spaceWorld}, nil}, {v.speed, []string{spaceWorld}, nil},
		{v.plot, []string{spaceWorld}, nil},
		{v.visits, []string{validate.ShortStops, spaceWorld}, v.data},
		{v.seed, []string{validate.ShortStops, spaceWorld}, v.data},
	} {
		name, _, set := need.flag.Given()
		if !set || overlap(worlds, need.with) || need.other != nil && anySet(need.other) {
			continue
		}
		with := "--simulate " + shell.Either(need.with)
		if need.other != nil {
			other, _, _ := need.other.Given()
			with += ", or " + other
		}
		return shell.UsageError("%s does nothing here; it goes with %s", name, with)
	}
	switch {
	case !v.data.Set && v.fitted.Set:
		return shell.UsageError("--fitted-on goes with --data")
	case !v.data.Set && independent:
		return shell.UsageError("--all-fields-independent goes with --data")
	case v.fitted.Set && independent:
		return shell.UsageError("--fitted-on and --all-fields-independent cannot be used together; give one of them")
	case v.data.Set && !v.fitted.Set && !independent:
		return shell.UsageHint("name the fields that the plan's constants were fitted to with --fitted-on FIELD,... (they are left out), "+
			"or say with --all-fields-independent that there are none", "a plan does well on the data that made it")
	}
	return nil
}

func overlap(a, b []string) bool {
	return slices.ContainsFunc(a, func(x string) bool { return slices.Contains(b, x) })
}

// compute runs everything that was asked for.
func (v *validation) compute(ctx context.Context, e shell.Env, worlds []string, r *validationResult) error {
	s := r.stage
	o := validate.Options{Visits: v.visits.Value, Seed: v.seed.Value}
	walk, err := v.walkOptions(e, s, o)
	if err != nil {
		return err
	}
	if slices.Contains(worlds, spaceWorld) {
		if err := walk.Ground.Check(); err != nil {
			return shell.UsageError("made fields: %w", err)
		}
		if err := v.patterned(s, walk); err != nil {
			return err
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
	rho, k, alike := given(v.rho), given(v.k), given(v.alike)
	like := rho // how alike the units of a stop are
	if s.Measure == plans.MeanPerLeaf {
		like = alike
	}
	for _, w := range worlds {
		if err := ctx.Err(); err != nil {
			return err
		}
		switch w {
		case validate.OtherRho:
			r.surveys = append(r.surveys, validate.SurveyClumping(s, rho))
		case validate.OtherK:
			r.surveys = append(r.surveys, validate.SurveyClumping(s, k))
		case validate.OtherAlike:
			r.surveys = append(r.surveys, validate.SurveyAlike(s, alike))
		case validate.Mixture:
			over := rho
			if s.Measure == plans.MeanPerLeaf {
				over = k
			}
			r.surveys = append(r.surveys, validate.SurveyMixture(s, over, alike))
		case validate.PatchesOnly:
			r.surveys = append(r.surveys, validate.SurveyPatches(s, like))
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

func given(o *shell.Option[plans.Range]) *plans.Range {
	if !o.Set {
		return nil
	}
	return &o.Value
}

func (v *validation) slip(s *plans.StagePlan) (*validate.Slip, error) {
	if v.alarm.Set && s.Measure == plans.MeanPerLeaf {
		return nil, shell.UsageError("--false-alarm goes with a plan for the share infested; this one is for a mean per leaf")
	}
	if !v.overlooked.Set && !v.alarm.Set {
		return nil, nil
	}
	return &validate.Slip{Overlooked: v.overlooked.Value, FalseAlarm: v.alarm.Value}, nil
}

func (v *validation) walkOptions(e shell.Env, s *plans.StagePlan, o validate.Options) (validate.WalkOptions, error) {
	hectares := 40.0
	if c := s.Costs; c != nil && c.FieldHa > 0 {
		hectares = c.FieldHa
	}
	shell.Put(v.hectares, &hectares)
	w := validate.WalkOptions{Options: o, Patterns: validate.Patterns, Routes: validate.Routes, Speed: v.speed.Value,
		Ground: validate.GroundOf(hectares, v.spots.Value, v.spotRadius.Value)}
	if v.field.Set {
		if err := shell.Exclusive(v.field, v.hectares); err != nil {
			return w, err
		}
		f, err := shell.ReadField(e, v.field.Value)
		if err != nil {
			return w, err
		}
		w.Ground = validate.GroundIn(f, v.spots.Value, v.spotRadius.Value)
	}
	if v.patterns.Set {
		w.Patterns = shell.Typed[validate.Pattern](v.patterns.Value)
	}
	if v.routes.Set {
		w.Routes = shell.Typed[validate.Route](v.routes.Value)
	}
	w.Rho = validate.Likeness(s)
	if v.rho.Set {
		w.Rho = v.rho.Value.High
	}
	if v.alike.Set {
		w.Rho = v.alike.Value.High
	}
	if v.k.Set {
		w.K = v.k.Value.Low
	}
	return w, nil
}

// patterned refuses fields that would be the same whatever their pattern.
func (v *validation) patterned(s *plans.StagePlan, w validate.WalkOptions) error {
	if w.Rho > 0 || v.rho.Set || v.alike.Set || slices.Equal(w.Patterns, []validate.Pattern{validate.Uniform}) {
		return nil
	}
	flag, unit := "--rho 0.1", report.UnitsName(s.Stage)
	if s.Measure == plans.MeanPerLeaf {
		flag, unit = "--count-rho 0.15", "leaves"
	}
	return shell.UsageHint("say how alike they are in the made fields, such as "+flag,
		"the plan takes the %s of a stop as independent, and a pest that sits anywhere in particular makes them alike", unit)
}

// allOr returns a reader of lists for which all stands for every word.
func allOr(words []string) func(string) ([]string, error) {
	list := shell.ListOf(words)
	return func(s string) ([]string, error) {
		if strings.TrimSpace(s) == "all" {
			return words, nil
		}
		return list(s)
	}
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
		if worst.Standing == validate.Unknown {
			text = fmt.Sprintf("required %s is not known to hold: it depends on how often the sign is seen", q)
		}
		if n > 1 {
			text += fmt.Sprintf(" (and %s more)", report.Count(n-1, "line", "lines"))
		}
		out = append(out, shell.Failure("%s", text))
	}
	return errors.Join(out...)
}

func faultValue(f validate.Fault) string {
	if math.IsNaN(f.Value) {
		return say.NotKnown
	}
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

// shareOrNone returns a flag that takes a share from 0 to below 1.
func shareOrNone(name, usage string) *shell.Option[float64] {
	return shell.NewOption(name, usage, func(s string) (float64, error) {
		x, err := plans.ParseShare(s)
		if err == nil && x >= 1 {
			err = fmt.Errorf("%q is out of range; it must be below 100%%", s)
		}
		return x, err
	})
}

// orNullSE returns the standard error of a simulated chance, nil for an exact one.
func orNullSE(c validate.Chance) *float64 {
	if c.IsExact() || math.IsNaN(c.Value) {
		return nil
	}
	se := c.SE()
	return &se
}
