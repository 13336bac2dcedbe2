package fitting

import (
	"context"
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/tally"
)

func TallyCommand(e shell.Env) *cli.Command {
	return &cli.Command{
		Name:  "tally",
		Usage: "turn a mean per leaf into a share infested, and choose the tally number",
		Description: `A plant counts as infested when a leaf carries at least a tally number of insects. These commands relate the share of such plants to the mean number per leaf.

$ stopwise tally share --mean 6,16 --tally 15 --k 0.8`,
		Subcommands: []*cli.Command{tallyShare(e).Command(e), tallyMean(e).Command(e), tallyTable(e).Command(e), tallyChoose(e).Command(e), tallyCurve(e).Command(e)},
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
	CountRho *float64         `json:"count_rho"` // null: a fitted line
	Mean     float64          `json:"mean"`
	P        float64          `json:"p"`
	K        *float64         `json:"k"` // null: a Poisson, or a fitted line
	Interval *report.Interval `json:"interval"`
}

func tallyShare(e shell.Env) shell.Question {
	f, t, confidence := newRelationFlags(), shell.TallyFlag(), shell.ConfidenceFlag()
	means := numbersFlag("mean", "`NUMBERS` means per leaf, with commas between them")
	return shell.Question{
		Name: "share", Usage: "the share of plants infested at a mean per leaf",
		Description: `Computes the share of plants with a leaf that carries at least the tally number, from negative binomial counts (--k or --taylor) or from a fitted line (--model). Where a plant has several leaves, --count-rho says how alike they are.

$ stopwise tally share --mean 6,16 --tally 15 --k 0.3..2
$ stopwise tally share --mean 10 --tally 15 --taylor 3,1.6 --leaves 2 --count-rho 0.1..0.2`,
		Flags: append([]cli.Flag{means, t}, append(f.flags(), confidence)...),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			if err := shell.Required(means); err != nil {
				return out, err
			}
			rs, err := f.relations(e, t.Value)
			if err != nil {
				return out, err
			}
			return tallyShareOutput(rs, means.Value, f.leaves.Value, confidence.Value), nil
		},
	}
}

func shareRowOf(r relation, mean, confidence float64) shareRow {
	row := shareRow{Relation: r.name, Tally: r.Tally(), Mean: mean, P: r.Share(mean)}
	switch x := r.Relation.(type) {
	case tally.Theory:
		row.Leaves, row.CountRho = &x.Leaves, &x.CountRho
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
	t := report.NewTable("", "relation", ">tally", ">mean per leaf", ">share infested", ">k", fmt.Sprintf(">%s of fields within", report.Share(confidence)))
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

func tallyTable(e shell.Env) shell.Question {
	f := newRelationFlags()
	tallies := talliesFlag("tallies", "`NUMBERS` tally numbers, with commas between them").WithoutValue("1,5,10,20,50,100, or all lines of a file")
	means := numbersFlag("means", "`NUMBERS` means per leaf, with commas between them").WithDefault("10,25,50,75,125,200")
	return shell.Question{
		Name: "table", Usage: "the shares infested over tally numbers and means",
		Description: `Prints the share of plants infested for several tally numbers and means per leaf.

$ stopwise tally table --k 0.8 --tallies 1,5,15 --means 6,10,16`,
		Flags: append([]cli.Flag{tallies, means}, f.flags()...),
		Answer: func(_ context.Context, c *cli.Context) (out report.Output, err error) {
			ts := tallies.Value
			switch {
			case tallies.Set:
			case f.model.Set && f.model.Value.line != nil:
				return out, shell.UsageHint("say which with --tallies, such as --tallies 15", "a line holds for one tally number")
			case f.model.Set && !f.k.Set && !f.taylor.Set:
				ts = []int{0} // all of the file
			default:
				ts = []int{1, 5, 10, 20, 50, 100}
			}
			if tallies.Set && len(ts) > 1 && f.model.Set && f.model.Value.line != nil {
				return out, shell.UsageError("a line holds for one tally number, not for %d", len(ts))
			}
			var rs []relation
			for _, t := range ts {
				at, err := f.relations(e, t)
				if err != nil {
					return out, err
				}
				rs = append(rs, at...)
			}
			return tallyTableOutput(rs, means.Value, f.leaves.Value), nil
		},
	}
}

func tallyTableOutput(rs []relation, means []float64, leaves int) report.Output {
	out := shareJSON{Envelope: report.Envelope{Kind: "stopwise tally table", Version: 1}}
	t := report.NewTable("Share of plants infested, by tally number (down) and mean per leaf (across).", "relation", ">tally")
	for _, mean := range means {
		t.Head(">" + report.Plain(mean))
	}
	for _, r := range rs {
		cells := []string{r.name, fmt.Sprint(r.Tally())}
		for _, mean := range means {
			row := shareRowOf(r, mean, 0.95)
			row.Interval = nil
			out.Rows = append(out.Rows, row)
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
	return report.Output{Doc: d, Records: report.RecordsOf(out.Rows), JSON: out}
}
