package designing

import (
	"context"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
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
	Counts  *float64 `json:"count_rho,omitempty"`
	Act     *float64 `json:"p_act"` // null where a chance of the sign is not known
	Leave   *float64 `json:"p_leave"`
	Stops   float64  `json:"expected_stops"`
	Plants  float64  `json:"expected_plants"`
	Minutes float64  `json:"expected_minutes"`
}

func CurveCommand(e shell.Env) *cli.Command {
	stage, last := shell.StageFlag(), shell.LastFlag()
	rho, k, countRho := shell.RhoFlag(), shell.KFlag(), shell.CountRhoFlag()
	rho.WithoutValue("the clumped end of the protocol's range")
	k.WithoutValue("the clumped end of the protocol's range")
	countRho.WithoutValue("the clumped end of the protocol's range")
	at := shell.NewOption("at", "`LEVELS` where to compute, such as 10%,20% or, for a mean per leaf, 20,75", shell.ParseList).
		WithoutValue("from 0 to twice the upper bound")
	plot := shell.PlotFlag("both curves, one for each degree of clumping (without --rho, --k and --count-rho both ends of the protocol's range)")
	return shell.Question{
		Name:      "curve",
		Usage:     "show how often a plan acts and how far one walks, at every level",
		Arguments: "PLAN.json",
		Description: `Computes exactly, for fields of any true level, the chance that a visit ends with act or with leave (the operating characteristic) and the expected stops, plants and minutes.

$ stopwise curve plan.json --stage leafing --at 8%,14%,22% --rho 0.05..0.2
$ stopwise curve plan.json --stage leafing --plot leafing.svg`,
		Flags: []cli.Flag{stage, last, rho, k, countRho, at, plot},
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			s, err := shell.OnlyTable(e, c, stage, last)
			if err != nil {
				return out, err
			}
			clumps, err := curveClumps(s, rho, k, countRho)
			if err != nil {
				return out, err
			}
			levels := report.Evenly(0, drawing.TopLevel(s), report.TableIntervals)
			if at.Set {
				if levels, err = shell.ParseLevels(at.Name, s.Measure, at.Value); err != nil {
					return out, err
				}
			}
			out = curveOutput(s, levels, clumps, !at.Set)
			return out, shell.Draw(out.Doc, plot, func() (figure.Picture, error) {
				if !shell.AnySet(rho, k, countRho) {
					clumps = nil
				}
				return drawing.CurvesFigure(s, clumps)
			})
		},
	}.Command(e)
}

// curveClumps returns the degrees of clumping to compute: one, or the two ends
// of a range.
func curveClumps(s *plans.StagePlan, rho, k, countRho *shell.Option[plans.Range]) ([]drawing.Degree, error) {
	if err := shell.ClumpingGoes(s.Measure, rho, k, countRho); err != nil {
		return nil, err
	}
	var degrees []drawing.Degree
	for _, clump := range endsOf(shell.ClumpFlag(s.Measure, rho, k)) {
		for _, counts := range endsOf(countRho) {
			degrees = append(degrees, s.With(clump, counts))
		}
	}
	return degrees, nil
}

// endsOf returns the ends of a range that was given, the one value where it is one,
// or nil.
func endsOf(o *shell.Option[plans.Range]) []*float64 {
	r := o.Value
	switch {
	case !o.Set:
		return []*float64{nil}
	case r.Single():
		return []*float64{&r.Low}
	}
	return []*float64{&r.Low, &r.High}
}

func curveOutput(s *plans.StagePlan, levels []float64, clumps []drawing.Degree, picture bool) report.Output {
	out := curveJSON{Envelope: report.Envelope{Kind: "stopwise curve", Version: 1}, Stage: s.Name, Measure: string(s.Measure)}
	type curveRow struct {
		Stage string `json:"stage"`
		curvePoint
	}
	var rows []curveRow
	t := report.NewTable("Exact curves. Leave and act are the chances that a visit of a field at this level ends so; leave is the operating characteristic, and act the rest to 100%.",
		">level", "clumping", ">leave", ">act", ">stops", ">"+report.UnitsName(s.Stage), ">time")
	if s.Sign != nil {
		t.Caption += " " + say.SignCurve(s)
	}
	alike := slices.ContainsFunc(clumps, func(at drawing.Degree) bool { return at(s.Upper).CountRho > 0 })
	if text := say.ForIndependent(s); text != "" && !alike {
		t.Caption += " " + text
	}
	cut := false
	for _, clump := range clumps {
		settled := false
		for _, p := range s.Curve(levels, clump) {
			if !settled {
				t.Add(report.Level(s.Measure, p.Level), report.Clumping(p.Clump), say.Chance(p.Leave), say.Chance(p.Act),
					report.Number(p.Stops, 3), report.Number(p.Plants, 3), report.Minutes(p.Minutes))
			} else {
				cut = true
			}
			settled = settled || picture && p.Level >= s.Upper && p.Leave < nothingMore
			point := curvePoint{Act: report.Finite(p.Act), Leave: report.Finite(p.Leave), Stops: p.Stops, Plants: p.Plants, Minutes: p.Minutes}
			level, c := p.Level, &p.Clump.Value
			if math.IsInf(*c, 0) {
				c = nil
			}
			if s.Measure == plans.MeanPerLeaf {
				point.Mean, point.K, point.Counts = &level, c, &p.Clump.CountRho
			} else {
				point.P, point.Rho = &level, c
			}
			out.Points = append(out.Points, point)
			rows = append(rows, curveRow{s.Name, point})
		}
	}
	if cut {
		t.Caption += " The table ends where nearly every visit ends with act; --at shows any level."
	}
	d := &report.Document{}
	d.Heading("Curves" + say.StageTitle(s))
	if picture {
		curvePictures(d, s, clumps)
	}
	d.Table(t)
	if s.Method == plans.Lines && s.Lines != nil {
		textbookTable(d, s, clumps[len(clumps)-1])
	}
	return report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: out}
}

// nothingMore is the chance of leave from which on the table of a curve has no more to
// tell.
const nothingMore = 0.001

func curvePictures(d *report.Document, s *plans.StagePlan, clumps []drawing.Degree) {
	levels := report.Evenly(0, drawing.TopLevel(s), report.ChartIntervals)
	scale, xlabel := 100.0, "true share "+say.English().Measured(s.Stage)+", %"
	if s.Measure == plans.MeanPerLeaf {
		scale, xlabel = 1, "true mean per leaf"
	}
	x := make([]float64, len(levels))
	for i, l := range levels {
		x[i] = scale * l
	}
	marks := []report.VMark{{X: scale * s.Lower, Label: "lower"}, {X: scale * s.Threshold, Label: "threshold"}, {X: scale * s.Upper, Label: "upper"}}
	by, known := drawing.ByCount(s)
	title := "Chance that a visit ends with leave (operating characteristic)"
	if !known {
		title = "Chance that the count alone brings leave; the sign can only raise it"
	}
	var oc, stops []report.Series
	for i, clump := range clumps {
		points := by.Curve(levels, clump)
		mark := []rune{'o', 'x'}[i]
		leave, walk := make([]float64, len(points)), make([]float64, len(points))
		for j, p := range points {
			leave[j], walk[j] = 100*p.Leave, p.Stops
		}
		name := drawing.CurveName(s, clump)
		oc = append(oc, report.Series{Name: name, Mark: mark, Y: leave})
		stops = append(stops, report.Series{Name: name, Mark: mark, Y: walk})
	}
	d.Drawing(report.Chart{Title: title, XLabel: xlabel, YLabel: "%", X: x, Series: oc, YMax: 100, Marks: marks}.In)
	d.Drawing(report.Chart{Title: "Expected stops of a visit", XLabel: xlabel, YLabel: "stops", X: x, Series: stops, Marks: marks}.In)
}

// textbookTable sets Wald's approximations beside the exact values.
func textbookTable(d *report.Document, s *plans.StagePlan, clump drawing.Degree) {
	t := report.NewTable("The textbook's approximations for these lines beside the exact values. They neglect clumping, the grouping into stops, the overshoot, the stops before the first verdict and the last stop.",
		"field at", ">level", ">leave, textbook", ">leave, exact", ">"+report.UnitsName(s.Stage)+", textbook", ">"+report.UnitsName(s.Stage)+", exact")
	names := []string{"lower bound", "slope of the lines", "upper bound"}
	per := float64(s.Units(1))
	for i, w := range s.Textbook() {
		exact := s.Curve([]float64{w.Level}, clump)[0]
		t.Add(names[i], report.Level(s.Measure, w.Level), report.Percent(w.Leave), report.Percent(exact.Leave),
			report.Number(w.Units/per, 3), report.Number(exact.Plants, 3))
	}
	d.Table(t)
}
