package designing

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/rule"
)

type tableJSON struct {
	report.Envelope
	Rows []tableRow `json:"rows"`
	// Counted says what a stop counts, of stages where that is not what was found.
	Counted []tableCounted `json:"counted,omitempty"`
}

type tableCounted struct {
	Stage string `json:"stage"`
	rule.Worth
	Map []int `json:"worth"` // by the infested found at a full stop, from 0; null for insects
	// From has the least insects at a full stop that are worth 1, 2, ... points.
	From []int `json:"worth_from,omitempty"`
}

type tableRow struct {
	Stage string     `json:"stage"`
	Last  plans.Last `json:"last,omitempty"` // the fields of the table, where the stage has several
	plans.Row
}

func TableCommand(e shell.Env) *cli.Command {
	stage, last := shell.StageFlag(), shell.LastFlag()
	plot := shell.PlotFlag("the table as a staircase with both boundaries")
	walk := shell.NewOption("walk", "`COUNTS` counts of the stops walked so far, such as 3,6,2/18,4, for the picture of --plot", parseWalk)
	return shell.Question{
		Name:      "table",
		Usage:     "print the stop-by-stop decision table of a plan",
		Arguments: "PLAN.json",
		Description: `Prints after which running total to leave the field and after which to act, stop by stop; of all growth stages, or of one.

$ stopwise table plan.json --stage leafing
$ stopwise table plan.json --stage leafing --plot walk.svg --walk 3,1,4,2`,
		Flags: []cli.Flag{stage, last, plot, walk},
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			file, err := shell.Only(c, "plan")
			if err != nil {
				return out, err
			}
			plan, estimate, err := shell.ReadAnyPlan(e, file)
			if err != nil {
				return out, err
			}
			if estimate != nil {
				if shell.AnySet(stage, last, plot, walk) {
					return out, shell.UsageError("--stage, --last, --plot and --walk do not go with a plan for an estimate: it has neither growth stages nor verdicts")
				}
				return precisionTableOutput(estimate), nil
			}
			stages, err := shell.ChosenStages(plan, stage)
			if err != nil {
				return out, err
			}
			if stages, err = shell.TablesFor(stages, last); err != nil {
				return out, err
			}
			out = tableOutput(plan, stages)
			return out, drawTable(out.Doc, plan, stages, plot, walk)
		},
	}.Command(e)
}

func parseWalk(s string) ([]plans.Count, error) {
	list, err := shell.ParseList(s)
	if err != nil {
		return nil, err
	}
	return shell.ParseCounts(list)
}

func stageNames(plan *plans.Plan) []string {
	var names []string
	for _, s := range plan.Stages {
		names = append(names, s.Name)
	}
	return names
}

func tableOutput(plan *plans.Plan, stages []*plans.StagePlan) report.Output {
	out := tableJSON{Envelope: report.Envelope{Kind: "stopwise table", Version: 1}}
	d := &report.Document{}
	d.Heading("Decision table" + say.Titled(plan.Protocol.About()))
	d.Para("%s", say.English().WalkSentences(say.TermsOf(stages)))
	d.Para("%s", say.English().WhichTable(stages))
	for _, s := range stages {
		caption := "Running total of " + say.English().Added(s) + "; between the two numbers walk on."
		if name := say.English().TableName(s); name != "" {
			caption = "Stage " + name + ". " + caption
		}
		say.WorthDocument(d, s)
		d.Table(say.DecisionTable(s, caption))
		say.SignSentence(d, s)
		d.Note("%s", say.English().Reservation(s))
		if !s.Worth.Plain() {
			out.Counted = append(out.Counted, tableCounted{s.Name, s.Worth, s.WorthMap(), s.WorthFrom()})
		}
		for _, r := range s.Rows() {
			out.Rows = append(out.Rows, tableRow{s.Name, s.Last, r})
		}
	}
	say.English().AddCautions(d, plan.Protocol.About())
	return report.Output{Doc: d, Records: report.RecordsOf(out.Rows), JSON: out}
}

// drawTable writes the picture that was asked for, and says so.
func drawTable(d *report.Document, plan *plans.Plan, stages []*plans.StagePlan, plot *shell.Option[string], walk *shell.Option[[]plans.Count]) error {
	switch {
	case walk.Set && !plot.Set:
		return shell.UsageError("--walk goes with --plot; for a verdict use stopwise check")
	case walk.Set && len(stages) > 1 && stages[0].Name == stages[1].Name:
		return shell.UsageError("--walk is of one table; say which with --last")
	case walk.Set && len(stages) > 1:
		return shell.UsageError("--walk is of one stage; say which with --stage: %s", strings.Join(stageNames(plan), ", "))
	}
	if walk.Set {
		if _, err := stages[0].Check(walk.Value); err != nil {
			return shell.UsageError("--walk: %w", err)
		}
	}
	return shell.Draw(d, plot, func() (figure.Picture, error) { return drawing.StaircasesFigure(plan, stages, walk.Value) })
}
