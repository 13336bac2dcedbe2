package scouting

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
)

// levelSeen returns what a visit saw, in the measure of its stage.
func levelSeen(f *season.File, v *season.Visit) (text string, level *float64, mean bool, err error) {
	s, err := stageOf(f, v.Plan, v.Stage)
	if err != nil {
		return "", nil, false, err
	}
	mean = s.Measure == plans.MeanPerLeaf
	if v.Told.Units == 0 {
		return "", nil, mean, nil
	}
	x := float64(v.Told.Total) / float64(v.Told.Units)
	if mean {
		return report.Number(x, 3) + " per leaf", &x, true, nil
	}
	return report.Percent(x), &x, false, nil
}

func verdictText(v *season.Visit) string {
	if v == nil {
		return ""
	}
	return say.Came{Verdict: v.Told.Verdict, Void: v.Told.Void, SignMissing: v.Told.SignMissing, Unfinished: v.Unfinished()}.String()
}

func orNothing(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

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
	Source      string   `json:"source"`
	Void        bool     `json:"void"`
	Scout       *string  `json:"scout"`
	Last        *string  `json:"last"` // what earlier visits had found, where that chose the table; else null
}

func newListedVisit(f *season.File, v *season.Visit) (listedVisit, string, error) {
	text, level, mean, err := levelSeen(f, v)
	j := listedVisit{
		ID: v.ID, Field: v.Field, Date: v.Date, Stage: v.Stage, Stops: v.Told.Stops, Plants: v.Told.Plants, Infested: v.Told.Total,
		Level: level, Measure: string(plans.ShareInfested), Verdict: orNothing(v.Told.Verdict), SignMissing: v.Told.SignMissing,
		Next: orNothing(v.Told.Next), Plan: v.Plan, Source: v.Source,
		Void: v.Told.Void, Scout: orNothing(v.Told.Scout), Last: orNothing(string(v.Told.Last)),
	}
	if mean {
		j.Measure = string(plans.MeanPerLeaf)
	}
	return j, text, err
}

func (j listedVisit) addTo(r *report.Records, more ...any) {
	r.Add(append([]any{j.ID, j.Field, j.Date, j.Stage, j.Stops, j.Plants, j.Infested, j.Level, j.Measure, j.Verdict, j.SignMissing, j.Next, j.Plan, j.Void, j.Scout, j.Last}, more...)...)
}

var visitKeys = []string{"id", "field", "date", "stage", "stops", "plants", "infested", "estimate", "measure", "verdict", "sign_missing", "next_visit", "plan", "void", "scout", "last"}

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
	t := &report.Table{Columns: []report.Column{
		{Head: "date"}, {Head: "field"}, {Head: "stage"},
		{Head: "stops", Right: true}, {Head: report.UnitsNames(stages), Right: true}, {Head: "seen", Right: true},
		{Head: "verdict"}, {Head: "next visit"}, {Head: "id"},
	}}
	records := report.NewRecords(visitKeys...)
	for _, v := range vs {
		j, seen, err := newListedVisit(f, v)
		if err != nil {
			return report.Output{}, err
		}
		out.Visits = append(out.Visits, j)
		j.addTo(records)
		t.Add(v.Date, v.Field, v.Stage, fmt.Sprint(v.Told.Stops), fmt.Sprint(v.Told.Plants), seen, verdictText(v), v.Told.Next, season.Short(v.ID))
	}
	d := &report.Document{}
	if len(vs) == 0 {
		d.Para("No visits.")
	} else {
		d.Table(t)
	}
	return report.Output{Doc: d, Records: records, JSON: out}, nil
}

// seasonCautions prints the cautions once, with what the protocols of the plans
// under which a field was to be treated add.
func seasonCautions(d *report.Document, f *season.File, acts map[string]bool) error {
	if len(acts) == 0 {
		return nil
	}
	d.Para("%s", say.Cautions())
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

func showDocument(f *season.File, vs []*season.Visit) (*report.Document, error) {
	d := &report.Document{}
	acts := map[string]bool{}
	for _, v := range vs {
		j, err := f.Judge(v)
		if err != nil {
			return nil, err
		}
		title := fmt.Sprintf("Field %s, %s", v.Field, v.Date)
		if v.Stage != "" {
			title += ", " + v.Stage
		}
		d.Heading(title)
		by := ""
		if v.Told.Scout != "" {
			by = " Scouted by " + v.Told.Scout + "."
		}
		d.Para("Visit %s, recorded by %s with the plan %s.%s", season.Short(v.ID), v.Source, season.Short(v.Plan), by)
		d.List(entriesText(v, j.Stage)...)
		if v.Told.Void {
			d.Para("The visit counts for nothing.")
			continue
		}
		if len(j.Stops) == 0 {
			continue
		}
		d.Para("%s", say.VerdictSentence(j.Stage, j.Answer))
		if r := j.Revisit; r != nil {
			d.Para("Come back on %s. %s", j.Told.Next, say.RevisitReason(j.Stage, r))
		}
		if v.Told.Verdict == "act" {
			acts[v.Plan] = true
		}
	}
	return d, seasonCautions(d, f, acts)
}

// entriesText tells the entries of a visit one by one.
func entriesText(v *season.Visit, s *plans.StagePlan) []string {
	var out []string
	for _, e := range v.Entries {
		switch e.Kind {
		case season.KindNote:
			out = append(out, "note: "+e.Note)
		case season.KindMore:
			out = append(out, "kept walking after the verdict: "+e.Note)
		case season.KindUndo:
			what := fmt.Sprintf("stop %d taken back", e.Stop)
			if e.Takes > 0 && e.Takes <= len(out) {
				what = "taken back: " + out[e.Takes-1]
				if was := v.Entries[e.Takes-1]; was.Kind == season.KindStop {
					what = fmt.Sprintf("stop %d taken back", was.Stop)
				}
			}
			if e.Note != "" {
				what += ", because: " + e.Note
			}
			out = append(out, what)
		case season.KindVoid:
			out = append(out, "void, because: "+e.Note)
		case season.KindRename:
			out = append(out, fmt.Sprintf("field renamed from %s to %s, because: %s", e.Was, e.Name, e.Note))
		default:
			what := "stop %d: %s"
			if e.Kind == season.KindCorrect {
				what = "stop %d corrected: %s"
			}
			out = append(out, fmt.Sprintf(what, e.Stop, seenText(say.English(), s, e)))
		}
	}
	return out
}

func dueOutput(f *season.File, day string, within int, list season.DueList) (report.Output, error) {
	due := list.Fields
	type dueJSON struct {
		listedVisit
		Due         string  `json:"due"`
		Overdue     int     `json:"days_overdue"`
		Unfinished  bool    `json:"unfinished"`
		LastVerdict *string `json:"last_verdict"` // of the last visit that has one
		DecidedOn   *string `json:"decided_on"`
	}
	out := struct {
		report.Envelope
		Date   string    `json:"date"`
		Within int       `json:"within_days"`
		Fields []dueJSON `json:"fields"`
		Never  []string  `json:"never_visited"`
		Odd    []oddJSON `json:"odd_dates"`
	}{report.Envelope{Kind: "stopwise season due", Version: 1}, day, within, []dueJSON{}, []string{}, []oddJSON{}}
	records := report.NewRecords(append(append([]string{}, visitKeys...), "due", "days_overdue", "unfinished", "last_verdict", "decided_on")...)
	t := &report.Table{Columns: []report.Column{
		{Head: "field"}, {Head: "due"}, {Head: "when"},
		{Head: "last visit"}, {Head: "stage"}, {Head: "seen", Right: true}, {Head: "verdict"},
	}}
	for _, x := range due {
		if x.Visit == nil {
			out.Never = append(out.Never, x.Field)
			records.Add(append([]any{nil, x.Field}, make([]any, len(visitKeys)+3)...)...)
			t.Add(x.Field, "", "never visited", "", "", "", "")
			continue
		}
		j, seen, err := newListedVisit(f, x.Visit)
		if err != nil {
			return report.Output{}, err
		}
		var verdict, on *string
		word := verdictText(x.Visit)
		if v := x.Decided; v != nil {
			verdict, on = &v.Told.Verdict, &v.Date
			if v != x.Visit {
				word += ", " + verdictText(v) + " on " + v.Date
			}
		}
		out.Fields = append(out.Fields, dueJSON{j, x.Date, x.Days, x.Unfinished, verdict, on})
		j.addTo(records, x.Date, x.Days, x.Unfinished, verdict, on)
		t.Add(x.Field, x.Date, whenText(x), x.Visit.Date, x.Visit.Stage, seen, word)
	}
	d := &report.Document{}
	span := "on " + day
	if within > 0 {
		span = fmt.Sprintf("on %s or within %s", day, report.Count(within, "day", "days"))
	}
	if len(due) == 0 {
		d.Para("No field is due %s.", span)
	} else {
		d.Para("%s due %s.", report.Count(len(due), "field is", "fields are"), span)
		d.Table(t)
	}
	var late, old []string
	for _, v := range list.Odd {
		out.Odd = append(out.Odd, oddJSON{v.ID, v.Field, v.Date})
		name := v.Field + " " + v.Date
		if v.Date > day {
			late = append(late, name)
		} else {
			old = append(old, name)
		}
	}
	if len(late) > 0 {
		d.Note("Dated after this day, and not counted: %s. If that is a slip, season void takes a visit out.", some(late))
	}
	if len(old) > 0 {
		d.Note("Dated more than %d days before they were typed: %s.", season.OldDays, some(old))
	}
	return report.Output{Doc: d, Records: records, JSON: out}, nil
}

// some returns the first of many names.
func some(names []string) string {
	const most = 5
	if more := len(names) - most; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), more)
	}
	return strings.Join(names, ", ")
}

type oddJSON struct {
	Visit string `json:"visit"`
	Field string `json:"field"`
	Date  string `json:"date"`
}

func whenText(x season.Due) string {
	switch {
	case x.Unfinished:
		return "visit to be finished"
	case x.Days > 0:
		return report.Count(x.Days, "day", "days") + " overdue"
	case x.Days == 0:
		return "today"
	}
	return "in " + report.Count(-x.Days, "day", "days")
}

type sumJSON struct {
	Visits      int      `json:"visits"`
	Fields      int      `json:"fields"`
	Stops       int      `json:"stops"`
	Plants      int      `json:"plants"`
	Found       int      `json:"visits_with_finds"`
	Act         int      `json:"act"`
	SignMissing int      `json:"leave_sign_missing"`
	Leave       int      `json:"leave"`
	Unfinished  int      `json:"unfinished"`
	Share       *float64 `json:"share_infested"`   // null without such visits
	MeanPerLeaf *float64 `json:"insects_per_leaf"` // null without such visits
}

func newSumJSON(t season.Tally) sumJSON {
	return sumJSON{
		Visits: t.Visits, Fields: t.Fields, Stops: t.Stops, Plants: t.Plants, Found: t.Found, Act: t.Act, SignMissing: t.SignMissing,
		Leave: t.Leave, Unfinished: t.Unfinished, Share: ratio(t.Infested, t.ShareUnits), MeanPerLeaf: ratio(t.Insects, t.Leaves),
	}
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
	records := report.NewRecords("scope", "name", "visits", "fields", "stops", "plants", "visits_with_finds", "act", "leave_sign_missing", "leave", "unfinished", "share_infested", "insects_per_leaf")
	add := func(scope, name string, t sumJSON) {
		records.Add(scope, name, t.Visits, t.Fields, t.Stops, t.Plants, t.Found, t.Act, t.SignMissing, t.Leave, t.Unfinished, t.Share, t.MeanPerLeaf)
	}
	add("all", "", out.All)
	units := report.UnitsNames(stages)
	weeks := &report.Table{Caption: "By week, from its Monday. Seen is what all " + units + " of the visits show together: fields that were walked longer count for more.", Columns: []report.Column{
		{Head: "week"}, {Head: "fields", Right: true}, {Head: "visits", Right: true},
		{Head: "with finds", Right: true}, {Head: units, Right: true}, {Head: "seen", Right: true},
		{Head: "act", Right: true}, {Head: "leave", Right: true}, {Head: "other", Right: true},
	}}
	for _, w := range s.Weeks {
		j := newSumJSON(w.Tally)
		out.Weeks = append(out.Weeks, weekJSON{w.Monday, j})
		add("week", w.Monday, j)
		weeks.Add(w.Monday, fmt.Sprint(j.Fields), fmt.Sprint(j.Visits), fmt.Sprint(j.Found), fmt.Sprint(j.Plants), j.levels(), fmt.Sprint(j.Act), fmt.Sprint(j.Leave), fmt.Sprint(j.SignMissing+j.Unfinished))
	}
	fields := &report.Table{Caption: "By field.", Columns: []report.Column{
		{Head: "field"}, {Head: "visits", Right: true}, {Head: "first found"},
		{Head: "last visit"}, {Head: "last seen", Right: true}, {Head: "verdict"}, {Head: "next visit"},
	}}
	for _, x := range s.Fields {
		x.Tally.Fields = 1
		j := newSumJSON(x.Tally)
		out.Fields = append(out.Fields, fieldJSON{x.Field, x.First, orNothing(x.FirstFound), x.Last.Date, orNothing(x.Verdict().Told.Verdict), orNothing(x.Verdict().Told.Next), j})
		add("field", x.Field, j)
		found := x.FirstFound
		if found == "" {
			found = "never"
		}
		fields.Add(x.Field, fmt.Sprint(j.Visits), found, x.Last.Date, lastSeen(x), standingText(x), x.Verdict().Told.Next)
	}
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

// lastSeen returns the level that the visit saw whose verdict stands.
func lastSeen(x season.FieldSummary) string {
	t := x.Verdict().Told
	if t.Units == 0 {
		return ""
	}
	level := float64(t.Total) / float64(t.Units)
	if x.LastIsMean {
		return report.Number(level, 3) + " per leaf"
	}
	return report.Percent(level)
}

func stopRecords(f *season.File, vs []*season.Visit) (*report.Records, error) {
	r := report.NewRecords("visit", "field", "date", "stage", "stop", "plants", "infested", "insects", "sign", "verdict", "next_visit", "plan", "scout")
	for _, v := range vs {
		if v.Told.Void {
			continue
		}
		stops, err := v.Stops()
		if err != nil {
			return nil, err
		}
		s, err := stageOf(f, v.Plan, v.Stage)
		if err != nil {
			return nil, err
		}
		for i, x := range stops {
			var infested, insects, sign any = x.Total, nil, nil
			if s.Measure == plans.MeanPerLeaf {
				infested, insects = nil, x.Total
			}
			if x.Sign != nil {
				sign = signText(say.English(), x.Sign)
			}
			r.Add(v.ID, v.Field, v.Date, v.Stage, i+1, x.Plants, infested, insects, sign, orNothing(v.Told.Verdict), orNothing(v.Told.Next), v.Plan, orNothing(v.Told.Scout))
		}
	}
	return r, nil
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
