// Package handouts holds the commands that make what is handed out: card and
// bulletin.
package handouts

import (
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/card"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/laying"
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
	out := shell.OutputFlag("out", "`FILE` write the card there, as one HTML file", card.IsCard, "a card", nil)
	stage, format, where, tongue := shell.StageFlag(), shell.FormatFlag(), laying.NewFlags("field"), shell.TongueFlags()
	return &cli.Command{
		Name:      "card",
		Usage:     "make the scout's field card, for a phone without a network and for paper",
		ArgsUsage: "PLAN.json",
		Description: `Writes one HTML file with the plan's decision tables. Send it to a phone and open it there: it asks plant by plant or stop by stop, says after each stop whether to leave, to act or to walk on, keeps what was typed, and hands the finished visits over as a text. It needs no network and sends nothing. Printed, it is a card on one sheet, with boxes to fill in.

$ stopwise card plan.json --out card.html
$ stopwise card plan.json --stage leafing --out leafing.html
$ stopwise card plan.json --size 775x516 --out card.html
$ stopwise card plan.json --language es --out tarjeta.html`,
		Flags: slices.Concat([]cli.Flag{out, stage}, where.List(), tongue.Flags(), []cli.Flag{format}),
		Action: func(c *cli.Context) error {
			file, err := shell.Only(c, "plan")
			if err != nil {
				return err
			}
			if !out.Set {
				return shell.UsageHint("such as --out card.html", "card needs a file to write")
			}
			language, err := tongue.Chosen(e)
			if err != nil {
				return err
			}
			plan, err := shell.ReadPlan(e, file)
			if err != nil {
				return err
			}
			stages, err := shell.ChosenStages(plan, stage)
			if err != nil {
				return err
			}
			stops, err := where.Of(e, plan.Protocol.Route, stages)
			if err != nil {
				return err
			}
			made, text, err := MakeCard(plan, stages, stops, language)
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

// MakeCard makes the card of some stages of a plan in a language, with the stops
// laid out where they are.
func MakeCard(plan *plans.Plan, stages []*plans.StagePlan, stops *laying.Laid, language *words.Language) (card.Card, []byte, error) {
	sum, err := plan.Checksum()
	if err != nil {
		return card.Card{}, nil, err
	}
	in := say.In{Language: language}
	c := card.Card{Plan: plan, Stages: tablesOf(stages), Checksum: sum, Language: language, Route: in.RouteSentence(stops.Told(plan.Protocol.Route), stages), Cautions: []string{in.Cautions()}}
	if own := plan.Protocol.Cautions; own != "" {
		c.Cautions = append(c.Cautions, own)
	}
	c.Which = in.WhichTable(stages)
	for _, s := range c.Stages {
		c.Fields = append(c.Fields, in.FieldsOf(s))
		c.Broken = append(c.Broken, in.Reservation(s))
		c.Worth = append(c.Worth, in.WorthSentence(s))
	}
	if stops != nil {
		if c.Map, err = mapOf(stops, language); err != nil {
			return c, nil, err
		}
	}
	text, err := c.HTML()
	return c, text, err
}

// mapOf draws where the stops are.
func mapOf(l *laying.Laid, language *words.Language) (*card.Map, error) {
	name := language.Say("where.picture", "Stops", language.Count("count.stops", len(l.Route.Stops)), "First", l.First)
	picture, err := figure.InlineBare(l.Small(), name)
	m := &card.Map{Picture: picture, Note: l.Note(language)}
	if !l.Any {
		for _, s := range l.Route.Stops {
			m.Places = append(m.Places, l.Where(language, s.At))
		}
	}
	return m, err
}

// tablesOf returns the plans of all tables of stages.
func tablesOf(stages []*plans.StagePlan) []*plans.StagePlan {
	var all []*plans.StagePlan
	for _, s := range stages {
		all = append(all, s.Tables()...)
	}
	return all
}

func cardOutput(c card.Card, file string, size int) report.Output {
	j := cardJSON{Envelope: report.Envelope{Kind: "stopwise card", Version: 1}, File: file, Bytes: size, Plan: c.Checksum}
	type stageRow struct {
		File      string  `json:"file"`
		Stage     string  `json:"stage"`
		Threshold float64 `json:"threshold"`
	}
	var rows []stageRow
	for _, s := range c.Stages {
		j.Stages = append(j.Stages, say.English().TableName(s))
		rows = append(rows, stageRow{file, say.English().TableName(s), s.Threshold})
	}
	d := &report.Document{}
	d.Para("Card written to %s (%d kB). Send it to the scouts' phones and open it there, or print it. %s", file, (size+999)/1000, c.Sheets(words.English()))
	return report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: j}
}
