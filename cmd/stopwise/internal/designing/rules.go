package designing

import (
	"context"
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

type rulesJSON struct {
	report.Envelope
	Mean  float64    `json:"mean"`
	Law   string     `json:"law"`
	Alike float64    `json:"count_rho"`
	Rho   float64    `json:"rho"`
	Rules []ruleJSON `json:"rules"`
}

type ruleJSON struct {
	Stage   string   `json:"stage"`
	Measure string   `json:"measure"`
	Tally   *int     `json:"tally"`
	Level   float64  `json:"level"`
	Act     *float64 `json:"p_act"` // of the whole rule; null where a chance of the sign is not known
	Count   float64  `json:"p_act_by_count"`
	Stops   float64  `json:"expected_stops"`
	Plants  float64  `json:"expected_plants"`
	Minutes float64  `json:"expected_minutes"`
}

// compareRules shows what the rules of a protocol's stages, stated in whatever
// form, would do in one and the same field.
func compareRules(ctx context.Context, e shell.Env, p plans.Protocol, mean float64, o plans.DesignOptions, format string) error {
	f, err := plans.SituationOf(p, mean)
	if err != nil {
		return shell.DesignError(err)
	}
	progress := report.NewProgress(e.Err, "designing", int64(len(p.Stages)))
	o.Progress = func(string) { progress.Add(1) }
	rules, err := plans.CompareRules(ctx, p, f, o)
	progress.Done()
	if err != nil {
		return shell.DesignError(err)
	}
	out := rulesJSON{Envelope: report.Envelope{Kind: "stopwise rules", Version: 1}, Mean: f.Mean, Law: f.Law.VarianceLaw().String(), Alike: f.Law.Clumped(f.Mean).CountRho, Rho: f.Rho}
	t := report.NewTable(fmt.Sprintf("What each rule does in one field: %s insects per leaf (%s), plants of a stop alike with rho %s, their counts with a correlation of %s. Exact.",
		report.Number(f.Mean, 3), out.Law, report.Number(f.Rho, 2), report.Number(out.Alike, 2)),
		"rule", "stated as", ">acts from", ">this field", ">chance to act", ">stops", ">time")
	for _, r := range rules {
		s := r.Plan
		stated := "mean per leaf"
		if r.Tally > 0 {
			stated = fmt.Sprintf("share at tally %d", r.Tally)
		}
		chance := say.Chance(r.Act)
		if s.Sign != nil {
			stated += " and the sign"
			if math.IsNaN(r.Act) {
				chance = "at most " + report.Percent(r.Count)
			}
		}
		here := report.Level(s.Measure, r.Level)
		if s.Measure == plans.ShareInfested {
			here = report.Percent(r.Level)
		}
		t.Add(s.Name, stated, report.Level(s.Measure, s.Threshold), here, chance,
			report.Number(r.Stops, 3), report.Minutes(r.Minutes))
		j := ruleJSON{s.Name, string(s.Measure), report.OrNull(r.Tally, 0), r.Level, report.Finite(r.Act), r.Count, r.Stops, r.Plants, r.Minutes}
		out.Rules = append(out.Rules, j)
	}
	d := &report.Document{}
	d.Heading("Rules compared" + say.Titled(p.About()))
	d.Table(t)
	leaves := "independent"
	if out.Alike > 0 {
		leaves = "alike as those of a stop"
	}
	d.Para("The share of plants infested follows from the mean per leaf by the variance law, the leaves of a plant being taken as %s. Where a rule asks for a sign, its chance in this field lies between those that the protocol gives for the two bounds; where it gives none, no more can be said than what the count allows.", leaves)
	return report.Write(e.Out, format, report.Output{Doc: d, Records: report.RecordsOf(out.Rules), JSON: out})
}
