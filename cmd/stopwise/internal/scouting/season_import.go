package scouting

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func seasonImport(e shell.Env) shell.Question {
	plan := shell.TextFlag("plan", "`PLAN.json` the plan of the visits").WithoutValue("the only one of the season file")
	return shell.Question{
		Name: "import", Usage: "read visits from field cards, a table or JSON", Arguments: "FILE INPUT...",
		Description: `Reads visits into a season file, which is made if there is none. INPUT is one of: text with the lines that a field card hands over (each begins with ` + strings.TrimSpace(season.CardMark) + `); a CSV table with the columns field, date, stop and infested (or insects), and perhaps plants, stage, sign, visit and plan; a JSON season as export writes it. It is - for standard input. What is there already is not read twice.

$ stopwise season import 2026.season cards.txt --plan plan.json`,
		Flags: []cli.Flag{plan}, Format: withoutRows(),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if c.NArg() < 2 {
				return out, shell.UsageHint("see stopwise season import --help", "season import takes a season file and what to read")
			}
			return importInto(e, c.Args().First(), c.Args().Tail(), plan)
		},
	}
}

func importInto(e shell.Env, file string, inputs []string, plan *shell.Option[string]) (report.Output, error) {
	f, err := openSeason(file, true)
	if err != nil {
		return report.Output{}, err
	}
	defer f.Close()
	sum := ""
	if plan.Set {
		p, err := shell.ReadPlan(e, plan.Value)
		if err != nil {
			return report.Output{}, err
		}
		if sum, err = f.Remember(p); err != nil {
			return report.Output{}, seasonError(file, err)
		}
	}
	d := &report.Document{}
	out := outcomeJSON{Envelope: report.Envelope{Kind: "stopwise season import", Version: 1}}
	for _, input := range inputs {
		o, passed, err := importOne(e, f, input, sum)
		if err != nil {
			return report.Output{}, seasonError(file, err)
		}
		out.add(input, o, passed)
		d.Para("%s: %s", input, outcomeSentence(o, passed))
	}
	return report.Output{Doc: d, JSON: out}, nil
}

func importOne(e shell.Env, f *season.File, input, plan string) (o season.Outcome, passed int, err error) {
	r, err := shell.OpenInput(e, input)
	if err != nil {
		return o, 0, err
	}
	defer r.Close()
	at := now()
	fail := func(err error) error {
		if _, store := errors.AsType[*season.StoreError](err); store {
			return err
		}
		return shell.InputError(input, err)
	}
	// A whole season may be far larger than what else is read here.
	buffered := bufio.NewReader(r)
	if isJSON(buffered) {
		o, err := f.Import(buffered)
		return o, 0, fail(err)
	}
	text, err := shell.ReadAll(input, buffered)
	if err != nil {
		return o, 0, err
	}
	switch {
	case strings.Contains(string(text), strings.TrimSpace(season.CardMark)):
		cards, passed, err := season.ReadCards(strings.NewReader(string(text)))
		if err != nil {
			return o, 0, fail(err)
		}
		vs, err := cardVisits(f, cards)
		if err != nil {
			return o, 0, fail(err)
		}
		o, errs := f.AddCounts(vs, at)
		return o, passed, fail(errors.Join(errs...))
	}
	rows, err := season.ReadTable(strings.NewReader(string(text)))
	if err != nil {
		return o, 0, fail(err)
	}
	if plan == "" {
		if plan, err = f.OnlyPlan(); err != nil {
			return o, 0, err
		}
	}
	vs, err := season.VisitsOf(rows, plan, func(plan, name string) (string, int, bool, error) {
		if plan == "" {
			return "", 0, false, errors.New("no plan is named, and the season file does not have just one; give it with --plan")
		}
		s, err := stageOf(f, plan, name)
		if err != nil {
			return "", 0, false, err
		}
		return s.Name, s.Plants(), s.Measure == plans.MeanPerLeaf, nil
	})
	if err != nil {
		return o, 0, fail(err)
	}
	o, errs := f.AddCounts(vs, at)
	return o, 0, fail(errors.Join(errs...))
}

// isJSON reports whether a text begins as a JSON object does.
func isJSON(text *bufio.Reader) bool {
	head, _ := text.Peek(512) // a shorter text is no error here
	return bytes.HasPrefix(bytes.TrimSpace(bytes.TrimPrefix(head, []byte("\ufeff"))), []byte("{"))
}

// cardVisits completes the visits of cards from their plans.
func cardVisits(f *season.File, cards []season.CardVisit) ([]*season.Visit, error) {
	var vs []*season.Visit
	var errs []error
	for _, c := range cards {
		s, err := stageOf(f, c.Plan, c.Stage)
		if err != nil {
			errs = append(errs, fmt.Errorf("field %s on %s: %w", c.Field, c.Date, err))
			continue
		}
		vs = append(vs, c.Visit(s.Name, s.Plants()))
	}
	return vs, errors.Join(errs...)
}
