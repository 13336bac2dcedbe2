package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/designing"
	"stopwise/cmd/stopwise/internal/fitting"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/cmd/stopwise/internal/trying"
	"stopwise/plans"
	marrowvale "stopwise/testdata/marrow-vale"
)

// demoStage is the growth stage that the demo looks at closely.
const demoStage = "leafing"

// demoCounts are invented: what a scout finds stop by stop in a field of the
// Marrow Vale, until the demo's plan gives a verdict.
var demoCounts = []plans.Count{{Total: 3}, {Total: 1}, {Total: 4}, {Total: 2}, {Total: 5}, {Total: 3}, {Total: 4}, {Total: 2}, {Total: 5}, {Total: 3}, {Total: 4}, {Total: 5}}

func demoCommand(e shell.Env) *cli.Command {
	out := shell.FileFlag("out", "`DIR` write the demo's pilot counts, protocol and plan there")
	return &cli.Command{
		Name:      "demo",
		Usage:     "tell the whole story on an invented region, from pilot counts to a verdict",
		ArgsUsage: " ",
		Description: `Shows the main job on invented data: pilot counts say how alike the plants of one stop are, a protocol becomes a plan with exact risks, a scout is told after each stop whether to go on, and a season of visits shows what the risks of one visit come to.

$ stopwise demo --out marrow-vale`,
		Flags: []cli.Flag{out},
		Action: shell.Interruptible(func(ctx context.Context, c *cli.Context) error {
			if c.Args().Present() {
				return shell.UsageError("demo takes no arguments, only --out DIR")
			}
			return demo(ctx, e, out.Value)
		}),
	}
}

// demoParts are what the demo reckons: the plan, the comparison, the walks, and the
// usual and the made plan of a season.
const demoParts = 5

func demo(ctx context.Context, e shell.Env, dir string) error {
	progress := report.NewProgress(e.Err, "working the story out", demoParts)
	defer progress.Done()
	quiet, done := e, func() { progress.Add(1) }
	quiet.Err = io.Discard // one bar tells of all
	season := apart(func(d *report.Document) error { return demoSeason(ctx, quiet, d, done) })
	f, err := fitting.DemoFit()
	if err != nil {
		return err
	}
	p, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		return err
	}
	fitted := f.Clumping()
	p = p.Each(func(s *plans.Stage) { s.Clumping.Rho, s.Clumping.Source = fitted.Rho, "invented: "+fitted.Source })
	plan, err := shell.DesignWithProgress(ctx, quiet, p, plans.DesignOptions{Bound: true})
	if err != nil {
		return shell.DesignError(err)
	}
	done()
	s, err := plan.Stage(demoStage)
	if err != nil {
		return err
	}
	walked := apart(func(d *report.Document) error {
		defer done()
		return trying.DemoRoutes(ctx, d, s)
	})
	one := p
	one.Stages = []plans.Stage{s.Stage}
	all, err := plans.Compare(ctx, one, plans.DesignOptions{})
	if err != nil {
		return shell.DesignError(err)
	}
	done()
	d := &report.Document{}
	d.Heading("The Marrow Vale: an invented region, its field beans and its russet thrips")
	d.Para("Everything here is invented, the numbers too. A specialist must tell the growers when a field is to be treated, from a few stops in each.")
	fitting.DemoPilot(d, f)
	demoProtocol(d, p)
	demoHabit(d, s)
	designing.DemoCompare(d, all[0])
	demoPlan(d, s)
	d.Heading("6. Does it hold where the pest sits in spots?")
	if err := walked(d); err != nil {
		return err
	}
	if err := demoWalk(d, s); err != nil {
		return err
	}
	if err := season(d); err != nil {
		return err
	}
	progress.Done()
	if dir != "" {
		if err := writeDemo(dir, plan); err != nil {
			return err
		}
		d.Para("Written to %s: pilot.csv, protocol.toml, season.toml and plan.json. Try: `stopwise check %s --stage leafing 3 1 4 2`", dir, filepath.Join(dir, "plan.json"))
	} else {
		d.Para("To get the files and try it yourself: `stopwise demo --out marrow-vale`")
	}
	say.English().AddCautions(d, p.About())
	return report.Write(e.Out, "text", report.Output{Doc: d})
}

// apart begins a part of the document beside the others, and returns what waits for
// it and puts it in its place.
func apart(write func(*report.Document) error) func(*report.Document) error {
	part, ended := &report.Document{}, make(chan error, 1)
	go func() { ended <- write(part) }()
	return func(d *report.Document) error {
		err := <-ended
		d.Blocks = append(d.Blocks, part.Blocks...)
		return err
	}
}

func demoProtocol(d *report.Document, p plans.Protocol) {
	d.Heading("2. The protocol")
	d.Para("%s", say.English().WalkSentences(p.Stages))
	d.Para("%s", say.English().ClumpSentence(p))
	t := report.NewTable("", "growth stage", ">needless at or below", ">threshold", ">harmful to miss from", ">needless risk", ">missed risk")
	for _, s := range p.Stages {
		t.Add(s.Name, report.Share(s.Lower), report.Share(s.Threshold), report.Share(s.Upper), report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	}
	d.Table(t)
}

// demoHabit judges a usual visit of five stops.
func demoHabit(d *report.Document, s *plans.StagePlan) {
	const stops = 5
	d.Heading("3. The habit: five stops of fifteen, act when the share seen reaches the threshold")
	t := plans.SingleCut(s.Table.Units, stops, s.Threshold)
	low, high := plans.Evaluate(t, s.Clumped(s.Lower).Population()), plans.Evaluate(t, s.Clumped(s.Upper).Population())
	d.Para("At %s such a visit treats %s of the fields at %s needlessly and misses %s of those at %s, where plants of a stop are alike with %s. Five stops cannot tell these two apart.",
		s.Name, report.Percent(low.Act), report.Share(s.Lower), report.Percent(high.Leave), report.Share(s.Upper), report.Clumping(s.Risks[len(s.Risks)-1].Clump))
}

func demoPlan(d *report.Document, s *plans.StagePlan) {
	d.Heading("5. The card for the scout")
	d.Table(say.DecisionTable(s, "Stage "+s.Name+": running total of infested plants after each stop."))
	d.Para("%s", say.English().PromiseSentence(s))
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
			steps = append(steps, fmt.Sprintf("%d infested. %s", demoCounts[n-1].Total, say.English().VerdictSentence(s, a)))
			continue
		}
		d.List(steps...)
		var typed []string
		for _, c := range demoCounts[:n] {
			typed = append(typed, fmt.Sprint(c.Total))
		}
		d.Para("After stop %d the scout asks `stopwise check plan.json --stage %s %s`:", n, s.Name, strings.Join(typed, " "))
		say.English().AnswerDocument(d, s, a, "")
		return nil
	}
	return nil
}

func writeDemo(dir string, plan *plans.Plan) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return shell.Failure("cannot make %s: %w", dir, shell.Bare(err))
	}
	text, err := plan.JSON()
	if err != nil {
		return fmt.Errorf("cannot encode the plan: %w", err)
	}
	files := []struct {
		name string
		data []byte
	}{{"pilot.csv", marrowvale.Pilot}, {"protocol.toml", marrowvale.Protocol}, {"season.toml", marrowvale.Season}, {"plan.json", text}}
	// All or none: a file that was edited is somebody's work.
	for _, f := range files {
		if err := outfile.Check(filepath.Join(dir, f.name), f.data, nil, "the demo's"); err != nil {
			return shell.OutputError("--out", filepath.Join(dir, f.name), err)
		}
	}
	for _, f := range files {
		if err := shell.WriteFile("--out", filepath.Join(dir, f.name), f.data, nil, "the demo's"); err != nil {
			return err
		}
	}
	return nil
}
