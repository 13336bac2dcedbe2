package scouting

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
	"stopwise/sampling/pilot"
)

// levelSeen returns what a visit saw, a mean per leaf or a share; nil without stops.
func levelSeen(v *season.Visit, mean bool) (text string, level *float64) {
	level = ratio(v.Told.Total, v.Told.Units)
	switch {
	case level == nil:
		return "", nil
	case mean:
		return report.Number(*level, 3) + " per leaf", level
	}
	return report.Percent(*level), level
}

func verdictText(v *season.Visit) string {
	if v == nil {
		return ""
	}
	return say.Came{Verdict: v.Told.Verdict, Void: v.Told.Void, SignMissing: v.Told.SignMissing, Unfinished: v.Unfinished()}.String()
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
		d.Para("%s", say.English().VerdictSentence(j.Stage, j.Answer))
		if r := j.Revisit; r != nil {
			d.Para("Come back on %s. %s", j.Told.Next, say.English().RevisitReason(j.Stage, r))
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

// A stopRow is a stop of an export as CSV, which pilot data are read from too; as JSON
// visits are exported whole.
type stopRow struct {
	Visit    string  `json:"visit"`
	Field    string  `json:"field"`
	Date     string  `json:"date"`
	Stage    string  `json:"stage"`
	Stop     int     `json:"stop"`
	Plants   int     `json:"plants"`
	Infested *int    `json:"infested"`
	Insects  *int    `json:"insects"`
	Sign     *string `json:"sign"`
	Verdict  *string `json:"verdict"`
	Next     *string `json:"next_visit"`
	Plan     string  `json:"plan"`
	Scout    *string `json:"scout"`
	AtCap    string  `json:"at_cap,omitempty"` // yes where looking may have ended at the most that a stop counts
	Last     string  `json:"last,omitempty"`   // with which of several tables the visit was walked
}

func stopRecords(f *season.File, vs []*season.Visit) (*report.Records, error) {
	var rows []stopRow
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
			row := stopRow{Visit: v.ID, Field: v.Field, Date: v.Date, Stage: v.Stage, Stop: i + 1, Plants: x.Plants,
				Verdict: report.OrNull(v.Told.Verdict, ""), Next: report.OrNull(v.Told.Next, ""), Plan: v.Plan, Scout: report.OrNull(v.Told.Scout, ""), Last: string(v.Told.Last)}
			if s.Measure == plans.MeanPerLeaf {
				row.Insects = &x.Total
			} else {
				row.Infested = &x.Total
			}
			if s.AtCap(plans.Count{Total: x.Total}) {
				row.AtCap = pilot.Ended
			}
			if x.Sign != nil {
				sign := signText(say.English(), x.Sign)
				row.Sign = &sign
			}
			rows = append(rows, row)
		}
	}
	return report.RecordsOf(rows), nil
}
