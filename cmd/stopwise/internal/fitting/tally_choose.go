package fitting

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/tallying"
	"stopwise/sampling/tally"
)

type chooseJSON struct {
	report.Envelope
	Tally  int             `json:"tally"`
	Trials []trialJSON     `json:"trials"`
	Risks  []densityRisk   `json:"risks_at_means"`
	Plan   json.RawMessage `json:"plan"`
}

type trialJSON struct {
	Tally    int         `json:"tally"`
	Feasible bool        `json:"feasible"`
	Stops    *float64    `json:"expected_stops"`
	Minutes  *float64    `json:"expected_minutes"`
	Stages   []boundJSON `json:"stages"`
}

type boundJSON struct {
	Stage     string  `json:"stage"`
	Lower     float64 `json:"lower"`
	Threshold float64 `json:"threshold"`
	Upper     float64 `json:"upper"`
}

// densityRisk is what the plan risks at the bounds stated as means, under one
// relation.
type densityRisk struct {
	Stage     string  `json:"stage"`
	Relation  string  `json:"relation"`
	LowerMean float64 `json:"lower_mean"`
	UpperMean float64 `json:"upper_mean"`
	Needless  float64 `json:"needless"`
	Missed    float64 `json:"missed"`
	Rho       float64 `json:"rho"`
}

func tallyChoose(e shell.Env) shell.Question {
	s := shell.NewSituation()
	model, t := modelFlag(), shell.TallyFlag().WithoutValue("searched for")
	tallies := talliesFlag("tallies", "`NUMBERS` tally numbers to try, with commas between them").WithoutValue("searched for")
	insect := shell.NewOption("insect-minutes", "`MINUTES` time to count one insect, on top of the time per plant", shell.NotNegative).WithoutValue("0")
	file := shell.PlanOutFlag()
	s.CountRho.WithoutValue("the leaves of a plant are independent, and that is said")
	var flags []cli.Flag
	for _, f := range s.Flags() {
		if f != cli.Flag(s.Lower) && f != cli.Flag(s.Upper) {
			flags = append(flags, f)
		}
	}
	return shell.Question{
		Name: "choose", Usage: "the tally number with the fewest minutes, and its plan", Arguments: "[PROTOCOL.toml]",
		Description: `For thresholds stated as means per leaf, finds the tally number at which visits take the fewest minutes with the same risks, and makes the plan for the shares infested at it. With --tally it takes that number. Over a range of k the bounds are those that hold for all of it.

$ stopwise tally choose --lower-mean 6 --upper-mean 16 --needless-risk 10% --missed-risk 10% --rho 0.1 --k 0.8 --tallies 5,10,15 --out plan.json`,
		Flags: append(flags, model, t, tallies, insect, file),
		Answer: func(ctx context.Context, c *cli.Context) (out report.Output, err error) {
			if err := shell.Exclusive(t, tallies); err != nil {
				return out, err
			}
			if model.Set {
				for _, law := range []shell.AnOption{s.K, s.Taylor, s.Iwao} {
					if err := shell.Exclusive(model, law); err != nil {
						return out, err
					}
				}
				if err := modelOf(s.Leaves, s.CountRho); err != nil {
					return out, err
				}
			}
			s.WithoutLaw, s.WithoutCounting = model.Set, true
			p, err := s.Read(e, c)
			if err != nil {
				return out, err
			}
			if s.Auto() {
				return out, shell.UsageError("the best number of plants per stop (auto) goes with design; give a number here, such as --plants-per-stop 15")
			}
			if slices.ContainsFunc(p.Stages, func(s plans.Stage) bool { return s.Clumping.Rho == nil }) {
				return out, shell.UsageHint("plants of a stop are alike at the tally number too; give a value or a range, such as --rho 0.1", "--rho is missing")
			}
			o := tallying.Options{Tallies: tallies.Value, InsectMinutes: insect.Value}
			if t.Set {
				o.Tallies = []int{t.Value}
			}
			if model.Set {
				if o.Models, err = model.Value.Read(e, t.Value); err != nil {
					return out, err
				}
			}
			return choose(ctx, e, p, o, file.Value)
		},
	}
}

func choose(ctx context.Context, e shell.Env, p plans.Protocol, o tallying.Options, file string) (out report.Output, err error) {
	progress := report.NewProgress(e.Err, "trying tally numbers", -1)
	o.Progress = func(int) { progress.Add(1) }
	best, trials, err := tallying.Best(ctx, p, o)
	progress.Done()
	if err != nil {
		return out, shell.DesignError(err)
	}
	q, err := tallying.With(p, best, o)
	if err != nil {
		return out, shell.DesignError(err)
	}
	plan, err := shell.DesignWithProgress(ctx, e, q, plans.DesignOptions{Bound: true})
	if err != nil {
		return out, shell.DesignError(err)
	}
	if file != "" {
		if err := shell.WritePlan(file, plan); err != nil {
			return out, err
		}
	}
	risks, err := densityRisks(plan, p, o, best)
	if err != nil {
		return out, err
	}
	return chooseOutput(plan, p, o, trials, risks, file)
}

// densityRisks returns the exact risks of the plan at the bounds stated as means,
// in the most clumped stops.
func densityRisks(plan *plans.Plan, p plans.Protocol, o tallying.Options, t int) ([]densityRisk, error) {
	var out []densityRisk
	for i, s := range plan.Stages {
		rho := s.Clumped(s.Threshold).Clump
		rs := theoriesOrLines(p.Stages[i], o, t)
		for _, r := range rs {
			points, err := tallying.Curve(s, r, []float64{p.Stages[i].Lower, p.Stages[i].Upper}, rho)
			if err != nil {
				return nil, err
			}
			out = append(out, densityRisk{s.Name, r.name, p.Stages[i].Lower, p.Stages[i].Upper, points[0].Act, points[1].Leave, rho})
		}
	}
	return out, nil
}

func theoriesOrLines(s plans.Stage, o tallying.Options, t int) []relation {
	if len(o.Models) == 0 {
		return theories(t, max(1, s.Unit.Leaves), s.Clumping)
	}
	for _, m := range o.Models {
		switch {
		case m.T == t && m.Uncertain():
			return []relation{{"line, as exact", tally.Exact(m)}, {"line, uncertain", m}}
		case m.T == t:
			return []relation{{"fitted line", m}}
		}
	}
	return nil
}

func chooseOutput(plan *plans.Plan, p plans.Protocol, o tallying.Options, trials []tallying.Trial, risks []densityRisk, file string) (report.Output, error) {
	raw, err := plan.JSON()
	if err != nil {
		return report.Output{}, err
	}
	best := plan.Stages[0].Unit.Tally
	out := chooseJSON{Envelope: report.Envelope{Kind: "stopwise tally choice", Version: 1}, Tally: best, Risks: risks, Plan: json.RawMessage(raw)}
	type row struct { // of a stage, with what JSON says of all of them
		Tally     int      `json:"tally"`
		Stage     string   `json:"stage"`
		Lower     *float64 `json:"lower"`
		Threshold *float64 `json:"threshold"`
		Upper     *float64 `json:"upper"`
		Feasible  bool     `json:"feasible"`
		Taken     bool     `json:"taken"`
		Stops     *float64 `json:"expected_stops"`
		Minutes   *float64 `json:"expected_minutes"`
	}
	var rows []row
	for _, t := range trials {
		j := trialJSON{Tally: t.T, Feasible: t.Feasible, Stages: []boundJSON{}}
		if t.Feasible {
			j.Stops, j.Minutes = &t.Stops, &t.Minutes
		}
		for _, s := range t.Stages {
			j.Stages = append(j.Stages, boundJSON{s.Name, s.Lower, s.Threshold, s.Upper})
			rows = append(rows, row{t.T, s.Name, &s.Lower, &s.Threshold, &s.Upper, t.Feasible, t.T == best, j.Stops, j.Minutes})
		}
		if len(t.Stages) == 0 {
			rows = append(rows, row{Tally: t.T})
		}
		out.Trials = append(out.Trials, j)
	}
	d := &report.Document{}
	d.Heading("Tally number" + say.Titled(p.About()))
	if len(trials) > 1 {
		d.Para("Take %d: of the numbers tried it lets a visit end in the fewest minutes with the same risks (of numbers within half a percent, the smallest). Averages are over the bounds and the threshold in the most clumped fields.", best)
	}
	d.Table(tallyTrialsTable(trials, p, best))
	d.Table(meanRiskTable(risks))
	d.Para("These are the risks where the thresholds were stated, at means per leaf. They hold if the relation between mean and share does; a range of k, or a fitted line that says how sure it is, shows what is at stake.")
	for i, s := range p.Stages {
		rs := theoriesOrLines(s, o, best)
		if i == 0 {
			lineInterval(d, rs)
		}
		relationNotes(d, s, rs, []float64{s.Lower, s.Threshold, s.Upper})
	}
	d.Blocks = append(d.Blocks, say.DesignDocument(plan, nil, say.Balanced{}, file).Blocks...)
	return report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: out}, nil
}

func tallyTrialsTable(trials []tallying.Trial, p plans.Protocol, best int) *report.Table {
	t := report.NewTable("", ">tally")
	for _, s := range p.Stages {
		name := ""
		if s.Name != "" {
			name = s.Name + ": "
		}
		t.Head(">"+name+"share at "+report.Plain(s.Lower), ">at "+report.Plain(s.Upper))
	}
	t.Head(">stops", ">time", "")
	for _, x := range trials {
		cells := []string{fmt.Sprint(x.T)}
		for i := range p.Stages {
			if len(x.Stages) == 0 {
				cells = append(cells, "", "")
				continue
			}
			cells = append(cells, report.Percent(x.Stages[i].Lower), report.Percent(x.Stages[i].Upper))
		}
		switch {
		case len(x.Stages) == 0:
			cells = append(cells, "", "", "cannot be told apart")
		case !x.Feasible:
			cells = append(cells, "", "", "no plan within the maximum of stops")
		case x.T == best:
			cells = append(cells, report.Number(x.Stops, 3), report.Minutes(x.Minutes), "taken")
		default:
			cells = append(cells, report.Number(x.Stops, 3), report.Minutes(x.Minutes), "")
		}
		t.Add(cells...)
	}
	return t
}

func meanRiskTable(risks []densityRisk) *report.Table {
	t := report.NewTable("Exact risks of the plan against the mean per leaf.", "stage", "relation", ">act at", ">", ">leave at", ">")
	for _, r := range risks {
		t.Add(r.Stage, r.Relation, report.Plain(r.LowerMean)+" per leaf", report.Percent(r.Needless), report.Plain(r.UpperMean)+" per leaf", report.Percent(r.Missed))
	}
	withoutEmpty(t)
	return t
}
