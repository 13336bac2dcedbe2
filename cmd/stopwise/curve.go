package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

type curveJSON struct {
	report.Envelope
	Stage   string       `json:"stage"`
	Measure string       `json:"measure"`
	Points  []curvePoint `json:"points"`
}

type curvePoint struct {
	P       *float64 `json:"p,omitempty"`
	Mean    *float64 `json:"mean,omitempty"`
	Rho     *float64 `json:"rho,omitempty"`
	K       *float64 `json:"k,omitempty"`
	Act     float64  `json:"p_act"`
	Leave   float64  `json:"p_leave"`
	Stops   float64  `json:"expected_stops"`
	Plants  float64  `json:"expected_plants"`
	Minutes float64  `json:"expected_minutes"`
}

// tableIntervals is the number of steps of a curve's table, chartIntervals that
// of its picture.
const (
	tableIntervals = 20
	chartIntervals = 60
)

func curveCommand(e env) *cli.Command {
	stage, rho, k, format := stageFlag(), rhoFlag(), kFlag(), formatFlag()
	rho.withoutValue("the clumped end of the protocol's range")
	k.withoutValue("the clumped end of the protocol's range")
	at := newOption("at", "`LEVELS` where to compute, such as 10%,20% or, for a mean per leaf, 20,75", parseList).
		withoutValue("from 0 to twice the upper bound")
	plot := plotFlag("both curves, one for each degree of clumping (without --rho or --k both ends of the protocol's range)")
	return &cli.Command{
		Name:      "curve",
		Usage:     "show how often a plan acts and how far one walks, at every level",
		ArgsUsage: "PLAN.json",
		Description: `Computes exactly, for fields of any true level, the chance that a visit ends with act or with leave (the operating characteristic) and the expected stops, plants and minutes.

$ stopwise curve plan.json --stage boot --at 10%,17%,25% --rho 0.05..0.15
$ stopwise curve plan.json --stage boot --plot boot.svg`,
		Flags: []cli.Flag{stage, rho, k, at, plot, format},
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return usageHint("see stopwise curve --help", "curve takes one plan, not %d arguments", c.NArg())
			}
			_, s, err := readStage(e, c.Args().First(), stage.value)
			if err != nil {
				return err
			}
			clumps, err := curveClumps(s, rho, k)
			if err != nil {
				return err
			}
			levels := evenly(0, topLevel(s), tableIntervals)
			if at.set {
				if levels, err = parseLevels(s.Measure, at.value); err != nil {
					return err
				}
			}
			out := curveOutput(s, levels, clumps, !at.set)
			if plot.set {
				drawn := clumps
				if !rho.set && !k.set {
					drawn = nil
				}
				picture, err := curvesFigure(s, drawn)
				if err != nil {
					return err
				}
				if err := writePicture(plot.value, picture); err != nil {
					return err
				}
				out.Doc.Para("Picture written to %s.", plot.value)
			}
			return report.Write(e.Out, format.value, out)
		},
	}
}

func parseList(s string) ([]string, error) {
	var out []string
	for part := range strings.SplitSeq(s, ",") {
		if part = strings.TrimSpace(part); part == "" {
			return nil, fmt.Errorf("%q has an empty place; write values with commas between them", s)
		}
		out = append(out, part)
	}
	return out, nil
}

func parseLevels(m plans.Measure, list []string) ([]float64, error) {
	parse := plans.ParseShare
	if m == plans.MeanPerLeaf {
		parse = notNegative
	}
	var levels []float64
	for _, text := range list {
		x, err := parse(text)
		if err != nil {
			return nil, usageError("--at: %v", err)
		}
		levels = append(levels, x)
	}
	slices.Sort(levels)
	return slices.Compact(levels), nil
}

// A degree of clumping gives the field situation at every level.
type degree = func(level float64) plans.World

// curveName names a degree of clumping: with its value, or with the law where
// the value follows the level.
func curveName(s *plans.StagePlan, at degree) string {
	low, high := at(s.Lower), at(s.Upper)
	if law := s.Law(); low.Clump != high.Clump {
		if law.Kind == protocol.TaylorLaw {
			return fmt.Sprintf("variance %s mean^%s", report.Number(law.A, 3), report.Number(law.B, 3))
		}
		return fmt.Sprintf("Iwao's a %s, b %s", report.Number(law.A, 3), report.Number(law.B, 3))
	}
	return low.Value().String()
}

// curveClumps returns the degrees of clumping to compute: one, or the two ends
// of a range.
func curveClumps(s *plans.StagePlan, rho, k *option[plans.Range]) ([]degree, error) {
	asked, other := rho, k
	if s.Measure == plans.MeanPerLeaf {
		asked, other = k, rho
	}
	if other.set {
		return nil, usageError("--%s does not go with a plan for %s; use --%s", other.Name, s.Measure, asked.Name)
	}
	switch {
	case !asked.set:
		return []degree{s.Clumped}, nil
	case asked.value.Single():
		return []degree{s.As(asked.value.Low)}, nil
	}
	return []degree{s.As(asked.value.Low), s.As(asked.value.High)}, nil
}

func topLevel(s *plans.StagePlan) float64 {
	if s.Measure == plans.ShareInfested {
		return math.Min(1, 2*s.Upper)
	}
	return 2 * s.Upper
}

func evenly(low, high float64, intervals int) []float64 {
	x := make([]float64, intervals+1)
	for i := range x {
		x[i] = low + (high-low)*float64(i)/float64(intervals)
	}
	return x
}

func curveOutput(s *plans.StagePlan, levels []float64, clumps []degree, picture bool) report.Output {
	out := curveJSON{Envelope: report.Envelope{Kind: "stopwise curve", Version: 1}, Stage: s.Name, Measure: string(s.Measure)}
	name, clumpName := "p", "rho"
	if s.Measure == plans.MeanPerLeaf {
		name, clumpName = "mean", "k"
	}
	records := report.NewRecords("stage", name, clumpName, "p_act", "p_leave", "expected_stops", "expected_plants", "expected_minutes")
	t := &report.Table{
		Caption: "Exact curves. Act and leave are the chances that a visit of a field at this level ends so; leave is the operating characteristic.",
		Columns: []report.Column{
			{Head: "level", Key: name, Right: true}, {Head: "clumping", Key: clumpName},
			{Head: "act", Key: "p_act", Right: true}, {Head: "leave", Key: "p_leave", Right: true},
			{Head: "stops", Key: "expected_stops", Right: true}, {Head: "plants", Key: "expected_plants", Right: true}, {Head: "time", Key: "expected_minutes", Right: true},
		}}
	for _, clump := range clumps {
		for _, p := range s.Curve(levels, clump) {
			t.Add(report.Level(s.Measure, p.Level), p.Clump.String(), report.Percent(p.Act), report.Percent(p.Leave),
				report.Number(p.Stops, 3), report.Number(p.Plants, 3), report.Minutes(p.Minutes))
			point := curvePoint{Act: p.Act, Leave: p.Leave, Stops: p.Stops, Plants: p.Plants, Minutes: p.Minutes}
			level, c := p.Level, &p.Clump.Value
			if math.IsInf(*c, 0) {
				c = nil
			}
			if s.Measure == plans.MeanPerLeaf {
				point.Mean, point.K = &level, c
			} else {
				point.P, point.Rho = &level, c
			}
			out.Points = append(out.Points, point)
			records.Add(s.Name, level, c, p.Act, p.Leave, p.Stops, p.Plants, p.Minutes)
		}
	}
	d := &report.Document{}
	d.Heading("Curves" + stageTitle(s))
	if picture {
		curvePictures(d, s, clumps)
	}
	d.Table(t)
	if s.Method == plans.Lines && s.Lines != nil {
		textbookTable(d, s, clumps[len(clumps)-1])
	}
	return report.Output{Doc: d, Records: records, JSON: out}
}

func stageTitle(s *plans.StagePlan) string {
	t := titled(s.About)
	if s.Name != "" {
		t += ", stage " + s.Name
	}
	return t
}

func curvePictures(d *report.Document, s *plans.StagePlan, clumps []degree) {
	levels := evenly(0, topLevel(s), chartIntervals)
	scale, xlabel := 100.0, "true share of plants infested, %"
	if s.Measure == plans.MeanPerLeaf {
		scale, xlabel = 1, "true mean per leaf"
	}
	x := make([]float64, len(levels))
	for i, l := range levels {
		x[i] = scale * l
	}
	marks := []report.VMark{{X: scale * s.Lower, Label: "lower"}, {X: scale * s.Threshold, Label: "threshold"}, {X: scale * s.Upper, Label: "upper"}}
	var oc, stops []report.Series
	for i, clump := range clumps {
		points := s.Curve(levels, clump)
		mark := []rune{'o', 'x'}[i]
		act, walk := make([]float64, len(points)), make([]float64, len(points))
		for j, p := range points {
			act[j], walk[j] = 100*p.Act, p.Stops
		}
		name := curveName(s, clump)
		oc = append(oc, report.Series{Name: name, Mark: mark, Y: act})
		stops = append(stops, report.Series{Name: name, Mark: mark, Y: walk})
	}
	d.Picture(report.Chart{Title: "Chance that a visit ends with act", XLabel: xlabel, YLabel: "%", X: x, Series: oc, YMax: 100, Marks: marks}.String())
	d.Picture(report.Chart{Title: "Expected stops of a visit", XLabel: xlabel, YLabel: "stops", X: x, Series: stops, Marks: marks}.String())
}

// textbookTable sets Wald's approximations beside the exact values.
func textbookTable(d *report.Document, s *plans.StagePlan, clump degree) {
	t := &report.Table{
		Caption: "The textbook's approximations for these lines beside the exact values. They neglect clumping, the grouping into stops, the overshoot and the last stop.",
		Columns: []report.Column{
			{Head: "field at", Key: "at"}, {Head: "level", Key: "level", Right: true},
			{Head: "leave, textbook", Key: "leave_textbook", Right: true}, {Head: "leave, exact", Key: "leave_exact", Right: true},
			{Head: "plants, textbook", Key: "plants_textbook", Right: true}, {Head: "plants, exact", Key: "plants_exact", Right: true},
		}}
	names := []string{"lower bound", "slope of the lines", "upper bound"}
	per := float64(s.Units(1))
	for i, w := range s.Textbook() {
		exact := s.Curve([]float64{w.Level}, clump)[0]
		t.Add(names[i], report.Level(s.Measure, w.Level), report.Percent(w.Leave), report.Percent(exact.Leave),
			report.Number(w.Units/per, 3), report.Number(exact.Plants, 3))
	}
	d.Table(t)
}
