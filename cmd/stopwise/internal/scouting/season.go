package scouting

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func SeasonCommand(e shell.Env) *cli.Command {
	return &cli.Command{
		Name:        "season",
		Usage:       "list, sum up, check and exchange the recorded visits",
		Description: `Works on a season file, as walk makes it. The file may be named before or after the command: stopwise season due FILE and stopwise season FILE due are the same. Copy a season file only while no walk is running; season merge NEW FILE makes a copy at any time.`,
		Subcommands: []*cli.Command{
			seasonList().Command(e), seasonShow().Command(e), seasonDue().Command(e), seasonSummary().Command(e),
			seasonExport(e), seasonImport(e).Command(e), seasonMerge().Command(e), seasonVerify(e),
			seasonVoid().Command(e), seasonRename().Command(e), seasonExpect(e).Command(e),
		},
	}
}

// visitFilter holds the flags that pick visits.
type visitFilter struct{ field, stage, from, to *shell.Option[string] }

func newVisitFilter() visitFilter {
	return visitFilter{
		field: fieldFlag(), stage: shell.StageFlag(),
		from: namedDateFlag("from", "`DATE` first day"), to: namedDateFlag("to", "`DATE` last day"),
	}
}

func (v visitFilter) flags() []cli.Flag { return []cli.Flag{v.field, v.stage, v.from, v.to} }

func (v visitFilter) filter() (season.Filter, error) {
	if v.from.Set && v.to.Set && v.from.Value > v.to.Value {
		return season.Filter{}, shell.UsageError("--from %s is after --to %s", v.from.Value, v.to.Value)
	}
	return season.Filter{Field: v.field.Value, Stage: v.stage.Value, From: v.from.Value, To: v.to.Value}, nil
}

// withoutRows is the flag of the format of what has no rows for csv.
func withoutRows() *shell.Option[string] {
	return shell.ChoiceFlag("format", "`FORMAT` output", "text", "json", "markdown").WithDefault("text")
}

// onSeason runs work on the season file that is the only argument of a command.
func onSeason(c *cli.Context, work func(file string, f *season.File) error) error {
	file, err := shell.Only(c, "season file")
	if err != nil {
		return err
	}
	f, err := season.OpenToRead(file)
	if err != nil {
		return seasonError(file, err)
	}
	defer f.Close()
	return seasonError(file, work(file, f))
}

// ofSeason answers from the season file that is the only argument.
func ofSeason(work func(file string, f *season.File) (report.Output, error)) func(context.Context, *cli.Context) (report.Output, error) {
	return func(_ context.Context, c *cli.Context) (out report.Output, err error) {
		err = onSeason(c, func(file string, f *season.File) (err error) {
			out, err = work(file, f)
			return err
		})
		return out, err
	}
}

func seasonList() shell.Question {
	by := newVisitFilter()
	return shell.Question{
		Name: "list", Usage: "list the visits", Arguments: "FILE",
		Description: `Lists the visits by day, with what they came to. The key last of json and csv says with which of several tables a visit was walked: none, found, little or more, what earlier visits had found in the field.

$ stopwise season list 2026.season --field North`,
		Flags: by.flags(),
		Answer: ofSeason(func(file string, f *season.File) (out report.Output, err error) {
			filter, err := by.filter()
			if err != nil {
				return out, err
			}
			vs, err := f.Visits(filter)
			if err != nil {
				return out, err
			}
			return listOutput(f, vs)
		}),
	}
}

func seasonShow() shell.Question {
	by := newVisitFilter()
	id := shell.TextFlag("visit", "`ID` one visit by its id, or the beginning of one")
	return shell.Question{
		Name: "show", Usage: "show visits with every answer, correction and note", Arguments: "FILE",
		Description: `Shows visits as they were walked: the stops, what was corrected or taken back, notes, the verdict, and the reasons for the next visit.

$ stopwise season show 2026.season --field North --from 2026-07-27`,
		Flags: append(by.flags(), id), Format: withoutRows(),
		Answer: ofSeason(func(file string, f *season.File) (out report.Output, err error) {
			filter, err := by.filter()
			if err != nil {
				return out, err
			}
			filter.ID = id.Value
			doc, err := f.Document(filter)
			if err != nil {
				return out, err
			}
			if len(doc.Visits) == 0 {
				return out, shell.UsageError("%s has no such visit", file)
			}
			d, err := showDocument(f, doc.Visits)
			if err != nil {
				return out, err
			}
			return report.Output{Doc: d, JSON: doc}, nil
		}),
	}
}

func seasonDue() shell.Question {
	date := dateFlag("`DATE` the day to list for").WithoutValue("today")
	within := shell.NewOption("within", "`DAYS` also list fields that are due so many days later", shell.Whole(0, 366)).WithDefault("0")
	return shell.Question{
		Name: "due", Usage: "list the fields to visit today, and overdue", Arguments: "FILE",
		Description: `Lists the fields whose next visit is due, the longest overdue first. Fields with an unfinished visit are due at once. After act no visit is due: what comes next is not the plan's to say.

$ stopwise season due 2026.season --date 2026-07-31 --within 2`,
		Flags: []cli.Flag{date, within},
		Answer: ofSeason(func(file string, f *season.File) (out report.Output, err error) {
			day := dateOf(date)
			due, err := f.Due(day, within.Value)
			if err != nil {
				return out, err
			}
			return dueOutput(f, day, within.Value, due)
		}),
	}
}

func seasonSummary() shell.Question {
	by := newVisitFilter()
	return shell.Question{
		Name: "summary", Usage: "sum the visits up over weeks and fields", Arguments: "FILE",
		Description: `Sums up by week and by field: visits, plants, the share infested, verdicts, and when the pest was first found.

$ stopwise season summary 2026.season --from 2026-07-01`,
		Flags: by.flags(),
		Answer: ofSeason(func(file string, f *season.File) (out report.Output, err error) {
			filter, err := by.filter()
			if err != nil {
				return out, err
			}
			var stages []plans.Stage
			s, err := f.Summary(filter, func(plan, stage string) (bool, error) {
				sp, err := stageOf(f, plan, stage)
				if err != nil {
					return false, err
				}
				stages = append(stages, sp.Stage)
				return sp.Measure == plans.MeanPerLeaf, nil
			})
			if err != nil {
				return out, err
			}
			return summaryOutput(s, stages), nil
		}),
	}
}

func seasonExport(e shell.Env) *cli.Command {
	by := newVisitFilter()
	format := shell.ChoiceFlag("format", "`FORMAT` output", "csv", "json").WithDefault("csv")
	out := shell.TextFlag("out", "`FILE` write it there")
	guard := &cli.BoolFlag{Name: "guard", Usage: "in csv put an apostrophe before texts that a spreadsheet would run as formulas"}
	return &cli.Command{
		Name: "export", Usage: "write the visits as a table, or whole as JSON", ArgsUsage: "FILE",
		Description: `As csv: a row for each stop, corrections applied, in the columns that pilot data have too (field, date, stage, stop, plants, infested). The column last is there where plans have tables by what earlier visits found, and says with which a visit was walked; at_cap is there where looking ended at a cap at some stop, and has yes for such stops: fit and validate refuse these, for what they hold is not known. What was corrected and the notes are in json only, with the plans: season import reads that back whole.

$ stopwise season export 2026.season --format json --out 2026.json`,
		Flags: append(by.flags(), out, guard, format),
		Action: func(c *cli.Context) error {
			return onSeason(c, func(file string, f *season.File) error {
				filter, err := by.filter()
				if err != nil {
					return err
				}
				doc, err := f.Document(filter)
				if err != nil {
					return err
				}
				o := report.Output{JSON: doc}
				if format.Value == "csv" {
					if o.Records, err = stopRecords(f, doc.Visits); err != nil {
						return err
					}
					o.Records.Guarded = c.Bool("guard")
				} else if c.Bool("guard") {
					return shell.UsageError("--guard is for --format csv")
				}
				if !out.Set {
					return report.Write(e.Out, format.Value, o)
				}
				var b strings.Builder
				if err := report.Write(&b, format.Value, o); err != nil {
					return err
				}
				return shell.WriteFile("--out", out.Value, []byte(b.String()), isExport, "an export of a season")
			})
		},
	}
}

// isExport reports whether a file was written by season export.
func isExport(old []byte) bool {
	head := string(old[:min(len(old), 200)])
	return strings.HasPrefix(head, "visit,field,date,stage,stop,") || strings.Contains(head, `"kind": "`+season.Kind+`"`)
}

// stageOf returns a stage of a plan that the season file has.
func stageOf(f *season.File, plan, stage string) (*plans.StagePlan, error) {
	p, err := f.Plan(plan)
	if err != nil {
		return nil, err
	}
	if p == nil {
		return nil, fmt.Errorf("its plan %s is not in the season file; give it with --plan", season.Short(plan))
	}
	return p.Stage(stage)
}

func seasonMerge() shell.Question {
	return shell.Question{
		Name: "merge", Usage: "read the visits of other season files into one", Arguments: "FILE OTHER...",
		Description: `Reads the visits of other season files into the first, which is made if there is none. Visits that are there already are not doubled; one that was gone on with in both files is kept in both shapes.

$ stopwise season merge 2026.season east.season west.season`,
		Format: withoutRows(),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if c.NArg() < 2 {
				return out, shell.UsageHint("see stopwise season merge --help", "season merge takes a season file and the others to read into it")
			}
			return mergeInto(c.Args().First(), c.Args().Tail())
		},
	}
}

func mergeInto(file string, others []string) (report.Output, error) {
	for _, other := range others {
		if sameFile(file, other) {
			return report.Output{}, shell.UsageError("%s and %s are the same file", file, other)
		}
		if _, err := os.Stat(other); errors.Is(err, fs.ErrNotExist) {
			return report.Output{}, shell.InputError(other, err)
		}
	}
	f, err := openSeason(file, true)
	if err != nil {
		return report.Output{}, err
	}
	defer f.Close()
	d := &report.Document{}
	out := outcomeJSON{Envelope: report.Envelope{Kind: "stopwise season merge", Version: 1}}
	for _, other := range others {
		g, err := season.OpenToRead(other)
		if err != nil {
			return report.Output{}, seasonError(other, err)
		}
		o, err := f.Merge(g)
		g.Close()
		if err != nil {
			return report.Output{}, seasonError(file, err)
		}
		out.add(other, o, 0)
		d.Para("%s: %s", other, outcomeSentence(o, 0))
	}
	return report.Output{Doc: d, JSON: out}, nil
}

func sameFile(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	if errX == nil && errY == nil {
		return os.SameFile(x, y)
	}
	return filepath.Clean(a) == filepath.Clean(b)
}

func seasonVerify(e shell.Env) *cli.Command {
	format := withoutRows()
	return &cli.Command{
		Name: "verify", Usage: "recompute every verdict from its plan and counts", ArgsUsage: "FILE",
		Description: `Checks that the file is whole and every plan as it was made, and computes the verdict and the next visit of every visit again. The exit status is 1 if anything differs.

$ stopwise season verify 2026.season`,
		Flags: []cli.Flag{format},
		Action: func(c *cli.Context) error {
			return onSeason(c, func(file string, f *season.File) error {
				r, err := f.Verify()
				if err != nil {
					return err
				}
				if err := report.Write(e.Out, format.Value, verifyOutput(r)); err != nil {
					return err
				}
				if n := len(r.Faults); n > 0 {
					return shell.Failure("%s: %s found", file, report.Count(n, "fault", "faults"))
				}
				return nil
			})
		},
	}
}
