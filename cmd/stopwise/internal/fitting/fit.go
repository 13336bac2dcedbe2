// Package fitting holds the commands that learn from counts: fit and tally.
package fitting

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
)

func FitCommand(e shell.Env) *cli.Command {
	confidence, tally, format := shell.ConfidenceFlag(), shell.TallyFlag(), shell.FormatFlag()
	confidence.Usage = "`CHANCE` confidence of all intervals"
	tally.WithoutValue("1, for one row a leaf")
	tallies := shell.NewOption("tallies", "`COUNTS` tally numbers for which the mean per leaf is fitted to the share of plants infested, such as 1,5,15", parseTallies).
		WithoutValue("that of --tally")
	ofSeason := newSeasonFlags()
	plot := shell.PlotFlag("how the variance follows the mean, with the fitted lines, and the counts seen beside those fitted")
	return &cli.Command{
		Name:      "fit",
		Usage:     "fit the clumping constants of a protocol to pilot counts, or to a season's visits",
		ArgsUsage: "[PILOT.csv]",
		Description: `Tells from a region's own counts how alike the plants of one stop are (rho), how clumped counts per leaf are (k, Taylor's and Iwao's constants), how alike those of one stop are (count rho) and how the share of plants infested follows the mean, each with its interval or the reason why the data do not carry it.

$ stopwise fit testdata/marrow-vale/pilot.csv
$ stopwise fit testdata/marrow-vale/pilot-leaves.csv --tally 15 --tallies 4,15
$ stopwise fit testdata/marrow-vale/pilot.csv --protocol
$ stopwise fit testdata/marrow-vale/pilot-leaves.csv --plot fit.svg

The file is CSV with a header, one row a stop, a plant or a leaf; date, stage, x and y may be added, and other columns are ignored:

  field,stop,plants,infested
  field,stop,plant,infested
  field,stop,plant,leaf,count

After a season its visits say the same, those that ended early too, and how fast the pest grew; with --against, whether a protocol's range and promises held:

$ stopwise fit --season 2026.season --against protocol.toml`,
		Flags: append([]cli.Flag{confidence, tally, tallies,
			&cli.BoolFlag{Name: "protocol", Usage: "print only the section [clumping] for a protocol"}, shell.DetailFlag(), plot, format}, ofSeason.flags()...),
		Action: func(c *cli.Context) error {
			onlyProtocol := c.Bool("protocol")
			detailed, err := shell.Detailed(c, format.Value)
			if err != nil {
				return err
			}
			if detailed && onlyProtocol {
				return shell.UsageError("--protocol prints a part of a protocol, in which --detail changes nothing; leave one away")
			}
			if onlyProtocol && format.Value != "text" {
				return shell.UsageError("--protocol prints a part of a protocol, and --format %s cannot hold it; leave one away", format.Value)
			}
			if ofSeason.season.Set {
				return shell.Interruptible(func(ctx context.Context, c *cli.Context) error {
					return fitSeason(ctx, e, c, ofSeason, confidence.Value, detailed, format.Value, tally, tallies, plot)
				})(c)
			}
			if ofSeason.against.Set {
				return shell.UsageError("--against goes with --season")
			}
			path, err := shell.Only(c, "file of pilot counts")
			if err != nil {
				return err
			}
			progress := report.NewProgress(e.Err, "fitting", -1)
			defer progress.Done()
			f := &fitting{path: path, file: fileTitle(path)}
			if f.data, err = shell.ReadPilot(e, path); err != nil {
				return err
			}
			if err := leavesOnly(f.data, tally, tallies); err != nil {
				return err
			}
			options := fit.Options{Confidence: confidence.Value, Tally: tally.Value, Tallies: tallies.Value}
			if err := f.fit(options); err != nil {
				return err
			}
			if c.Bool("by-stage") {
				if plot.Set {
					return shell.UsageError("--plot and --by-stage cannot be used together; give one of them")
				}
				progress.Done()
				return writeStages(e, f, options, onlyProtocol, format.Value)
			}
			doc := f.brief()
			if detailed {
				doc = f.document()
			}
			if err := shell.Draw(doc, plot, f.figure); err != nil {
				return err
			}
			if onlyProtocol {
				progress.Done()
				return writeSection(e)(f.section())
			}
			o := report.Output{Doc: doc}
			switch format.Value { // of many fields they take more room than the data
			case "csv":
				o.Records = f.records()
			case "json":
				o.JSON = f.json()
			}
			return progress.Write(e.Out, format.Value, o)
		},
	}
}

// writeSection prints a part of a protocol.
func writeSection(e shell.Env) func(text string, err error) error {
	return func(text string, err error) error {
		if err == nil {
			_, err = io.WriteString(e.Out, text)
		}
		return err
	}
}

// A fitting is what was fitted to a file.
type fitting struct {
	path string // as given
	file string // its name without the folder
	data *pilot.Data
	*fit.Result
	atTally  []fit.Estimate // rho at each of Result.Tallies
	warnings []warning
}

func (f *fitting) fit(o fit.Options) (err error) {
	if f.Result, err = fit.Fit(f.data, o); err != nil {
		return err
	}
	f.warnings = warningsOf(f.Result)
	for _, m := range f.Tallies {
		rho := f.Rho.Estimate
		if m.T != f.Tally {
			if rho, err = rhoAtTally(f.data, m.T, f.Confidence); err != nil {
				return err
			}
		}
		f.atTally = append(f.atTally, rho)
	}
	return nil
}

func rhoAtTally(d *pilot.Data, tally int, confidence float64) (fit.Estimate, error) {
	at, err := d.AtTally(tally)
	if err != nil {
		return fit.Estimate{}, err
	}
	pooled, err := fit.FitPooledRho(stopCounts(at), confidence)
	if pooled.Fields == 1 {
		return pooled.ML, err
	}
	return pooled.Adjusted, err
}

// stopCounts are the stops of each field.
func stopCounts(d *pilot.Data) [][]fit.StopCount {
	fields := make([][]fit.StopCount, len(d.Fields))
	for i, field := range d.Fields {
		fields[i] = fit.StopCounts(field)
	}
	return fields
}

func fileTitle(file string) string {
	if file == "-" {
		return "standard input"
	}
	return shell.Printable(filepath.Base(file))
}

func leavesOnly(d *pilot.Data, options ...shell.AnOption) error {
	if d.Layout == pilot.PerLeaf {
		return nil
	}
	return shell.NoneOf("needs counts (one row a leaf), the data have "+d.Layout.String(), options...)
}

func parseTallies(s string) ([]int, error) {
	out, err := shell.ParseEach(s, shell.Whole(1, pilot.MaxCount))
	for k, n := range out {
		if k > 0 && n <= out[k-1] {
			return nil, fmt.Errorf("%q does not ascend at %d; write each tally number once, the smallest first", s, n)
		}
	}
	return out, err
}

// fieldsText returns "14 fields".
func fieldsText(n int) string { return report.Count(n, "field", "fields") }

// alikeSentence is the main result in words.
func (f *fitting) alikeSentence() string {
	return alike("plants", f.Rho.Estimate, fmt.Sprintf("%s, from %s", f.rhoText(), fieldsText(f.Rho.Pooled.Fields)))
}

// tarone is the test over all fields, or that of the only field that says
// anything of rho.
func (f *fitting) tarone() fit.Test {
	if f.Rho.Pooled.Fields == 1 {
		for _, one := range f.PerField {
			if one.Rho.Tarone.Known() {
				return one.Rho.Tarone
			}
		}
	}
	return f.Rho.Pooled.Tarone
}

// rhoText returns "rho 0.114, 95% interval 0.084 to 0.152".
func (f *fitting) rhoText() string { return withInterval("rho", f.Rho.Estimate, f.Confidence) }

func withInterval(name string, e fit.Estimate, confidence float64) string {
	return fmt.Sprintf("%s %s, %s interval %s", name, rhoNumber(e.Value), report.Share(confidence), interval(e, rhoNumber))
}

func rhoNumber(x float64) string { return report.Decimals(x, 3) }

func number3(x float64) string { return report.Number(x, 3) }

func interval(e fit.Estimate, number func(float64) string) string {
	if !e.HasInterval() {
		return report.Unknown
	}
	if math.IsInf(e.Upper, 1) {
		return number(e.Lower) + " and above"
	}
	return number(e.Lower) + " to " + number(e.Upper)
}
