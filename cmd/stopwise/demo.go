package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
	marrowvale "stopwise/testdata/marrow-vale"
)

// demoStage is the growth stage that the demo looks at closely.
const demoStage = "boot"

// demoCounts are invented: what a scout finds stop by stop in a field of the
// Marrow Vale, until the demo's plan gives a verdict.
var demoCounts = []plans.Count{{Total: 3}, {Total: 6}, {Total: 1}, {Total: 4}, {Total: 7}, {Total: 5}, {Total: 4}, {Total: 6}, {Total: 3}, {Total: 5}, {Total: 4}, {Total: 6}}

func demoCommand(e env) *cli.Command {
	out := newOption("out", "`DIR` write the demo's pilot counts, protocol and plan there", func(s string) (string, error) {
		if s == "" {
			return "", errEmpty
		}
		return s, nil
	})
	return &cli.Command{
		Name:      "demo",
		Usage:     "tell the whole story on an invented region, from pilot counts to a verdict",
		ArgsUsage: " ",
		Description: `Shows the main job on invented data: pilot counts say how alike the plants of one stop are, a protocol becomes a plan with exact risks, and a scout is told after each stop whether to go on.

$ stopwise demo --out marrow-vale`,
		Flags: []cli.Flag{out},
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usageError("demo takes no arguments, only --out DIR")
			}
			ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
			defer cancel()
			return demo(ctx, e, out.value)
		},
	}
}

func demo(ctx context.Context, e env, dir string) error {
	f, err := demoFit()
	if err != nil {
		return err
	}
	p, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		return err
	}
	fitted := f.clumping()
	p = p.Each(func(s *plans.Stage) { s.Clumping.Rho, s.Clumping.Source = fitted.Rho, "invented: "+fitted.Source })
	plan, err := designWithProgress(ctx, e, p, plans.DesignOptions{Bound: true})
	if err != nil {
		return designError(err)
	}
	s, err := plan.Stage(demoStage)
	if err != nil {
		return err
	}
	one := p
	one.Stages = []plans.Stage{s.Stage}
	all, err := plans.Compare(ctx, one, plans.DesignOptions{})
	if err != nil {
		return designError(err)
	}
	d := &report.Document{}
	d.Heading("The Marrow Vale: an invented region, its millet and its grey leaf aphid")
	d.Para("Everything here is invented, the numbers too. A specialist must tell the growers when a field is to be treated, from a few stops in each.")
	demoPilot(d, f)
	demoProtocol(d, p)
	demoHabit(d, s)
	demoCompare(d, all[0])
	demoPlan(d, s)
	d.Heading("6. Does it hold where the pest sits in spots?")
	if err := demoRoutes(ctx, d, s); err != nil {
		return err
	}
	if err := demoWalk(d, s); err != nil {
		return err
	}
	if dir != "" {
		if err := writeDemo(dir, plan); err != nil {
			return err
		}
		d.Para("Written to %s: pilot.csv, protocol.toml and plan.json. Try: `stopwise check %s --stage boot 3 6 1 4`", dir, filepath.Join(dir, "plan.json"))
	} else {
		d.Para("To get the files and try it yourself: `stopwise demo --out marrow-vale`")
	}
	addCautions(d, p.About())
	return report.Write(e.Out, "text", report.Output{Doc: d})
}

func demoFit() (*fitting, error) {
	const file = "pilot.csv"
	f := &fitting{path: file, file: file}
	var err error
	if f.data, err = pilot.Read(bytes.NewReader(marrowvale.Pilot)); err != nil {
		return nil, err
	}
	return f, f.fit(fit.Options{})
}

// demoPilot shows one field, in which the stops differ, and what all say.
func demoPilot(d *report.Document, f *fitting) {
	d.Heading("1. The pilot counts")
	one := f.data.Fields[0]
	var seen []string
	for _, s := range one.Stops {
		seen = append(seen, fmt.Sprint(s.Infested))
	}
	d.Para("Scouts first counted in %s (pilot.csv). In %s the %s of %d plants each had %s infested plants: the aphids sit in spots.",
		fieldsText(f.Fields), one.Name, report.Count(len(one.Stops), "stop", "stops"), f.plantsPerStop(), strings.Join(seen, ", "))
	d.Para("%s %s", f.alikeSentence(), f.worthSentence())
	d.Para("The plan must keep its risks over the whole interval, rounded outwards, and is built for its upper end: who takes the clumping for smaller than it is breaks the promise. `stopwise fit pilot.csv` shows the fit, with --protocol the lines for the protocol.")
}

func demoProtocol(d *report.Document, p plans.Protocol) {
	d.Heading("2. The protocol")
	d.Para("%s", walkSentences(p.Stages))
	d.Para("%s", clumpSentence(p))
	t := &report.Table{Columns: []report.Column{
		{Head: "growth stage", Key: "stage"}, {Head: "needless at or below", Key: "lower", Right: true}, {Head: "threshold", Key: "threshold", Right: true},
		{Head: "harmful to miss from", Key: "upper", Right: true}, {Head: "needless risk", Key: "needless_risk", Right: true}, {Head: "missed risk", Key: "missed_risk", Right: true},
	}}
	for _, s := range p.Stages {
		t.Add(s.Name, report.Share(s.Lower), report.Share(s.Threshold), report.Share(s.Upper), report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	}
	d.Table(t)
}

// demoHabit judges the usual four stops of twenty.
func demoHabit(d *report.Document, s *plans.StagePlan) {
	const stops = 4
	d.Heading("3. The habit: four stops of twenty, act when the share seen reaches the threshold")
	t := plans.SingleCut(s.Table.Units, stops, s.Threshold)
	low, high := plans.Evaluate(t, s.Clumped(s.Lower).Population()), plans.Evaluate(t, s.Clumped(s.Upper).Population())
	d.Para("At %s such a visit treats %s of the fields at %s needlessly and misses %s of those at %s, where plants of a stop are alike with %s. Four stops cannot tell these two apart.",
		s.Name, report.Percent(low.Act), report.Share(s.Lower), report.Percent(high.Leave), report.Share(s.Upper), s.Risks[len(s.Risks)-1].Clump)
}

func demoCompare(d *report.Document, c plans.Comparison) {
	d.Heading("4. Stopping early, with and without a promise that holds")
	rows := comparisonOf(c)
	d.Table(promiseTable(c, rows))
	d.Table(effortsTable(rows))
	d.Para("The textbook lines look cheap because they break the promise once plants clump: they take plants as independent. %s", comparisonNote)
}

func demoPlan(d *report.Document, s *plans.StagePlan) {
	d.Heading("5. The card for the scout")
	d.Table(decisionTable(s, "Stage "+s.Name+": running total of infested plants after each stop."))
	d.Para("%s", promiseSentence(s))
}

func demoWalk(d *report.Document, s *plans.StagePlan) error {
	d.Heading("7. A scout walks one field")
	var steps []string
	for n := 1; n <= len(demoCounts); n++ {
		a, err := s.Check(demoCounts[:n])
		if err != nil {
			return err
		}
		if a.Verdict == plans.Continue {
			steps = append(steps, fmt.Sprintf("%d infested. %s", demoCounts[n-1].Total, verdictSentence(s, a)))
			continue
		}
		d.List(steps...)
		var typed []string
		for _, c := range demoCounts[:n] {
			typed = append(typed, fmt.Sprint(c.Total))
		}
		d.Para("After stop %d the scout asks `stopwise check plan.json --stage %s %s`:", n, s.Name, strings.Join(typed, " "))
		answerDocument(d, s, a, "")
		return nil
	}
	return nil
}

func writeDemo(dir string, plan *plans.Plan) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return failure("cannot make %s: %w", dir, bare(err))
	}
	for name, data := range map[string][]byte{"pilot.csv": marrowvale.Pilot, "protocol.toml": marrowvale.Protocol} {
		if err := writeFile(filepath.Join(dir, name), data); err != nil {
			return err
		}
	}
	return writePlan(filepath.Join(dir, "plan.json"), plan)
}
