package studying

import (
	"context"
	"fmt"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// mostTables is how many tables are laid over each other at most: as many as there
// are dashes.
const mostTables = 4

func studyTables(e shell.Env) shell.Question {
	s := shell.NewSituation()
	rhos := shell.NewOption("rhos", "`VALUES` up to four degrees of likeness, with commas between; one table is made for each", parseRhos).WithDefault("0,0.1,0.2")
	plot := shell.PlotFlag("the tables laid over each other")
	return shell.Question{
		Name:  "tables",
		Usage: "see how a decision table changes with how alike the plants of a stop are",
		Description: `Makes one plan for each degree of likeness, with the same bounds and risks, and sets the tables beside each other: the more alike the plants of a stop, the wider the room in which one walks on.

$ stopwise study tables --lower 15% --upper 30% --needless-risk 10% --missed-risk 10%
$ stopwise study tables --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rhos 0.05,0.15 --plot tables.svg`,
		Flags: append(s.Flags(), rhos, plot),
		Answer: func(ctx context.Context, _ *cli.Context) (report.Output, error) {
			if s.Rho.Set || s.LowerMean.Set || s.UpperMean.Set || s.K.Set || s.Auto() {
				return report.Output{}, shell.UsageError("study tables takes shares, a number of plants a stop, and --rhos in place of --rho")
			}
			if err := shell.Required(s.Lower, s.Upper, s.Needless, s.Missed); err != nil {
				return report.Output{}, err
			}
			r := tablesResult{rhos: rhos.Value}
			for _, rho := range rhos.Value {
				s.Rho.Value, s.Rho.Set = plans.Range{Low: rho, High: rho}, true
				p, err := s.Protocol()
				if err != nil {
					return report.Output{}, err
				}
				plan, err := shell.DesignWithProgress(ctx, e, p, plans.DesignOptions{})
				if err != nil {
					return report.Output{}, shell.DesignError(err)
				}
				r.plans = append(r.plans, plan.Stages[0])
			}
			out := r.output()
			return out, shell.Draw(out.Doc, plot, r.picture)
		},
	}
}

func parseRhos(s string) ([]float64, error) {
	out, err := shell.ParseEach(s, func(s string) (float64, error) {
		x, err := shell.NotNegative(s)
		if err == nil && x >= 1 {
			err = fmt.Errorf("%q is out of range; rho must be at least 0 and below 1", s)
		}
		return x, err
	})
	if err == nil && len(out) > mostTables {
		err = fmt.Errorf("%q holds %d values; give up to %d", s, len(out), mostTables)
	}
	return out, err
}

type tablesResult struct {
	rhos  []float64
	plans []*plans.StagePlan
}

type tablesJSON struct {
	report.Envelope
	Rows []tablesRow `json:"rows"`
}

type tablesRow struct {
	Rho float64 `json:"rho"`
	plans.Row
}

func (r tablesResult) output() report.Output {
	j := tablesJSON{Envelope: report.Envelope{Kind: "stopwise study tables", Version: 1}}
	t := report.NewTable("Leave at or below / act at or above, after each stop.", ">stop")
	effort := report.NewTable("What a visit takes at the threshold, exact.", ">rho", ">stops", ">9 in 10 need at most", ">last stop")
	stops := 0
	for i, s := range r.plans {
		t.Head(">rho " + report.Constant(r.rhos[i]))
		stops = max(stops, s.Table.Stops())
		for _, row := range s.Rows() {
			j.Rows = append(j.Rows, tablesRow{r.rhos[i], row})
		}
		for _, e := range s.Effort {
			if e.At == "threshold" {
				effort.Add(report.Constant(r.rhos[i]), report.Number(e.Stops, 3), report.Count(e.Within90, "stop", "stops"), fmt.Sprint(s.Table.Stops()))
				break
			}
		}
	}
	for stop := 1; stop <= stops; stop++ {
		cells := []string{fmt.Sprint(stop)}
		for _, s := range r.plans {
			cell := ""
			if rows := s.Rows(); stop <= len(rows) {
				cell = say.NumberOrNever(rows[stop-1].Leave) + " / " + say.NumberOrNever(rows[stop-1].Act)
			}
			cells = append(cells, cell)
		}
		t.Add(cells...)
	}
	d := &report.Document{}
	d.Heading("One promise, several degrees of likeness")
	one := r.plans[0]
	d.Para("All keep the same promise: act in at most %s of fields at %s, leave at most %s of those at %s. The more alike the plants of a stop, the less a stop tells, and the longer one walks.",
		report.Share(one.NeedlessRisk), report.Share(one.Lower), report.Share(one.MissedRisk), report.Share(one.Upper))
	d.Table(effort)
	d.Drawing(r.chart().In)
	d.Para("Running total (upwards) after each stop: from a table's upper signs on act, from its lower ones down leave, between them walk on.")
	d.Table(t)
	if stop, total, ok := r.apart(); ok {
		question(d, "after stop %d a scout has %s. What does each table say, and which scout walks on?", stop, report.Count(total, "infested plant", "infested plants"))
	}
	return report.Output{Doc: d, Records: report.RecordsOf(j.Rows), JSON: j}
}

// apart returns a stop and a total of which the tables say different things: as many as
// they ever do, at the first such stop the middle total. It is not ok where they agree.
func (r tablesResult) apart() (stop, total int, ok bool) {
	last := 0
	for _, s := range r.plans {
		last = max(last, s.Table.Stops())
	}
	most, among := 1, []int(nil)
	for j := 1; j <= last; j++ {
		for x := range j*r.plans[0].Plants() + 1 {
			said := map[plans.Verdict]bool{}
			for _, s := range r.plans {
				if j <= s.Table.Stops() {
					said[s.Table.Verdict(j, x)] = true
				}
			}
			switch {
			case len(said) > most:
				most, stop, among = len(said), j, []int{x}
			case len(said) == most && stop == j:
				among = append(among, x)
			}
		}
	}
	if stop == 0 {
		return 0, 0, false
	}
	return stop, among[len(among)/2], true
}

// tableMarks tell the tables apart.
var tableMarks = [mostTables]rune{'o', 'x', '+', '*'}

// chart is the picture in characters.
func (r tablesResult) chart() report.Chart {
	c := report.Chart{XLabel: "after stop", X: []float64{1, 1}, Rows: 22}
	for i, s := range r.plans {
		c.Signs = append(c.Signs, report.Sign{Mark: tableMarks[i], Name: "rho " + report.Constant(r.rhos[i])})
		c.X[1] = max(c.X[1], float64(s.Table.Stops()))
		for _, row := range s.Rows() {
			for _, number := range []*int{row.Leave, row.Act} {
				if number != nil {
					c.Points = append(c.Points, report.Point{X: float64(row.Stop), Y: float64(*number), Mark: tableMarks[i]})
					c.YMax = max(c.YMax, float64(*number))
				}
			}
		}
	}
	return c
}

func (r tablesResult) picture() (figure.Picture, error) {
	v := figure.Overlay{
		Title: "One promise, several degrees of likeness",
		Note:  "Above a table's upper stairs: act. Below its lower stairs: leave. Between them: walk on. The two stairs of a table have the same dashes.",
	}
	for i, s := range r.plans {
		c := drawing.Staircase(s, nil)
		v.Head, v.StopLabel = c.Head, c.StopLabel
		v.Tables = append(v.Tables, figure.OverlaidTable{Name: "rho " + report.Constant(r.rhos[i]), Leave: c.Leave, Act: c.Act})
		v.Desc = say.Joined(" ", v.Desc, "rho "+report.Constant(r.rhos[i])+": "+say.StairsInWords(s))
	}
	return v.Picture()
}
