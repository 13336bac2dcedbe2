package scouting

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
)

type listedVisit struct {
	ID          string   `json:"id"`
	Field       string   `json:"field"`
	Date        string   `json:"date"`
	Stage       string   `json:"stage"`
	Stops       int      `json:"stops"`
	Plants      int      `json:"plants"`
	Infested    int      `json:"infested"` // insects for a mean per leaf
	Level       *float64 `json:"estimate"` // null without stops
	Measure     string   `json:"measure"`
	Verdict     *string  `json:"verdict"` // act, leave, continue; null without stops
	SignMissing bool     `json:"sign_missing"`
	Next        *string  `json:"next_visit"`
	Plan        string   `json:"plan"`
	Source      string   `json:"source" csv:"-"`
	Void        bool     `json:"void"`
	Scout       *string  `json:"scout"`
	Last        *string  `json:"last"` // what earlier visits had found, where that chose the table; else null
}

func newListedVisit(f *season.File, v *season.Visit) (listedVisit, string, error) {
	s, err := stageOf(f, v.Plan, v.Stage)
	if err != nil {
		return listedVisit{}, "", err
	}
	text, level := levelSeen(v, s.Measure == plans.MeanPerLeaf)
	return listedVisit{
		ID: v.ID, Field: v.Field, Date: v.Date, Stage: v.Stage, Stops: v.Told.Stops, Plants: v.Told.Plants, Infested: v.Told.Total,
		Level: level, Measure: string(s.Measure), Verdict: report.OrNull(v.Told.Verdict, ""), SignMissing: v.Told.SignMissing,
		Next: report.OrNull(v.Told.Next, ""), Plan: v.Plan, Source: v.Source,
		Void: v.Told.Void, Scout: report.OrNull(v.Told.Scout, ""), Last: report.OrNull(string(v.Told.Last), ""),
	}, text, nil
}

func listOutput(f *season.File, vs []*season.Visit) (report.Output, error) {
	out := struct {
		report.Envelope
		Visits []listedVisit `json:"visits"`
	}{report.Envelope{Kind: "stopwise season list", Version: 1}, []listedVisit{}}
	var stages []plans.Stage
	for _, v := range vs {
		s, err := stageOf(f, v.Plan, v.Stage)
		if err != nil {
			return report.Output{}, err
		}
		stages = append(stages, s.Stage)
	}
	t := report.NewTable("", "date", "field", "stage", ">stops", ">"+report.UnitsNames(stages), ">seen", "verdict", "next visit", "id")
	for _, v := range vs {
		j, seen, err := newListedVisit(f, v)
		if err != nil {
			return report.Output{}, err
		}
		out.Visits = append(out.Visits, j)
		t.Add(v.Date, v.Field, v.Stage, fmt.Sprint(v.Told.Stops), fmt.Sprint(v.Told.Plants), seen, verdictText(v), v.Told.Next, season.Short(v.ID))
	}
	d := &report.Document{}
	if len(vs) == 0 {
		d.Para("No visits.")
	} else {
		d.Table(t)
	}
	return report.Output{Doc: d, Records: report.RecordsOf(out.Visits), JSON: out}, nil
}

// seasonCautions prints the cautions once, with what the protocols of the plans
// under which a field was to be treated add.
func seasonCautions(d *report.Document, f *season.File, acts map[string]bool) error {
	if len(acts) == 0 {
		return nil
	}
	d.Para("%s", say.English().Cautions())
	said := map[string]bool{"": true}
	for sum := range acts {
		p, err := f.Plan(sum)
		if err != nil {
			return err
		}
		if p != nil && !said[p.Protocol.Cautions] {
			said[p.Protocol.Cautions] = true
			d.Para("%s", p.Protocol.Cautions)
		}
	}
	return nil
}

func verifyOutput(r season.Verification) report.Output {
	out := struct {
		report.Envelope
		Visits  int      `json:"visits"`
		Entries int      `json:"entries"`
		Plans   int      `json:"plans"`
		Older   int      `json:"answered_by_older_rule"`
		Faults  []string `json:"faults"`
	}{report.Envelope{Kind: "stopwise season verify", Version: 1}, r.Visits, r.Entries, r.Plans, r.Older, append([]string{}, r.Faults...)}
	d := &report.Document{}
	what := fmt.Sprintf("%s with %s and %s", report.Count(r.Visits, "visit", "visits"), report.Count(r.Entries, "answer", "answers"), report.Count(r.Plans, "plan", "plans"))
	if len(r.Faults) == 0 {
		d.Para("The file is whole, and every verdict and next visit follows from its plan and counts: %s.", what)
	} else {
		d.Para("Checked %s. Faults:", what)
		d.List(r.Faults...)
	}
	if r.Older > 0 {
		d.Para("The next visit of %s was found by an older rule, whose upper limit took the stops as fixed beforehand. It follows from plan and counts by that rule; today's answer can be another day.", report.Count(r.Older, "visit", "visits"))
	}
	return report.Output{Doc: d, JSON: out}
}
