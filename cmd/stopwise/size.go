package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/sampling/size"
)

func sizeCommand(e env) *cli.Command {
	return &cli.Command{
		Name:  "size",
		Usage: "say how many stops and plants are needed, and what a visit can tell",
		Description: `Samples of fixed size: how many stops of how many plants it takes to estimate the share infested or a mean, to tell a low share from a high one, or to find a pest at all; and the other way round, what a given visit can tell. Each answer shows what it takes for granted and how it changes if the clumping is something else.

$ stopwise size classify --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise size classify --stops 4 --act-at 25% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise size detect --prevalence 5% --rho 0.1`,
		Subcommands: []*cli.Command{
			sizeProportion().command(e), sizeMean().command(e), sizeClassify().command(e), sizeDetect().command(e), sizeAllocate().command(e),
		},
	}
}

// A sizeQuestion is a subcommand of size: flags in, an answer out.
type sizeQuestion struct {
	name, usage, description string
	flags                    []cli.Flag
	answer                   func(*cli.Context) (report.Output, error)
}

func (q sizeQuestion) command(e env) *cli.Command {
	format := formatFlag()
	return &cli.Command{
		Name:        q.name,
		Usage:       q.usage,
		ArgsUsage:   " ",
		Description: q.description,
		Flags:       append(q.flags, format),
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usageHint("see stopwise size "+q.name+" --help", "size %s takes flags only, not %q", q.name, c.Args().First())
			}
			out, err := q.answer(c)
			if err != nil {
				return sizeError(err)
			}
			return report.Write(e.Out, format.value, out)
		},
	}
}

// sizeError gives the errors of package size their exit status: what no number
// of stops within reach can do is work that failed, the rest is bad input.
func sizeError(err error) error {
	text, fromSize := strings.CutPrefix(err.Error(), "size: ")
	if _, ok := errors.AsType[*size.OutOfReachError](err); ok {
		return failure("%s", text)
	}
	if fromSize {
		return usageError("%s", text)
	}
	if text, ok := strings.CutPrefix(text, "sampling: "); ok {
		return usageError("%s", text)
	}
	return err
}

// A sizeHead is what the JSON of every answer begins with.
type sizeHead struct {
	report.Envelope
	Stops         int `json:"stops"`
	Plants        int `json:"plants"`
	PlantsPerStop int `json:"plants_per_stop"`
	Achieved      any `json:"achieved"`
	Requested     any `json:"requested"`
}

// A sizeTail is what it ends with.
type sizeTail struct {
	Sensitivity *sensitivityJSON `json:"sensitivity"`
	Assumptions []string         `json:"assumptions"`
	Warnings    []string         `json:"warnings"`
}

type sensitivityJSON struct {
	Of   string `json:"of"`
	Rows []any  `json:"rows"`
}

// perStop holds the flags that say what is taken at a stop.
type perStop struct {
	plants *option[int]
	rho    *option[plans.Range]
}

func newPerStop() perStop {
	return perStop{plantsPerStopFlag().withDefault("20"), rhoFlag()}
}

// clumping returns the rho that counts, and where it comes from. Where a stop is
// one plant it plays no part and may be left out.
func (p perStop) clumping() (rho float64, source string, err error) {
	switch {
	case !p.rho.set && p.plants.value == 1:
		return 0, "", nil
	case !p.rho.set:
		return 0, "", usageHint("give a value or a range, such as --rho 0.1; 0 if the plants of a stop are independent", "--rho is missing")
	case p.rho.value.Single():
		return p.rho.value.Low, "as given with --rho", nil
	}
	return p.rho.value.High, fmt.Sprintf("the clumped end of the range %s given with --rho, which is what counts", p.rho.value), nil
}

// withDefaults adds to the assumptions what was taken by default.
func withDefaults(assumptions []string, options ...anOption) []string {
	for _, o := range options {
		if name, text, set := o.given(); !set && text != "" {
			assumptions = append(assumptions, fmt.Sprintf("%s %s, taken by default: common practice, no source", name, text))
		}
	}
	return assumptions
}

// addGrounds ends a document: what the answer rests on.
func addGrounds(d *report.Document, assumptions, warnings []string) {
	d.Para("Taken for granted:")
	d.List(assumptions...)
	for _, w := range warnings {
		d.Note("%s", sentence(w))
	}
}

// sentence returns a phrase of a library as a sentence.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }

// takenHere marks the row of the answer itself.
func takenHere(assumed bool) string {
	if assumed {
		return "taken here"
	}
	return ""
}

// short returns a constant that somebody chose or fitted.
func short(x float64) string { return fmt.Sprintf("%.4g", x) }

func stopsOf(stops, plants int) string {
	return report.Count(stops, "stop", "stops") + " of " + report.Count(plants, "plant", "plants")
}

// walkThese begins an answer: "Walk 8 stops of 20 plants (160 plants)". In a
// small field the last stop may be short.
func walkThese(stops, perStop, plants int) string {
	if perStop == 1 {
		return fmt.Sprintf("Examine %s, each at a stop of its own", report.Count(plants, "plant", "plants"))
	}
	return fmt.Sprintf("Walk %s (%s)", stopsOf(stops, perStop), report.Count(plants, "plant", "plants"))
}

// neededStops are the cells of a number of stops with its plants, where 0 is
// more than is within reach.
func neededStops(stops, plants int) (string, string) {
	if stops == 0 {
		return "out of reach", ""
	}
	return fmt.Sprint(stops), fmt.Sprint(plants)
}

// known returns nil for what has no value: JSON and CSV hold neither NaN nor
// infinities.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// shareUpTo returns a flag that takes a share above 0, 100% included.
func shareUpTo(name, usage string) *option[float64] {
	return newOption(name, usage, func(s string) (float64, error) {
		x, err := plans.ParseShare(s)
		if err == nil && x == 0 {
			err = fmt.Errorf("%q is out of range; it must be above 0%% and at most 100%%", s)
		}
		return x, err
	})
}

func fieldPlantsFlag() *option[int] {
	return newOption("field-plants", "`COUNT` plants in the field, where it is small", whole(1, size.MaxField)).withoutValue("very many")
}

// sharesFlag takes a list of shares at which to compute.
func sharesFlag() *option[[]float64] {
	return newOption("at", "`SHARES` true shares to show, such as 10%,20%", func(s string) ([]float64, error) {
		list, err := parseList(s)
		if err != nil {
			return nil, err
		}
		shares := make([]float64, len(list))
		for i, text := range list {
			if shares[i], err = plans.ParseShare(text); err != nil {
				return nil, err
			}
		}
		return shares, nil
	})
}

func describedAs[T any](o *option[T], usage string) *option[T] {
	o.Usage = usage
	return o
}
