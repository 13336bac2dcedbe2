package designing

import (
	"context"
	"errors"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func tableFlag() *shell.Option[string] {
	return shell.FileFlag("table", "`FILE` judge a decision table of your own in place of making one: a CSV file with the columns stop, leave and act (empty: never), and stage where there are several; --min-stops and --max-stops hold for what it is compared with")
}

// notForOwnTable refuses what makes no sense with a table that is given.
func notForOwnTable(c *cli.Context, s *shell.Situation, table *shell.Option[string], others ...shell.AnOption) error {
	var errs []error
	if s.Auto() {
		errs = append(errs, shell.UsageError("--plants-per-stop auto and --table cannot be used together; give the plants that the table is for"))
	}
	for _, o := range others {
		errs = append(errs, shell.Exclusive(o, table))
	}
	for _, name := range []string{"compare", "balance-costs"} {
		if c.Bool(name) {
			errs = append(errs, shell.UsageError("--%s and --table cannot be used together; give one of them", name))
		}
	}
	return errors.Join(errs...)
}

// judgeTable makes the plan of the tables of a file.
func judgeTable(ctx context.Context, e shell.Env, p plans.Protocol, file string, o plans.DesignOptions) (*plans.Plan, error) {
	text, err := shell.ReadInput(e, file)
	if err != nil {
		return nil, err
	}
	tables, err := plans.ReadTables(text, p.Stages)
	if err != nil {
		return nil, shell.InputError(file, err)
	}
	progress := report.NewProgress(e.Err, "judging and comparing", int64(len(p.Stages)))
	defer progress.Done()
	o.Progress = func(string) { progress.Add(1) }
	plan, err := plans.OwnPlan(ctx, p, tables, o)
	if err != nil {
		return nil, shell.DesignError(err)
	}
	plan.Program = shell.Version
	return plan, nil
}
