package handouts

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/bulletin"
	"stopwise/cmd/stopwise/internal/laying"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
)

func BulletinCommand(e shell.Env) *cli.Command {
	out := shell.OutputFlag("out", "`FILE` write the hand-out there; its name ends in .pdf", outfile.IsPicture, "a hand-out that stopwise made", func(s string) error {
		if !strings.EqualFold(filepath.Ext(s), ".pdf") {
			return fmt.Errorf("%q is no PDF file; end the name in .pdf", s)
		}
		return nil
	})
	where, tongue := laying.NewFlags("field"), shell.TongueFlags()
	return &cli.Command{
		Name:      "bulletin",
		Usage:     "set a region's rules as a hand-out on paper",
		ArgsUsage: "PROTOCOL.toml|PLAN.json",
		Description: `Writes a few pages (A4, PDF) for growers and scouts: how to scout and where to stop, the thresholds of each growth stage, the decision table and its picture, how often it is wrong in plain words, when to come back, and the cautions. From a protocol the plan is made first, by the method risk-true; a plan file keeps its own.

$ stopwise bulletin testdata/marrow-vale/protocol.toml --out bulletin.pdf
$ stopwise bulletin plan.json --language fr --out bulletin.pdf`,
		Flags: append([]cli.Flag{out}, append(where.List(), tongue.Flags()...)...),
		Action: shell.Interruptible(func(ctx context.Context, c *cli.Context) error {
			file, err := shell.Only(c, "protocol or plan")
			if err != nil {
				return err
			}
			if err := shell.Required(out); err != nil {
				return err
			}
			language, err := tongue.Chosen(e)
			if err != nil {
				return err
			}
			plan, err := shell.PlanOf(ctx, e, file, "a hand-out")
			if err != nil {
				return err
			}
			stops, err := where.Of(e, plan.Protocol.Route, plan.Stages)
			if err != nil {
				return err
			}
			b, err := bulletinOf(plan, stops, language)
			if err != nil {
				return err
			}
			data, err := b.PDF()
			if unset, ok := errors.AsType[*bulletin.UnsetError](err); ok {
				return shell.UsageError("bulletin: %v; the card and its paper show it", unset)
			}
			if err != nil {
				return err
			}
			if err := shell.WriteFile("--out", out.Value, data, outfile.IsPicture, "a hand-out that stopwise made"); err != nil {
				return err
			}
			d := &report.Document{}
			d.Para("Hand-out written to %s.", out.Value)
			return report.Write(e.Out, "text", report.Output{Doc: d})
		}),
	}
}
