package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

type tableJSON struct {
	report.Envelope
	Rows []tableRow `json:"rows"`
}

type tableRow struct {
	Stage string `json:"stage"`
	plans.Row
}

func tableCommand(e env) *cli.Command {
	stage, format := stageFlag(), formatFlag()
	plot := plotFlag("the table as a staircase with both boundaries")
	walk := newOption("walk", "`COUNTS` counts of the stops walked so far, such as 3,6,2/18,4, for the picture of --plot", parseWalk)
	return &cli.Command{
		Name:      "table",
		Usage:     "print the stop-by-stop decision table of a plan",
		ArgsUsage: "PLAN.json",
		Description: `Prints after which running total to leave the field and after which to act, stop by stop; of all growth stages, or of one.

$ stopwise table plan.json --stage boot
$ stopwise table plan.json --stage boot --plot walk.svg --walk 3,6,1,4`,
		Flags: []cli.Flag{stage, plot, walk, format},
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return usageHint("see stopwise table --help", "table takes one plan, not %d arguments", c.NArg())
			}
			plan, estimate, err := readAnyPlan(e, c.Args().First())
			if err != nil {
				return err
			}
			if estimate != nil {
				if stage.set || plot.set || walk.set {
					return usageError("--stage, --plot and --walk do not go with a plan for an estimate: it has neither growth stages nor verdicts")
				}
				return printPrecisionTable(e, estimate, format.value)
			}
			stages, err := chosenStages(plan, stage)
			if err != nil {
				return err
			}
			out := tableOutput(plan, stages)
			if err := drawTable(out.Doc, plan, stages, plot, walk); err != nil {
				return err
			}
			return report.Write(e.Out, format.value, out)
		},
	}
}

func parseWalk(s string) ([]plans.Count, error) {
	list, err := parseList(s)
	if err != nil {
		return nil, err
	}
	var counts []plans.Count
	for i, text := range list {
		n, err := plans.ParseCount(text)
		if err != nil {
			return nil, fmt.Errorf("stop %d: %w", i+1, err)
		}
		counts = append(counts, n)
	}
	return counts, nil
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
	records := report.NewRecords("stage", "stop", "plants", "leave", "act")
	d := &report.Document{}
	d.Heading("Decision table" + titled(plan.Protocol.About()))
	d.Para("%s", walkSentences(termsOf(stages)))
	for _, s := range stages {
		caption := "Running total of " + counted(s.Measure) + "; between the two numbers walk on."
		if s.Name != "" {
			caption = "Stage " + s.Name + ". " + caption
		}
		d.Table(decisionTable(s, caption))
		signSentence(d, s)
		if !s.Keeps() {
			d.Note("%s", promiseSentence(s))
		}
		for _, r := range s.Rows() {
			out.Rows = append(out.Rows, tableRow{s.Name, r})
			records.Add(s.Name, r.Stop, r.Plants, r.Leave, r.Act)
		}
	}
	addCautions(d, plan.Protocol.About())
	return report.Output{Doc: d, Records: records, JSON: out}
}
