package fitting

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/tallying"
	"stopwise/sampling/tally"
)

type tallyCurveJSON struct {
	report.Envelope
	Stage       string             `json:"stage"`
	Tally       int                `json:"tally"`
	Rho         float64            `json:"rho"`
	Points      []densityPointJSON `json:"points"`
	Transitions []transitionJSON   `json:"transitions"`
}

type densityPointJSON struct {
	Relation string `json:"relation"`
	Tally    int    `json:"-" csv:"tally"` // in JSON said once for all
	tallying.Point
}

// transitionJSON is the band of means over which the plan turns from leave to act.
type transitionJSON struct {
	Relation string   `json:"relation"`
	Leave90  float64  `json:"mean_at_leave_90_percent"`
	Leave10  float64  `json:"mean_at_leave_10_percent"`
	Factor   float64  `json:"factor"`
	Wider    *float64 `json:"wider_than_exact"` // the factor over that of the exact relation
}

func tallyCurve(e shell.Env) shell.Question {
	f, t, stage, last, rho := newRelationFlags(), shell.TallyFlag(), shell.StageFlag(), shell.LastFlag(), shell.RhoFlag()
	f.k.WithoutValue("that of the plan's protocol")
	f.taylor.WithoutValue("that of the plan's protocol")
	t.WithoutValue("that of the plan's protocol")
	rho.WithoutValue("the clumped end of the protocol's range")
	at := numbersFlag("at", "`NUMBERS` means per leaf where to compute, with commas between them").WithoutValue("about twenty, around the plan's bounds")
	return shell.Question{
		Name: "curve", Usage: "how often a plan for shares acts, against the mean per leaf", Arguments: "PLAN.json",
		Description: `Computes exactly how often a plan for shares infested acts and leaves in fields of a given mean per leaf. A fitted line that says how sure it is (see --model) is used twice: as if it were exact, and with the spread of fields around it, over which the exact values are integrated. The band from leaving nine fields in ten to leaving one in ten says how sharply the plan tells means apart.

$ stopwise tally curve plan.json --tally 15 --k 0.8 --model 3.31,0.582,0.0529,12,-1.92,0.039 --at 4,6,10,16,25`,
		Flags: append([]cli.Flag{t}, append(f.flags(), stage, last, rho, at)...),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			s, err := shell.OnlyTable(e, c, stage, last)
			if err != nil {
				return out, err
			}
			if s.Measure != plans.ShareInfested {
				return out, shell.UsageHint("use stopwise curve", "the plan is for a %s, and needs no tally number", s.Measure)
			}
			number, err := curveTally(s.Stage, t)
			if err != nil {
				return out, err
			}
			rs, err := curveRelations(e, f, number, s.Stage)
			if err != nil {
				return out, err
			}
			clump := s.Clumped(s.Threshold).Clump
			if rho.Set {
				if clump, err = shell.Single(rho); err != nil {
					return out, err
				}
			}
			if out, err = tallyCurveOutput(s, rs, at.Value, clump); err != nil {
				err = shell.Failure("%w", err)
			}
			return out, err
		},
	}
}

// curveTally returns the tally number: the plan's, or where it has none that of
// the flag.
func curveTally(p plans.Stage, t *shell.Option[int]) (int, error) {
	switch {
	case p.Unit.Tally == 0 && !t.Set:
		return 0, shell.UsageError("--tally is missing, and the plan does not say it")
	case p.Unit.Tally == 0:
		return t.Value, nil
	case t.Set && t.Value != p.Unit.Tally:
		return 0, shell.UsageError("--tally %d: the plan is for a tally number of %d", t.Value, p.Unit.Tally)
	}
	return p.Unit.Tally, nil
}

// curveRelations returns the relations asked for, or those of the plan's protocol.
// A line with an uncertainty comes as exact, too.
func curveRelations(e shell.Env, f *relationFlags, t int, p plans.Stage) ([]relation, error) {
	if !f.leaves.Set {
		f.leaves.Value = max(1, p.Unit.Leaves)
	}
	if r := p.Clumping.CountRho; !f.countRho.Set && r != nil {
		f.countRho.Value = *r
	}
	if !f.Given() {
		if _, ok := p.Clumping.Counts(); !ok {
			return nil, shell.UsageHint("give one, such as --k 0.8", "--k, --taylor and --model are missing, and the plan says nothing of counts")
		}
		c := p.Clumping
		c.CountRho = &f.countRho.Value
		return theories(t, f.leaves.Value, c), nil
	}
	rs, err := f.relations(e, t)
	if err != nil {
		return nil, err
	}
	var out []relation
	for _, r := range rs {
		if m, ok := r.Relation.(tally.Model); ok && m.Uncertain() {
			out = append(out, relation{"line, as exact", tally.Exact(m)}, relation{"line, uncertain", m})
			continue
		}
		out = append(out, r)
	}
	return out, nil
}

func tallyCurveOutput(s *plans.StagePlan, rs []relation, at []float64, rho float64) (report.Output, error) {
	out := tallyCurveJSON{Envelope: report.Envelope{Kind: "stopwise tally curve", Version: 1}, Stage: s.Name, Tally: rs[0].Tally(), Rho: rho}
	bands, err := transitions(s, rs, rho)
	if err != nil {
		return report.Output{}, err
	}
	out.Transitions = bands
	picture := at == nil
	if picture {
		at = aroundBands(bands, report.TableIntervals)
	}
	t := report.NewTable("Exact curves against the mean per leaf. Act and leave are the chances that a visit of a field of this mean ends so; leave is the operating characteristic.",
		"relation", ">mean per leaf", ">share", ">act", ">leave", ">stops", ">time")
	for _, r := range rs {
		points, err := tallying.Curve(s, r, at, rho)
		if err != nil {
			return report.Output{}, err
		}
		for _, p := range points {
			out.Points = append(out.Points, densityPointJSON{r.name, r.Tally(), p})
			t.Add(r.name, report.Number(p.Mean, 3), report.Percent(p.Share), report.Percent(p.Act), report.Percent(p.Leave), report.Number(p.Stops, 3), report.Minutes(p.Minutes))
		}
	}
	d := &report.Document{}
	d.Heading("Curves against the mean per leaf" + say.StageTitle(s))
	d.Para("%s %s of a stop are alike with rho %s.", tallySentence(s.Stage, rs[0].Tally(), theoryLeaves(rs)), say.Capital(report.UnitsName(s.Stage)), report.Number(rho, 3))
	if picture {
		densityPicture(d, s, rs, bands, rho)
	}
	d.Table(tallyBandTable(bands))
	widerSentence(d, bands)
	lineInterval(d, rs)
	d.Table(t)
	relationNotes(d, s.Stage, rs, at)
	return report.Output{Doc: d, Records: report.RecordsOf(out.Points), JSON: out}, nil
}

func theoryLeaves(rs []relation) int {
	for _, r := range rs {
		if x, ok := r.Relation.(tally.Theory); ok {
			return x.Leaves
		}
	}
	return 1
}

func transitions(s *plans.StagePlan, rs []relation, rho float64) ([]transitionJSON, error) {
	var out []transitionJSON
	for _, r := range rs {
		x, err := tallying.BandOf(s, r, rho)
		if err != nil {
			return nil, err
		}
		band := transitionJSON{Relation: r.name, Leave90: x.Leave90, Leave10: x.Leave10, Factor: x.Factor()}
		if m, ok := r.Relation.(tally.Model); ok && m.Uncertain() {
			exact, err := tallying.BandOf(s, tally.Exact(m), rho)
			if err != nil {
				return nil, err
			}
			wider := band.Factor / exact.Factor()
			band.Wider = &wider
		}
		out = append(out, band)
	}
	return out, nil
}

// aroundBands returns means from half the least mean of the bands to twice the
// largest.
func aroundBands(bands []transitionJSON, intervals int) []float64 {
	low, high := bands[0].Leave90, bands[0].Leave10
	for _, b := range bands {
		low, high = min(low, b.Leave90), max(high, b.Leave10)
	}
	return report.Evenly(low/2, high*1.25, intervals)
}

func tallyBandTable(bands []transitionJSON) *report.Table {
	t := report.NewTable("Where the plan turns from leave to act.", "relation", ">leaves 9 in 10 at", ">leaves 1 in 10 at", ">a factor of")
	for _, b := range bands {
		t.Add(b.Relation, report.Number(b.Leave90, 3)+" per leaf", report.Number(b.Leave10, 3)+" per leaf", report.Number(b.Factor, 3))
	}
	return t
}

// widerSentence says by how much the uncertainty of a fitted line widens the curve.
func widerSentence(d *report.Document, bands []transitionJSON) {
	for i, b := range bands {
		if b.Wider == nil {
			continue
		}
		var against []string
		for _, other := range bands[:i] {
			against = append(against, fmt.Sprintf("%s (%s)", report.Number(other.Factor, 3), other.Relation))
		}
		if len(against) == 0 {
			against = []string{report.Number(b.Factor / *b.Wider, 3) + " with the line taken as exact"}
		}
		d.Para("With what the fitted line leaves open, the band from leaving nine fields in ten to leaving one in ten spans a factor of %s in the mean per leaf, against %s: %s wider than if the line were exact.",
			report.Number(b.Factor, 3), shell.Either(against), report.Percent(*b.Wider-1))
	}
}

func densityPicture(d *report.Document, s *plans.StagePlan, rs []relation, bands []transitionJSON, rho float64) {
	x := aroundBands(bands, report.ChartIntervals)
	var series []report.Series
	for i, r := range rs {
		points, err := tallying.Curve(s, r, x, rho)
		if err != nil || i == len(seriesMarks) {
			return
		}
		y := make([]float64, len(points))
		for j, p := range points {
			y[j] = 100 * p.Leave
		}
		series = append(series, report.Series{Name: r.name, Mark: seriesMarks[i], Y: y})
	}
	d.Drawing(report.Chart{Title: "Chance that a visit ends with leave (operating characteristic)", XLabel: "true mean per leaf", YLabel: "%", X: x, Series: series, YMax: 100}.In)
}

var seriesMarks = []rune{'o', 'x', '+', '*'}
