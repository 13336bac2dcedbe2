package fitting

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

type tallyMeanJSON struct {
	report.Envelope
	Rows []tallyMeanRow `json:"rows"`
}

type tallyMeanRow struct {
	Relation string           `json:"relation"`
	Tally    int              `json:"tally"`
	Leaves   *int             `json:"leaves"`
	CountRho *float64         `json:"count_rho"`
	P        float64          `json:"p"`
	Means    []float64        `json:"means" csv:"-"` // none where the share is never reached
	Mean     *float64         `json:"-" csv:"mean"`  // one of them: a cell holds no list
	Interval *report.Interval `json:"interval"`
}

// seen says how many plants a share comes from.
type seen struct {
	stops, plants *shell.Option[int]
	rho           *shell.Option[plans.Range]
}

func newSeen() *seen {
	return &seen{
		shell.NewOption("stops", "`COUNT` stops at which the share was seen", shell.Whole(1, protocol.MaxStops)).WithoutValue("the share is the field's own"),
		shell.PlantsPerStopFlag().WithDefault("20"), shell.RhoFlag(),
	}
}

// sample returns the stops' plants, and rho; no plants where none were given.
func (s *seen) sample() (plants []int, rho float64, err error) {
	if !s.stops.Set {
		if s.plants.Set || s.rho.Set {
			return nil, 0, shell.UsageHint("give the number of stops too", "--plants-per-stop and --rho go with --stops")
		}
		return nil, 0, nil
	}
	if s.rho.Set {
		rho, err = shell.Single(s.rho)
	}
	for range s.stops.Value {
		plants = append(plants, s.plants.Value)
	}
	return plants, rho, err
}

func tallyMean(e shell.Env) shell.Question {
	f, t, confidence := newRelationFlags(), shell.TallyFlag(), shell.ConfidenceFlag()
	shares := tallySharesFlag("share", "`SHARES` shares of plants infested, with commas between them")
	s := newSeen()
	return shell.Question{
		Name: "mean", Usage: "the mean per leaf at a share of plants infested",
		Description: `The way back: from the share of plants with a leaf that carries at least the tally number to the mean per leaf. With --stops the share was seen in a sample, and the interval holds what that leaves open.

$ stopwise tally mean --share 20% --tally 15 --k 0.8
$ stopwise tally mean --share 20% --tally 15 --model 3.31,0.582,0.0529,12,-1.92,0.039 --stops 8 --rho 0.1`,
		Flags: append([]cli.Flag{shares, t}, append(f.flags(), s.stops, s.plants, s.rho, confidence)...),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if err := shell.Required(shares); err != nil {
				return out, err
			}
			rs, err := f.relations(e, t.Value)
			if err != nil {
				return out, err
			}
			plants, rho, err := s.sample()
			if err != nil {
				return out, err
			}
			return tallyMeanOutput(rs, shares.Value, f.leaves.Value, plants, rho, confidence.Value)
		},
	}
}

func meanRowOf(r relation, share float64, plants []int, rho, confidence float64) (tallyMeanRow, error) {
	row := tallyMeanRow{Relation: r.name, Tally: r.Tally(), P: share, Means: []float64{}}
	means, err := tally.Means(r, share)
	if err != nil {
		return row, err
	}
	row.Means = append(row.Means, means...)
	n := sampling.PooledEffectiveSize(plants, rho)
	switch x := r.Relation.(type) {
	case tally.Theory:
		row.Leaves, row.CountRho = &x.Leaves, &x.CountRho
		if n == 0 || len(means) != 1 {
			break
		}
		in := sampling.Wilson(share*n, n, confidence)
		lower, errL := tally.Mean(r, in.Lower)
		upper, errU := tally.Mean(r, in.Upper)
		if errL == nil && errU == nil {
			row.Interval = &report.Interval{Lower: lower, Upper: upper, Confidence: confidence}
		}
	case tally.Model:
		if !x.Uncertain() && n == 0 {
			break
		}
		deff := 1.0
		if len(plants) > 0 { // the same at all stops
			deff = sampling.DesignEffect(plants[0], rho)
		}
		_, lower, upper := x.MeanInterval(share, sum(plants), deff, confidence)
		row.Interval = &report.Interval{Lower: lower, Upper: upper, Confidence: confidence}
	}
	return row, nil
}

func tallyMeanOutput(rs []relation, shares []float64, leaves int, plants []int, rho, confidence float64) (report.Output, error) {
	out := tallyMeanJSON{Envelope: report.Envelope{Kind: "stopwise tally mean", Version: 1}}
	var rows []tallyMeanRow
	t := report.NewTable("", "relation", ">tally", ">share infested", ">mean per leaf", ">"+report.Share(confidence)+" interval")
	several, never := false, false
	var all []float64
	for _, r := range rs {
		for _, share := range shares {
			row, err := meanRowOf(r, share, plants, rho, confidence)
			if err != nil {
				return report.Output{}, err
			}
			out.Rows = append(out.Rows, row)
			within := ""
			if i := row.Interval; i != nil {
				within = report.Number(i.Lower, 3) + " to " + report.Number(i.Upper, 3)
			}
			several, never = several || len(row.Means) > 1, never || len(row.Means) == 0
			if len(row.Means) == 0 {
				t.Add(r.name, fmt.Sprint(row.Tally), report.Share(share), "never", "")
				rows = append(rows, row)
			}
			for _, mean := range row.Means {
				t.Add(r.name, fmt.Sprint(row.Tally), report.Share(share), report.Number(mean, 4), within)
				row.Mean = &mean
				rows = append(rows, row)
			}
			all = append(all, row.Means...)
		}
	}
	withoutEmpty(t)
	d := &report.Document{}
	d.Heading("Mean per leaf")
	d.Para("%s", tallySentence(plans.Stage{}, rs[0].Tally(), leavesOf(rs, leaves)))
	d.Table(t)
	if len(plants) > 0 {
		d.Para("The share was seen on %s at %s (rho %s). The interval of a k or of Taylor's law holds the sampling alone; that of a fitted line also how far fields lie from it.",
			report.Count(sum(plants), "plant", "plants"), report.Count(len(plants), "stop", "stops"), report.Number(rho, 3))
	}
	if several {
		d.Note("Some share has several means: under this law it rises with the mean and falls again, so the share does not tell the mean.")
	}
	if never {
		d.Note("Some share is reached at no mean per leaf under this law.")
	}
	lineInterval(d, rs)
	relationNotes(d, plans.Stage{}, rs, all)
	return report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: out}, nil
}

func sum(xs []int) (total int) {
	for _, x := range xs {
		total += x
	}
	return total
}
