// Package handouts holds the commands that make what is handed out: card and
// bulletin.
package handouts

import (
	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/card"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/cmd/stopwise/internal/words"
	"stopwise/plans"
)

type cardJSON struct {
	report.Envelope
	File   string   `json:"file"`
	Bytes  int      `json:"bytes"`
	Plan   string   `json:"plan"` // checksum
	Stages []string `json:"stages"`
}

func CardCommand(e shell.Env) *cli.Command {
	out := shell.NewOption("out", "`FILE` write the card there, as one HTML file", func(s string) (string, error) {
		if s == "" {
			return "", shell.ErrEmpty
		}
		return s, nil
	})
	stage, format, tongue := shell.StageFlag(), shell.FormatFlag(), shell.TongueFlags()
	return &cli.Command{
		Name:      "card",
		Usage:     "make the scout's field card, for a phone without a network and for paper",
		ArgsUsage: "PLAN.json",
		Description: `Writes one HTML file with the plan's decision tables. Send it to a phone and open it there: it asks plant by plant or stop by stop, says after each stop whether to leave, to act or to walk on, keeps what was typed, and hands the finished visits over as a text. It needs no network and sends nothing. Printed, it is a card on one sheet, with boxes to fill in.

$ stopwise card plan.json --out card.html
$ stopwise card plan.json --stage leafing --out leafing.html
$ stopwise card plan.json --language es --out tarjeta.html`,
		Flags: append([]cli.Flag{out, stage, format}, tongue.Flags()...),
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return shell.UsageHint("see stopwise card --help", "card takes one plan, not %d arguments", c.NArg())
			}
			if !out.Set {
				return shell.UsageHint("such as --out card.html", "card needs a file to write")
			}
			language, err := tongue.Chosen(e)
			if err != nil {
				return err
			}
			plan, err := shell.ReadPlan(e, c.Args().First())
			if err != nil {
				return err
			}
			stages, err := shell.ChosenStages(plan, stage)
			if err != nil {
				return err
			}
			made, text, err := MakeCard(plan, stages, language)
			if err != nil {
				return err
			}
			if err := shell.WriteFile("--out", out.Value, text, card.IsCard, "a card"); err != nil {
				return err
			}
			return report.Write(e.Out, format.Value, cardOutput(made, out.Value, len(text)))
		},
	}
}

// MakeCard makes the card of some stages of a plan in a language.
func MakeCard(plan *plans.Plan, stages []*plans.StagePlan, language *words.Language) (card.Card, []byte, error) {
	sum, err := plan.Checksum()
	if err != nil {
		return card.Card{}, nil, err
	}
	in := say.In{Language: language}
	c := card.Card{Plan: plan, Stages: stages, Checksum: sum, Language: language, Route: in.RouteSentence(plan.Protocol.Route, stages), Cautions: []string{in.Cautions()}}
	if own := plan.Protocol.Cautions; own != "" {
		c.Cautions = append(c.Cautions, own)
	}
	for _, s := range stages {
		c.Broken = append(c.Broken, in.Reservation(s))
	}
	text, err := c.HTML()
	return c, text, err
}

func cardOutput(c card.Card, file string, size int) report.Output {
	j := cardJSON{Envelope: report.Envelope{Kind: "stopwise card", Version: 1}, File: file, Bytes: size, Plan: c.Checksum}
	records := report.NewRecords("file", "stage", "threshold")
	for _, s := range c.Stages {
		j.Stages = append(j.Stages, s.Name)
		records.Add(file, s.Name, s.Threshold)
	}
	d := &report.Document{}
	d.Para("Card written to %s (%d kB). Send it to the scouts' phones and open it there, or print it: %s.", file, (size+999)/1000, c.Sheets())
	return report.Output{Doc: d, Records: records, JSON: j}
}
