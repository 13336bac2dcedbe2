package main

import (
	"context"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/validate"
)

type linesFlags struct {
	situation *situation
	method    *option[string]
	stage     *option[string]
	at        *option[string]
	walks     *option[int]
	seed      *option[uint64]
}

func studyLines(e env) studyPart {
	f := &linesFlags{
		situation: newSituation(), method: methodFlag(), stage: stageFlag(),
		at:    newOption("at", "`LEVEL` true level of the field, such as 15%, or for a mean per leaf 40", notEmpty).withoutValue("the threshold"),
		walks: newOption("walks", "`COUNT` walks to draw", whole(1, 1_000_000)).withDefault("1000"),
		seed:  seedFlag(),
	}
	f.situation.rho.withoutValue("with a plan, the clumped end of its range")
	f.situation.k.withoutValue("with a plan, the clumped end of its range")
	return studyPart{
		name:      "lines",
		usage:     "draw many walks on a plan's decision table: which stop early, which err",
		arguments: "[PLAN.json]",
		description: `Walks a plan many times through fields of one true level and draws the running totals after each stop: how dense the walks are between the numbers, and where they end. Beside each simulated share stands the exact chance. Without a plan, the flags of design state one.

$ stopwise study lines plan.json --stage leafing --at 22%
$ stopwise study lines --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1 --method lines --at 15%`,
		flags: append(f.situation.flags(), f.method, f.stage, f.at, f.walks, f.seed),
		show:  func(ctx context.Context, c *cli.Context) (report.Output, error) { return f.show(ctx, e, c) },
	}
}

func (f *linesFlags) show(ctx context.Context, e env, c *cli.Context) (report.Output, error) {
	s, err := f.plan(ctx, e, c)
	if err != nil {
		return report.Output{}, err
	}
	level := s.Threshold
	if f.at.set {
		levels, err := parseLevels(s.Measure, []string{f.at.value})
		if err != nil {
			return report.Output{}, err
		}
		level = levels[0]
	}
	w, err := f.world(s, level, c.NArg() == 1)
	if err != nil {
		return report.Output{}, err
	}
	st, err := validate.Climb(ctx, s, w.Population(), validate.Options{Visits: f.walks.value, Seed: f.seed.value})
	if err != nil {
		return report.Output{}, err
	}
	r := linesResult{s: s, world: w, seen: st, exact: s.Evaluate(w), seed: f.seed.value}
	return r.output(), nil
}

// world returns the kind of field that is walked: the clumped end of the plan's
// own range, or what was asked for beside a plan.
func (f *linesFlags) world(s *plans.StagePlan, level float64, fromFile bool) (plans.World, error) {
	asked, other := f.situation.rho, f.situation.k
	if s.Measure == plans.MeanPerLeaf {
		asked, other = other, asked
	}
	if other.set {
		return plans.World{}, usageError("--%s does not go with a plan for %s; use --%s", other.Name, s.Measure, asked.Name)
	}
	if !fromFile || !asked.set {
		return s.Clumped(level), nil
	}
	clump, err := single(asked)
	return s.World(level, clump), err
}

// plan reads a plan, or makes one from flags.
func (f *linesFlags) plan(ctx context.Context, e env, c *cli.Context) (*plans.StagePlan, error) {
	if c.NArg() > 1 {
		return nil, usageHint("see stopwise study lines --help", "study lines takes one plan, not %d arguments", c.NArg())
	}
	var plan *plans.Plan
	var err error
	if c.NArg() == 1 {
		if err := f.flagsBesidePlan(c.Args().First()); err != nil {
			return nil, err
		}
		if plan, err = readPlan(e, c.Args().First()); err != nil {
			return nil, err
		}
	} else {
		if f.situation.auto() {
			return nil, usageError("--plants-per-stop: give a number here")
		}
		if c.NumFlags() == 0 {
			return nil, usageHint("such as stopwise study lines plan.json, or --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1", "study lines needs a plan or the flags of one")
		}
		p, err := f.situation.protocol()
		if err != nil {
			return nil, err
		}
		if plan, err = designWithProgress(ctx, e, p, plans.DesignOptions{Method: plans.Method(f.method.value)}); err != nil {
			return nil, designError(err)
		}
	}
	s, err := plan.Stage(f.stage.value)
	if err != nil {
		return nil, usageError("%v", err)
	}
	return s, nil
}

// flagsBesidePlan refuses what the plan already says.
func (f *linesFlags) flagsBesidePlan(file string) error {
	x := f.situation
	for _, o := range []anOption{x.lower, x.upper, x.lowerMean, x.upperMean, x.needless, x.missed, x.plants, x.minStops, x.maxStops, x.taylor, x.walk, x.plant, f.method} {
		if name, _, set := o.given(); set {
			return usageError("%s goes without a plan; %s has its own", name, file)
		}
	}
	return nil
}
