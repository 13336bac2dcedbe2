package studying

import (
	"context"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

type linesFlags struct {
	situation *shell.Situation
	method    *shell.Option[string]
	stage     *shell.Option[string]
	last      *shell.Option[string]
	at        *shell.Option[string]
	walks     *shell.Option[int]
	seed      *shell.Option[uint64]
	plot      *shell.Option[string]
}

func studyLines(e shell.Env) shell.Question {
	f := &linesFlags{
		situation: shell.NewSituation(), method: shell.MethodFlag(), stage: shell.StageFlag(), last: shell.LastFlag(),
		at:    shell.NewOption("at", "`LEVEL` true level of the field, such as 15%, or for a mean per leaf 40", shell.NotEmpty).WithoutValue("the threshold"),
		walks: shell.NewOption("walks", "`COUNT` walks to draw", shell.Whole(1, 1_000_000)).WithDefault("1000"),
		seed:  shell.SeedFlag(),
		plot:  shell.PlotFlag("the walks piling up on the decision table"),
	}
	f.situation.Rho.WithoutValue("with a plan, the clumped end of its range")
	f.situation.K.WithoutValue("with a plan, the clumped end of its range")
	f.situation.CountRho.WithoutValue("with a plan, the clumped end of its range")
	return shell.Question{
		Name:      "lines",
		Usage:     "draw many walks on a plan's decision table: which stop early, which err",
		Arguments: "[PLAN.json]",
		Description: `Walks a plan many times through fields of one true level and draws the running totals after each stop: how dense the walks are between the numbers, and where they end. Beside each simulated share stands the exact chance. Without a plan, the flags of design state one.

$ stopwise study lines plan.json --stage leafing --at 22%
$ stopwise study lines --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1 --method lines --at 15%`,
		Flags:  append(f.situation.Flags(), f.method, f.stage, f.last, f.at, f.walks, f.seed, f.plot),
		Answer: func(ctx context.Context, c *cli.Context) (report.Output, error) { return f.show(ctx, e, c) },
	}
}

func (f *linesFlags) show(ctx context.Context, e shell.Env, c *cli.Context) (report.Output, error) {
	s, err := f.plan(ctx, e, c)
	if err != nil {
		return report.Output{}, err
	}
	level := s.Threshold
	if f.at.Set {
		levels, err := shell.ParseLevels(f.at.Name, s.Measure, []string{f.at.Value})
		if err != nil {
			return report.Output{}, err
		}
		level = levels[0]
	}
	w, err := f.world(s, level, c.NArg() == 1)
	if err != nil {
		return report.Output{}, err
	}
	st, err := validate.Climb(ctx, s, w.Population(), validate.Options{Visits: f.walks.Value, Seed: f.seed.Value})
	if err != nil {
		return report.Output{}, err
	}
	r := linesResult{s: s, world: w, seen: st, exact: s.Count(w.Population()), seed: f.seed.Value}
	out := r.output()
	return out, shell.Draw(out.Doc, f.plot, r.crowd)
}

// world returns the kind of field that is walked: the clumped end of the plan's
// own range, or what was asked for beside a plan.
func (f *linesFlags) world(s *plans.StagePlan, level float64, fromFile bool) (plans.World, error) {
	x := f.situation
	if err := shell.ClumpingGoes(s.Measure, x.Rho, x.K, x.CountRho); err != nil {
		return plans.World{}, err
	}
	if !fromFile {
		return s.Clumped(level), nil
	}
	var given [2]*float64
	for i, o := range []*shell.Option[plans.Range]{shell.ClumpFlag(s.Measure, x.Rho, x.K), x.CountRho} {
		if !o.Set {
			continue
		}
		value, err := shell.Single(o)
		if err != nil {
			return plans.World{}, err
		}
		given[i] = &value
	}
	return s.With(given[0], given[1])(level), nil
}

// plan reads a plan, or makes one from flags.
func (f *linesFlags) plan(ctx context.Context, e shell.Env, c *cli.Context) (*plans.StagePlan, error) {
	x := f.situation
	if c.NArg() > 0 {
		if err := shell.NoneOf("goes without a plan; "+c.Args().First()+" has its own", x.Lower, x.Upper, x.LowerMean, x.UpperMean, x.Threshold, x.Needless, x.Missed, x.Plants, x.MinStops, x.MaxStops, x.Taylor, x.Iwao, x.HoldUnder, x.Counting, x.Cap, x.Points, x.Walk, x.Plant, f.method); err != nil {
			return nil, err
		}
		return shell.OnlyTable(e, c, f.stage, f.last)
	}
	if x.Auto() {
		return nil, shell.UsageError("--plants-per-stop: give a number here")
	}
	if c.NumFlags() == 0 {
		return nil, shell.UsageHint("such as stopwise study lines plan.json, or --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1", "study lines needs a plan or the flags of one")
	}
	p, err := x.Protocol()
	if err != nil {
		return nil, err
	}
	plan, err := shell.DesignWithProgress(ctx, e, p, plans.DesignOptions{Method: plans.Method(f.method.Value)})
	if err != nil {
		return nil, shell.DesignError(err)
	}
	s, err := plan.Stage(f.stage.Value)
	if err != nil {
		return nil, shell.UsageError("%w", err)
	}
	return shell.TableFor(s, f.last)
}
