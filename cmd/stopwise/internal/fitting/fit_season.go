package fitting

import (
	"context"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// seasonFlags are those of a fit to the visits of a season.
type seasonFlags struct {
	season, against *shell.Option[string]
	byStage         *cli.BoolFlag
}

func newSeasonFlags() seasonFlags {
	return seasonFlags{
		season:  shell.TextFlag("season", "`FILE` a season file: fit to its visits in place of pilot counts"),
		against: shell.TextFlag("against", "`PROTOCOL` with --season: whether its range held, and what its promises became"),
		byStage: &cli.BoolFlag{Name: "by-stage", Usage: "fit every growth stage by itself; with --protocol print a section for each"},
	}
}

func (s seasonFlags) flags() []cli.Flag { return []cli.Flag{s.season, s.against, s.byStage} }

// fitSeason fits to a season file and writes what it says.
func fitSeason(ctx context.Context, e shell.Env, c *cli.Context, s seasonFlags, confidence float64, detailed bool, format string, others ...shell.AnOption) error {
	if c.NArg() > 0 {
		return shell.UsageError("fit takes pilot counts or --season, not both; leave %s or --season away", c.Args().First())
	}
	if err := shell.NoneOf("is for pilot counts and does not go with --season", others...); err != nil {
		return err
	}
	l, err := learnFile(e, s.season.Value, confidence, func(f *season.File) (*against, error) {
		if !s.against.Set {
			return nil, nil
		}
		return findPlan(ctx, e, s.against.Value, f)
	})
	if err != nil {
		return err
	}
	if c.Bool("protocol") {
		return writeSection(e)(l.section(c.Bool("by-stage")))
	}
	doc := l.brief()
	if detailed {
		doc = l.document()
	}
	return report.Write(e.Out, format, report.Output{Doc: doc, Records: report.RecordsOf(l.rows()), JSON: l.json()})
}

// learnFile reads a season file and fits to it, and holds that against a plan where
// there is one.
func learnFile(e shell.Env, file string, confidence float64, plan func(*season.File) (*against, error)) (*learning, error) {
	f, err := season.OpenToRead(file)
	if err != nil {
		return nil, shell.InputError(file, err)
	}
	defer f.Close()
	r, err := f.Records(season.Filter{})
	if err != nil {
		return nil, shell.InputError(file, err)
	}
	if len(r.Visits) == 0 {
		return nil, shell.Failure("%s has no visit that counts: nothing can be learnt from it", file)
	}
	for _, v := range r.Visits {
		for _, s := range v.Stops {
			if v.Plan.AtCap(plans.Count{Total: s.Total}) {
				return nil, shell.Failure("%s: looking ended at %d at a stop of %s on %s, and how many were infested there is not known; fit learns from visits whose stops count all that is found", file, v.Plan.Worth.Cap, v.Field, v.Date)
			}
		}
	}
	progress := report.NewProgress(e.Err, "fitting", -1)
	l, err := learn(r, confidence, func() { progress.Add(1) })
	progress.Done()
	if err != nil {
		return nil, err
	}
	l.path, l.file = file, fileTitle(file)
	a, err := plan(f)
	if err == nil && a != nil {
		err = l.hold(a)
	}
	return l, err
}
