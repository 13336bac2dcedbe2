// Package trying holds the command validate, which tries a plan on made and on
// seen fields.
package trying

import (
	"context"
	"errors"
	"fmt"
	"math"
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
		Action: shell.Interruptible(func(ctx context.Context, c *cli.Context) error {
			err := v.run(ctx, e, c)
			if errors.Is(err, context.Canceled) {
				return shell.Failure("interrupted; nothing was written")
			}
			return err
		}),
	}
}

func (v *validation) run(ctx context.Context, e shell.Env, c *cli.Context) error {
	s, err := shell.OnlyTable(e, c, v.stage, v.last)
	if err != nil {
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
		what := say.Required(q)
		text := fmt.Sprintf("required %s does not hold: %s: %s", what, worst.Line, faultValue(*worst))
		if worst.Standing == validate.Open {
			text = fmt.Sprintf("required %s is not shown to hold: %s: %s, too close to call; give more --visits", what, worst.Line, faultValue(*worst))
		}
		if worst.Standing == validate.Unknown {
			text = fmt.Sprintf("required %s is not known to hold: it depends on how often the sign is seen", what)
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
