package scouting

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func (w *walk) begin(plan *plans.Plan, field, date string, fresh bool) error {
	sum, err := w.f.Remember(plan)
	if err != nil {
		return seasonError(w.file, err)
	}
	if !fresh {
		if w.v, err = w.f.Resume(field, date, w.s.Name, sum); err != nil {
			return seasonError(w.file, err)
		}
	}
	var slips []string
	if w.v == nil {
		if field, slips, err = w.rightField(field, date, sum, fresh); err != nil {
			return err
		}
	}
	if w.v == nil {
		w.v = season.NewVisit(field, date, w.s.Name, sum)
		w.v.Beside = fresh
	}
	unknown, err := w.whichTable()
	if err != nil {
		return err
	}
	slips = append(slips, unknown...)
	if err := w.judge(); err != nil {
		return err
	}
	d := w.document()
	day := w.Date(w.v.Date)
	if w.s.Name == "" {
		d.Heading(w.Say("walk.field", "Field", w.v.Field, "Date", day))
	} else {
		d.Heading(w.Say("walk.field_stage", "Field", w.v.Field, "Date", day, "Stage", w.s.Name))
	}
	if len(w.j.Stops) > 0 {
		d.Para("%s", w.Say("walk.going_on", "File", w.file, "Stops", w.stops()))
		w.stateDocument(d)
	} else {
		d.Para("%s", w.WalkSentences(say.TermsOf([]*plans.StagePlan{w.s})))
		w.tellWhere(d)
	}
	if err := w.tableTaken(d); err != nil {
		return err
	}
	for _, text := range append(slips, w.dateSlip()...) {
		d.Note("%s", text)
	}
	if err := w.remindOfOthers(d); err != nil {
		return err
	}
	return w.write(d, nil)
}

// rightField asks about a name that is new and like one in the file. Where nobody
// can be asked, it returns what there is to be said.
func (w *walk) rightField(field, date, sum string, fresh bool) (string, []string, error) {
	near, err := w.f.Near(field)
	if err != nil || len(near) == 0 {
		return field, nil, seasonError(w.file, err)
	}
	what := w.Say("walk.no_such_field", "Field", field, "File", w.file, "Near", strings.Join(near, w.Say("next.comma")))
	if !w.in.Asks() {
		return field, []string{what + " " + w.Say("walk.if_meant")}, nil
	}
	for _, n := range near {
		text, err := w.in.Read(what + " " + w.Say("walk.did_you_mean", "Near", n))
		if err != nil {
			return field, nil, shell.Failure("cannot read the answers: %w; nothing was recorded", shell.Bare(err))
		}
		if yes, _ := w.yesNo(text); yes {
			if !fresh {
				w.v, err = w.f.Resume(n, date, w.s.Name, sum)
			}
			return n, nil, seasonError(w.file, err)
		}
	}
	return field, nil, nil
}

// dateSlip warns of a day that is still to come, or long gone.
func (w *walk) dateSlip() []string {
	day, err := time.Parse(season.DateLayout, w.v.Date)
	if err != nil {
		return nil // refused before
	}
	today, _ := time.Parse(season.DateLayout, clock().Format(season.DateLayout))
	switch days := int(today.Sub(day).Hours() / 24); {
	case days < 0:
		return []string{w.Say("walk.still_to_come", "Date", w.Date(w.v.Date))}
	case days > season.OldDays:
		return []string{w.Count("walk.long_gone", days, "Date", w.Date(w.v.Date))}
	}
	return nil
}

// whichTable takes what the scout says earlier visits found, where that chooses the table:
// with --last, or when asked because the season file knows no visit of the field. Where
// nobody can be asked, it returns what there is to be said.
func (w *walk) whichTable() ([]string, error) {
	if len(w.v.Entries) > 0 {
		if w.last != "" && w.last != w.v.Told.Last {
			return nil, shell.UsageError("--last: this visit was begun with another table and goes on with it; leave --last away")
		}
		return nil, nil
	}
	if w.last != "" {
		s, err := w.s.OfLast(w.last)
		if err != nil {
			return nil, shell.UsageError("--last: %v", err)
		}
		w.v.Told.Last, w.told = s.Last, true
		return nil, nil
	}
	if len(w.s.ByLast) == 0 {
		return nil, nil
	}
	vs, err := w.f.Visits(season.Filter{Field: w.v.Field, To: w.v.Date})
	if err != nil || slices.ContainsFunc(vs, func(o *season.Visit) bool { return o.Counts() }) {
		return nil, seasonError(w.file, err)
	}
	none := w.Say("walk.no_visit_known", "File", w.file)
	if !w.in.Asks() {
		return []string{none + " " + w.Say("walk.say_last")}, nil
	}
	var choices []string
	for i, s := range w.s.ByLast {
		choices = append(choices, fmt.Sprintf("%d: %s", i+1, w.FieldsOf(s)))
	}
	for {
		text, err := w.in.Read(none + " " + w.Say("walk.which_last", "Choices", strings.Join(choices, "; ")))
		if err != nil {
			return nil, shell.Failure("cannot read the answers: %w; nothing was recorded", shell.Bare(err))
		}
		text = strings.TrimSpace(text)
		for i, s := range w.s.ByLast {
			if text == fmt.Sprint(i+1) || strings.EqualFold(text, string(s.Last)) {
				w.v.Told.Last, w.told = s.Last, true
				return nil, nil
			}
		}
	}
}

// tableTaken says which of a stage's tables the visit is walked with, and why.
func (w *walk) tableTaken(d *report.Document) error {
	of := w.FieldsOf(w.s)
	if of == "" {
		return nil
	}
	vs, err := w.f.Visits(season.Filter{Field: w.v.Field, To: w.v.Date})
	if err != nil {
		return seasonError(w.file, err)
	}
	why := w.Say("tables.why_none", "File", w.file)
	for _, o := range slices.Backward(vs) {
		if w.s.Last != plans.LastNone && o.ID != w.v.ID && o.Counts() {
			full, err := w.f.Visit(o.ID)
			if err != nil {
				return seasonError(w.file, err)
			}
			stops, err := full.Stops()
			if err != nil {
				return err
			}
			why = w.Say("tables.why_last", "Date", w.Date(o.Date), "Seen", w.SeenInWords(w.s, season.Counts(stops), o.Told.Total, o.Told.Plants))
			break
		}
	}
	if w.told {
		why = w.Say("tables.why_told")
	}
	d.Para("%s", w.Say("tables.taken", "Fields", of, "Why", why))
	return nil
}

// remindOfOthers names unfinished visits of the field on other days.
func (w *walk) remindOfOthers(d *report.Document) error {
	vs, err := w.f.Visits(season.Filter{Field: w.v.Field, To: w.v.Date})
	if err != nil {
		return seasonError(w.file, err)
	}
	for i := len(vs) - 1; i >= 0; i-- {
		if o := vs[i]; o.ID != w.v.ID && o.Told.Verdict == plans.Continue.String() {
			d.Note("%s", w.Say("walk.other_visit", "Date", w.Date(o.Date), "Stops", w.Count("count.stops", o.Told.Stops), "How", w.goOnWith(o)))
			return nil
		}
	}
	return nil
}

// goOnWith says how to go on with another visit: what sets it apart from this one.
func (w *walk) goOnWith(o *season.Visit) string {
	if o.Plan == w.v.Plan && o.Stage == w.v.Stage && o.Date == w.v.Date {
		return w.Say("walk.begun_beside")
	}
	var with []string
	if o.Date != w.v.Date {
		with = append(with, "--date "+o.Date)
	}
	if o.Stage != w.v.Stage && o.Stage != "" {
		with = append(with, fmt.Sprintf("--stage %q", o.Stage))
	}
	if o.Plan != w.v.Plan {
		with = append(with, w.Say("walk.its_plan", "Plan", season.Short(o.Plan)))
	}
	return w.Say("walk.go_on_with", "With", w.And(with))
}
