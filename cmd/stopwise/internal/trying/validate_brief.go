package trying

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/validate"
)

// brief is the short form of the document: where the promise holds and where it breaks.
func (r *validationResult) brief() *report.Document {
	d := &report.Document{}
	d.Heading("Validation" + say.StageTitle(r.stage))
	r.answer(d, true)
	if r.walks != nil {
		d.Table(r.routeTable())
		r.worstDocument(d)
	}
	if len(r.required) > 0 {
		r.judgement(d)
	}
	d.Para("--detail shows every situation tried, with its risks, stops and minutes.")
	return d
}

// answer says first in how many of the situations the promise holds, and on a screen
// what can be done where it does not.
func (r *validationResult) answer(d *report.Document, screen bool) {
	var standings []validate.Standing
	for _, v := range r.surveys {
		for _, row := range v.Rows {
			standings = append(standings, row.Keeps(r.stage))
		}
	}
	for _, w := range r.walks {
		standings = append(standings, w.Keeps(r.stage))
	}
	counts := map[validate.Standing]int{}
	for _, s := range standings {
		counts[s]++
	}
	if len(standings) > 0 {
		text := fmt.Sprintf("Of the %s tried the promise is", report.Count(len(standings), "situation", "situations"))
		if n := counts[validate.Within]; n > 0 {
			text += fmt.Sprintf(" kept in %d,", n)
		}
		for _, s := range []validate.Standing{validate.Beyond, validate.Open, validate.Unknown} {
			if n := counts[s]; n > 0 {
				text += fmt.Sprintf(" %s in %d,", say.StandingWord(s, "", "broken"), n)
				if s == validate.Open {
					text = strings.TrimSuffix(text, ",") + " for the simulation to tell,"
				}
			}
		}
		d.Para("%s.%s", strings.TrimSuffix(text, ","), r.remedies(screen && counts[validate.Beyond] > 0))
	}
	if len(r.surveys) > 0 {
		d.List(r.surveySentences()...)
	}
	if r.data != nil {
		d.Para("Seen fields in %s, each walked %s. %s", r.data.file, report.Count(r.visits, "time", "times"), r.data.splitSentence())
		d.List(r.poolSentences()...)
		for _, note := range r.data.notes {
			d.Note("%s.", say.Capital(shell.Printable(note)))
		}
	}
	d.Para("%s", r.promise())
}

// remedies says what can be done where the promise breaks.
func (r *validationResult) remedies(broken bool) string {
	if !broken {
		return ""
	}
	var out []string
	if len(r.surveys) > 0 {
		out = append(out, "a plan that holds in more of them is made with a wider rho or k, or --hold-under, in `stopwise design`")
	}
	if r.walks != nil {
		out = append(out, "another route can hold where one breaks (`stopwise route`)")
	}
	return " Next: " + strings.Join(out, "; ") + "."
}

// surveySentences say of each kind of world how far the promise holds.
func (r *validationResult) surveySentences() []string {
	var out []string
	for _, v := range r.surveys {
		kept := 0
		var broken []string
		for _, row := range v.Rows {
			switch row.Keeps(r.stage) {
			case validate.Within:
				kept++
			case validate.Beyond:
				broken = append(broken, say.Setting(row))
			}
		}
		text := surveyTitle(r.stage, v.World) + "."
		if r.stage.MissedKnown() {
			text += fmt.Sprintf(" Kept in %d of %d.", kept, len(v.Rows))
		}
		for _, h := range v.Holds {
			text += " " + holdSentence(r.stage, h)
		}
		if len(v.Holds) == 0 && len(broken) > 0 {
			text += " Broken: " + strings.Join(broken, "; ") + "."
		}
		out = append(out, text)
	}
	return out
}

// routeTable has one row a pattern and one column a route.
func (r *validationResult) routeTable() *report.Table {
	t := report.NewTable(fmt.Sprintf("Made fields, walked along a route: does the promise hold? Simulated, %s each.", report.Count(r.visits, "visit", "visits")),
		"pest")
	for _, route := range r.walk.Routes {
		t.Head(string(route))
	}
	for _, p := range r.walk.Patterns {
		cells := []string{string(p)}
		for _, route := range r.walk.Routes {
			word := ""
			for _, w := range r.walks {
				if w.Pattern == p && w.Route == route {
					word = keptWord(w.Keeps(r.stage))
				}
			}
			cells = append(cells, word)
		}
		t.Add(cells...)
	}
	return t
}
