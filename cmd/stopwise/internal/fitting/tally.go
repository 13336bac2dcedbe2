package fitting

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

func TallyCommand(e shell.Env) *cli.Command {
	return &cli.Command{
		Name:  "tally",
		Usage: "turn a mean per leaf into a share infested, and choose the tally number",
		Description: `A plant counts as infested when a leaf carries at least a tally number of insects. These commands relate the share of such plants to the mean number per leaf.

$ stopwise tally share --mean 6,16 --tally 15 --k 0.8`,
		Subcommands: []*cli.Command{tallyShare(e), tallyMean(e), tallyTable(e), tallyChoose(e), tallyCurve(e)},
	}
}

type shareJSON struct {
	report.Envelope
	Rows []shareRow `json:"rows"`
}

type shareRow struct {
	Relation string           `json:"relation"`
	Tally    int              `json:"tally"`
	Leaves   *int             `json:"leaves"`
	Mean     float64          `json:"mean"`
	P        float64          `json:"p"`
	K        *float64         `json:"k"` // null: a Poisson, or a fitted line
	Interval *report.Interval `json:"interval"`
}

func tallyShare(e shell.Env) *cli.Command {
	f, t, confidence, format := newRelationFlags(), shell.TallyFlag(), shell.ConfidenceFlag(), shell.FormatFlag()
	means := numbersFlag("mean", "`NUMBERS` means per leaf, with commas between them")
	return &cli.Command{
		Name: "share", Usage: "the share of plants infested at a mean per leaf", ArgsUsage: " ",
		Description: `Computes the share of plants with a leaf that carries at least the tally number, from negative binomial counts (--k or --taylor) or from a fitted line (--model).

$ stopwise tally share --mean 6,16 --tally 15 --k 0.3..2
$ stopwise tally share --mean 10 --tally 15 --taylor 3,1.6 --leaves 2`,
		Flags: append([]cli.Flag{means, t}, append(f.flags(), confidence, format)...),
		Action: func(c *cli.Context) error {
			if err := shell.NoArguments(c); err != nil {
				return err
			}
			if err := shell.Required(means); err != nil {
				return err
			}
			rs, err := f.relations(e, t.Value)
			if err != nil {
				return err
			}
			return report.Write(e.Out, format.Value, tallyShareOutput(rs, means.Value, f.leaves.Value, confidence.Value))
		},
	}
}

func shareRowOf(r relation, mean, confidence float64) shareRow {
	row := shareRow{Relation: r.name, Tally: r.Tally(), Mean: mean, P: r.Share(mean)}
	switch x := r.Relation.(type) {
	case tally.Theory:
		row.Leaves = &x.Leaves
		if k := x.K(mean); !math.IsInf(k, 1) {
			row.K = &k
		}
	case tally.Model:
		if x.Uncertain() {
			_, lower, upper := x.ShareInterval(mean, confidence)
			row.Interval = &report.Interval{Lower: lower, Upper: upper, Confidence: confidence}
		}
	}
	return row
}

func tallyShareOutput(rs []relation, means []float64, leaves int, confidence float64) report.Output {
	out := shareJSON{Envelope: report.Envelope{Kind: "stopwise tally share", Version: 1}}
	t := &report.Table{Columns: []report.Column{
		{Head: "relation"}, {Head: "tally", Right: true},
		{Head: "mean per leaf", Right: true}, {Head: "share infested", Right: true}, {Head: "k", Right: true},
		{Head: fmt.Sprintf("%s of fields within", report.Share(confidence)), Right: true},
	}}
	for _, r := range rs {
		for _, mean := range means {
			row := shareRowOf(r, mean, confidence)
			out.Rows = append(out.Rows, row)
			k, within := "", ""
			if row.K != nil {
				k = report.Number(*row.K, 3)
			} else if row.Leaves != nil {
				k = "Poisson"
			}
			if i := row.Interval; i != nil {
				within = report.Percent(i.Lower) + " to " + report.Percent(i.Upper)
			}
			t.Add(r.name, fmt.Sprint(row.Tally), report.Plain(mean), report.Percent(row.P), k, within)
		}
	}
	withoutEmpty(t)
	d := &report.Document{}
	d.Heading("Share of plants infested")
	d.Para("%s", tallySentence(plans.Stage{}, rs[0].Tally(), leavesOf(rs, leaves)))
	d.Table(t)
	lineInterval(d, rs)
	relationNotes(d, plans.Stage{}, rs, means)
	return report.Output{Doc: d, Records: report.RecordsOf(out.Rows), JSON: out}
}

func leavesOf(rs []relation, leaves int) int {
	if _, ok := rs[0].Relation.(tally.Theory); ok {
		return leaves
	}
	return 1
}

// withoutEmpty removes the columns in which every cell is empty.
func withoutEmpty(t *report.Table) {
	for c := len(t.Columns) - 1; c >= 0; c-- {
		empty := true
		for _, row := range t.Rows {
			empty = empty && row[c] == ""
		}
		if !empty {
			continue
		}
		t.Columns = append(t.Columns[:c:c], t.Columns[c+1:]...)
		for i, row := range t.Rows {
			t.Rows[i] = append(row[:c:c], row[c+1:]...)
		}
	}
}

type tallyMeanJSON struct {
	report.Envelope
	Rows []tallyMeanRow `json:"rows"`
}

type tallyMeanRow struct {
	Relation string           `json:"relation"`
	Tally    int              `json:"tally"`
	Leaves   *int             `json:"leaves"`
	P        float64          `json:"p"`
	Means    []float64        `json:"means"` // none where the share is never reached
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

func tallyMean(e shell.Env) *cli.Command {
	f, t, confidence, format := newRelationFlags(), shell.TallyFlag(), shell.ConfidenceFlag(), shell.FormatFlag()
	shares := tallySharesFlag("share", "`SHARES` shares of plants infested, with commas between them")
	s := newSeen()
	return &cli.Command{
		Name: "mean", Usage: "the mean per leaf at a share of plants infested", ArgsUsage: " ",
		Description: `The way back: from the share of plants with a leaf that carries at least the tally number to the mean per leaf. With --stops the share was seen in a sample, and the interval holds what that leaves open.

$ stopwise tally mean --share 20% --tally 15 --k 0.8
$ stopwise tally mean --share 20% --tally 15 --model 3.31,0.582,0.0529,12,-1.92,0.039 --stops 8 --rho 0.1`,
		Flags: append([]cli.Flag{shares, t}, append(f.flags(), s.stops, s.plants, s.rho, confidence, format)...),
		Action: func(c *cli.Context) error {
			if err := shell.NoArguments(c); err != nil {
				return err
			}
			if err := shell.Required(shares); err != nil {
				return err
			}
			rs, err := f.relations(e, t.Value)
			if err != nil {
				return err
			}
			plants, rho, err := s.sample()
			if err != nil {
				return err
			}
			out, err := tallyMeanOutput(rs, shares.Value, f.leaves.Value, plants, rho, confidence.Value)
			if err != nil {
				return err
			}
			return report.Write(e.Out, format.Value, out)
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
		row.Leaves = &x.Leaves
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
		total, deff := 0, 1.0
		for _, m := range plants {
			total += m
			deff = sampling.DesignEffect(m, rho)
		}
		_, lower, upper := x.MeanInterval(share, total, deff, confidence)
		row.Interval = &report.Interval{Lower: lower, Upper: upper, Confidence: confidence}
	}
	return row, nil
}

func tallyMeanOutput(rs []relation, shares []float64, leaves int, plants []int, rho, confidence float64) (report.Output, error) {
	out := tallyMeanJSON{Envelope: report.Envelope{Kind: "stopwise tally mean", Version: 1}}
	records := report.NewRecords("relation", "tally", "leaves", "p", "mean", "interval_lower", "interval_upper")
	t := &report.Table{Columns: []report.Column{
		{Head: "relation"}, {Head: "tally", Right: true},
		{Head: "share infested", Right: true}, {Head: "mean per leaf", Right: true},
		{Head: report.Share(confidence) + " interval", Right: true},
	}}
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
			var lower, upper *float64
			if i := row.Interval; i != nil {
				lower, upper = &i.Lower, &i.Upper
				within = report.Number(i.Lower, 3) + " to " + report.Number(i.Upper, 3)
			}
			several, never = several || len(row.Means) > 1, never || len(row.Means) == 0
			if len(row.Means) == 0 {
				t.Add(r.name, fmt.Sprint(row.Tally), report.Share(share), "never", "")
				records.Add(r.name, row.Tally, row.Leaves, share, nil, nil, nil)
			}
			for _, mean := range row.Means {
				t.Add(r.name, fmt.Sprint(row.Tally), report.Share(share), report.Number(mean, 4), within)
				records.Add(r.name, row.Tally, row.Leaves, share, mean, lower, upper)
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
	return report.Output{Doc: d, Records: records, JSON: out}, nil
}

func sum(xs []int) int {
	total := 0
	for _, x := range xs {
		total += x
	}
	return total
}

type tallyTableJSON struct {
	report.Envelope
	Rows []shareRow `json:"rows"`
}

func tallyTable(e shell.Env) *cli.Command {
	f, format := newRelationFlags(), shell.FormatFlag()
	tallies := talliesFlag("tallies", "`NUMBERS` tally numbers, with commas between them").WithoutValue("1,5,10,20,50,100, or all lines of a file")
	means := numbersFlag("means", "`NUMBERS` means per leaf, with commas between them").WithDefault("10,25,50,75,125,200")
	return &cli.Command{
		Name: "table", Usage: "the shares infested over tally numbers and means", ArgsUsage: " ",
		Description: `Prints the share of plants infested for several tally numbers and means per leaf.

$ stopwise tally table --k 0.8 --tallies 1,5,15 --means 6,10,16`,
		Flags: append([]cli.Flag{tallies, means}, append(f.flags(), format)...),
		Action: func(c *cli.Context) error {
			if err := shell.NoArguments(c); err != nil {
				return err
			}
			ts := tallies.Value
			switch {
			case tallies.Set:
			case f.model.Set && f.model.Value.line != nil:
				return shell.UsageHint("say which with --tallies, such as --tallies 15", "a line holds for one tally number")
			case f.model.Set && !f.k.Set && !f.taylor.Set:
				ts = []int{0} // all of the file
			default:
				ts = []int{1, 5, 10, 20, 50, 100}
			}
			if tallies.Set && len(ts) > 1 && f.model.Set && f.model.Value.line != nil {
				return shell.UsageError("a line holds for one tally number, not for %d", len(ts))
			}
			var rs []relation
			for _, t := range ts {
				at, err := f.relations(e, t)
				if err != nil {
					return err
				}
				rs = append(rs, at...)
			}
			return report.Write(e.Out, format.Value, tallyTableOutput(rs, means.Value, f.leaves.Value))
		},
	}
}

func tallyTableOutput(rs []relation, means []float64, leaves int) report.Output {
	out := tallyTableJSON{Envelope: report.Envelope{Kind: "stopwise tally table", Version: 1}}
	records := report.NewRecords("relation", "tally", "leaves", "mean", "p")
	t := &report.Table{
		Caption: "Share of plants infested, by tally number (down) and mean per leaf (across).",
		Columns: []report.Column{{Head: "relation"}, {Head: "tally", Right: true}},
	}
	for _, mean := range means {
		t.Columns = append(t.Columns, report.Column{Head: report.Plain(mean), Right: true})
	}
	for _, r := range rs {
		cells := []string{r.name, fmt.Sprint(r.Tally())}
		for _, mean := range means {
			row := shareRowOf(r, mean, 0.95)
			row.Interval = nil
			out.Rows = append(out.Rows, row)
			records.Add(r.name, row.Tally, row.Leaves, mean, row.P)
			cells = append(cells, report.Percent(row.P))
		}
		t.Add(cells...)
	}
	d := &report.Document{}
	d.Heading("Shares infested")
	if leaves > 1 {
		d.Para("A plant is infested when at least one of its %d leaves carries at least the tally number of insects.", leaves)
	} else {
		d.Para("A plant is infested when a leaf carries at least the tally number of insects.")
	}
	d.Table(t)
	relationNotes(d, plans.Stage{}, rs, means)
	return report.Output{Doc: d, Records: records, JSON: out}
}
