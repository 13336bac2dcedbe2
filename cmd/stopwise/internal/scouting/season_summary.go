package scouting

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
)

type sumJSON struct {
	season.Tally
	Share       *float64 `json:"share_infested"`   // null without such visits
	MeanPerLeaf *float64 `json:"insects_per_leaf"` // null without such visits
}

func newSumJSON(t season.Tally) sumJSON {
	return sumJSON{t, ratio(t.Infested, t.ShareUnits), ratio(t.Insects, t.Leaves)}
}

func ratio(a, b int) *float64 {
	if b == 0 {
		return nil
	}
	x := float64(a) / float64(b)
	return &x
}

// levels writes the level of plants and leaves that were seen.
func (t sumJSON) levels() string {
	var parts []string
	if t.Share != nil {
		parts = append(parts, report.Percent(*t.Share))
	}
	if t.MeanPerLeaf != nil {
		parts = append(parts, report.Number(*t.MeanPerLeaf, 3)+" per leaf")
	}
	return strings.Join(parts, ", ")
}

func summaryOutput(s season.Summary, stages []plans.Stage) report.Output {
	type weekJSON struct {
		Monday string `json:"week_from"`
		sumJSON
	}
	type fieldJSON struct {
		Field      string  `json:"field"`
		First      string  `json:"first_visit"`
		FirstFound *string `json:"first_found"`
		Last       string  `json:"last_visit"`
		Verdict    *string `json:"last_verdict"`
		Next       *string `json:"next_visit"`
		sumJSON
	}
	out := struct {
		report.Envelope
		All    sumJSON     `json:"all"`
		Weeks  []weekJSON  `json:"weeks"`
		Fields []fieldJSON `json:"by_field"`
	}{report.Envelope{Kind: "stopwise season summary", Version: 1}, newSumJSON(s.All), []weekJSON{}, []fieldJSON{}}
	type sumRow struct { // of all, a week or a field
		Scope string `json:"scope"`
		Name  string `json:"name"`
		sumJSON
	}
	rows := []sumRow{{"all", "", out.All}}
	units := report.UnitsNames(stages)
	weeks := report.NewTable("By week, from its Monday. Seen is what all "+units+" of the visits show together: fields that were walked longer count for more.",
		"week", ">fields", ">visits", ">with finds", ">"+units, ">seen", ">act", ">leave", ">other")
	for _, w := range s.Weeks {
		j := newSumJSON(w.Tally)
		out.Weeks = append(out.Weeks, weekJSON{w.Monday, j})
		rows = append(rows, sumRow{"week", w.Monday, j})
		weeks.Add(w.Monday, fmt.Sprint(j.Fields), fmt.Sprint(j.Visits), fmt.Sprint(j.Found), fmt.Sprint(j.Plants), j.levels(), fmt.Sprint(j.Act), fmt.Sprint(j.Leave), fmt.Sprint(j.SignMissing+j.Unfinished))
	}
	fields := report.NewTable("By field.", "field", ">visits", "first found", "last visit", ">last seen", "verdict", "next visit")
	for _, x := range s.Fields {
		x.Tally.Fields = 1
		j := newSumJSON(x.Tally)
		out.Fields = append(out.Fields, fieldJSON{x.Field, x.First, report.OrNull(x.FirstFound, ""), x.Last.Date, report.OrNull(x.Verdict().Told.Verdict, ""), report.OrNull(x.Verdict().Told.Next, ""), j})
		rows = append(rows, sumRow{"field", x.Field, j})
		found := x.FirstFound
		if found == "" {
			found = "never"
		}
		seen, _ := levelSeen(x.Verdict(), x.LastIsMean)
		fields.Add(x.Field, fmt.Sprint(j.Visits), found, x.Last.Date, seen, standingText(x), x.Verdict().Told.Next)
	}
	records := report.RecordsOf(rows)
	d := &report.Document{}
	if s.All.Visits == 0 {
		d.Para("No visits.")
		return report.Output{Doc: d, Records: records, JSON: out}
	}
	a, plants := out.All, report.Count(out.All.Plants, "plant", "plants")
	if len(stages) > 0 && report.UnitsName(stages[0]) == units {
		plants = report.Units(stages[0], a.Plants)
	} else if len(stages) > 0 {
		plants = fmt.Sprint(a.Plants) + " " + units
	}
	d.Para("%s of %s: %s and %s. Act %d, leave %d, leave because a sign was missing %d, unfinished %d.",
		report.Count(a.Visits, "visit", "visits"), report.Count(a.Fields, "field", "fields"), report.Count(a.Stops, "stop", "stops"), plants,
		a.Act, a.Leave, a.SignMissing, a.Unfinished)
	d.Table(weeks)
	d.Table(fields)
	return report.Output{Doc: d, Records: records, JSON: out}
}

// standingText is the verdict that stands for a field.
func standingText(x season.FieldSummary) string {
	v := x.Verdict()
	if v != x.Last {
		return say.StandsFrom(verdictText(v), v.Date)
	}
	return verdictText(v)
}

type outcomeJSON struct {
	report.Envelope
	Inputs []inputOutcome `json:"inputs"`
}

type inputOutcome struct {
	Input string `json:"input"`
	season.Outcome
	Passed int `json:"lines_passed_over"`
}

func (o *outcomeJSON) add(input string, x season.Outcome, passed int) {
	o.Inputs = append(o.Inputs, inputOutcome{input, x, passed})
}

func outcomeSentence(o season.Outcome, passed int) string {
	parts := []string{report.Count(o.Added, "new visit", "new visits")}
	if o.Extended > 0 {
		parts = append(parts, fmt.Sprintf("%d gone on with", o.Extended))
	}
	if o.Same > 0 {
		parts = append(parts, fmt.Sprintf("%d already there", o.Same))
	}
	if o.Forked > 0 {
		parts = append(parts, fmt.Sprintf("%d that had gone on differently, kept in both shapes", o.Forked))
	}
	s := strings.Join(parts, ", ") + "."
	if passed > 0 {
		s += fmt.Sprintf(" %s without a visit passed over.", report.Count(passed, "line", "lines"))
	}
	return s
}
