package scouting

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
)

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
	t := report.NewTable("", "field", "due", "when", "last visit", "stage", ">seen", "verdict")
	for _, x := range due {
		if x.Visit == nil {
			out.Never = append(out.Never, x.Field)
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
	records := report.RecordsOf(out.Fields)
	for _, field := range out.Never {
		records.AddOnly(map[string]any{"field": field})
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
