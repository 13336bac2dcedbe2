package scouting

import (
	"fmt"
	"io"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// A reply is what the scout wrote.
type reply struct {
	what  string // a kind of entry, or help, stops, quit; empty for nothing
	stop  int    // the stop to correct
	count plans.Count
	sign  *bool
	text  string
}

var replyWords = map[string]string{
	"q": "quit", "quit": "quit", "exit": "quit", "help": "help", "?": "help", "stops": "stops",
	"undo": season.KindUndo, "correct": season.KindCorrect, "note": season.KindNote, "more": season.KindMore,
}

// parseReply reads a line of the scout's. Lines that are empty or begin with #
// say nothing.
func parseReply(line string) (reply, error) {
	words := strings.Fields(line)
	if len(words) == 0 || strings.HasPrefix(words[0], "#") {
		return reply{}, nil
	}
	what, known := replyWords[strings.ToLower(words[0])]
	if !known {
		r := reply{what: season.KindStop}
		return r, r.counted(words, "write a count such as 3 or 2/18, or help")
	}
	r := reply{what: what}
	rest := words[1:]
	switch what {
	case season.KindNote, season.KindMore:
		r.text = strings.Join(rest, " ")
		if r.text == "" {
			return r, wrongReply("write a few words after %s", words[0])
		}
	case season.KindCorrect:
		const how = "write correct, the stop and its count, such as correct 2 5"
		if len(rest) < 2 {
			return r, wrongReply("%s", how)
		}
		n, err := shell.Whole(1, 1000)(rest[0])
		if err != nil {
			return r, wrongReply("stop %v; %s", err, how)
		}
		r.stop = n
		return r, r.counted(rest[1:], how)
	default:
		if len(rest) > 0 {
			return r, wrongReply("%q: nothing goes after %s", strings.Join(words, " "), words[0])
		}
	}
	return r, nil
}

// counted reads a count and perhaps a yes or no.
func (r *reply) counted(words []string, how string) error {
	count, err := plans.ParseCount(words[0])
	if err != nil {
		return wrongReply("%q: %s", strings.Join(words, " "), how)
	}
	r.count = count
	if count.Sign {
		seen := true
		r.count.Sign, r.sign = false, &seen
	}
	switch {
	case len(words) == 1:
		return nil
	case len(words) == 2 && r.sign == nil:
		if seen, ok := yesNo(words[1]); ok {
			r.sign = &seen
			return nil
		}
	}
	return wrongReply("%q: after the count write nothing, or yes or no for the sign", strings.Join(words, " "))
}

func yesNo(s string) (yes, ok bool) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "y", "yes":
		return true, true
	case "n", "no":
		return false, true
	}
	return false, false
}

type replyJSON struct {
	report.Envelope
	Visit    string        `json:"visit"`
	Field    string        `json:"field"`
	Date     string        `json:"date"`
	Stage    string        `json:"stage"`
	Stops    int           `json:"stops"`
	Recorded *season.Entry `json:"recorded"`   // null where a reply records nothing
	Answer   *checkJSON    `json:"answer"`     // null before the first stop
	Next     *string       `json:"next_visit"` // date
	Cautions *string       `json:"cautions"`   // with every act
}

// write writes a reply; recorded is the entry that it answers.
func (w *walk) write(d *report.Document, recorded *season.Entry) error {
	j := replyJSON{
		Envelope: report.Envelope{Kind: "stopwise walk", Version: 1},
		Visit:    w.v.ID, Field: w.v.Field, Date: w.v.Date, Stage: w.s.Name, Stops: len(w.j.Stops), Recorded: recorded,
	}
	if len(w.j.Stops) > 0 {
		a := newCheckJSON(w.s, w.j.Answer, w.j.Revisit)
		j.Answer = &a
	}
	if next := w.j.Told.Next; next != "" {
		j.Next = &next
	}
	if w.j.Answer.Verdict == plans.Act {
		text := strings.TrimSpace(say.Cautions + " " + w.s.About.Cautions)
		j.Cautions = &text
	}
	if w.replies++; w.replies > 1 && w.format != "json" {
		if _, err := io.WriteString(w.e.Out, "\n"); err != nil {
			return err
		}
	}
	return report.Write(w.e.Out, w.format, report.Output{Doc: d, JSON: j})
}

// reply tells the scout what was recorded and what follows.
func (w *walk) reply(e season.Entry, before *season.Judgement, moved bool) error {
	d := &report.Document{}
	if moved {
		d.Note("Another walk has added to this visit meanwhile.")
	}
	d.Para("%s", w.recordedSentence(e))
	switch {
	case e.Kind == season.KindNote:
	case e.Kind == season.KindMore:
		d.Para("The verdict stays: stops from here on are recorded, and do not change it.")
	case len(w.j.Stops) == 0:
	default:
		if before.Answer.DecidedAt > 0 && before.Answer.Verdict != w.j.Answer.Verdict {
			d.Note("The verdict is no longer %s.", before.Answer.Verdict)
		}
		w.stateDocument(d)
	}
	return w.write(d, &e)
}

func (w *walk) recordedSentence(e season.Entry) string {
	what := seenText(w.s, e)
	switch e.Kind {
	case season.KindStop:
		return fmt.Sprintf("Recorded stop %d: %s.", e.Stop, what)
	case season.KindCorrect:
		return fmt.Sprintf("Recorded the correction of stop %d: %s. The first answer is kept.", e.Stop, what)
	case season.KindUndo:
		return "Recorded: " + w.takenBack(e.Takes) + " is taken back."
	case season.KindMore:
		return "Recorded: walking on after the verdict, because: " + e.Note + "."
	}
	return "Recorded the note."
}

// takenBack names the answer with a number.
func (w *walk) takenBack(number int) string {
	switch was := w.v.Entries[number-1]; was.Kind {
	case season.KindStop:
		return fmt.Sprintf("stop %d", was.Stop)
	case season.KindCorrect:
		return fmt.Sprintf("the correction of stop %d", was.Stop)
	case season.KindMore:
		return "the wish to walk on"
	case season.KindUndo:
		return "the undo before"
	}
	return "the note"
}

// seenText says what an entry has for a stop.
func seenText(s *plans.StagePlan, e season.Entry) string {
	seen := ""
	if e.Sign != nil {
		seen = ", sign not seen"
		if *e.Sign {
			seen = ", sign seen"
		}
	}
	if s.Measure == plans.MeanPerLeaf {
		return fmt.Sprintf("%s on %s%s", report.Count(e.Total, "insect", "insects"), report.Units(s.Stage, e.Plants), seen)
	}
	return fmt.Sprintf("%d of %s infested%s", e.Total, report.Units(s.Stage, e.Plants), seen)
}

// stateDocument says where the visit stands.
func (w *walk) stateDocument(d *report.Document) {
	a := w.j.Answer
	if a.Verdict == plans.Continue && w.j.Revisit == nil {
		d.Para("%s", say.VerdictSentence(w.s, a))
		say.NextDocument(d, w.s, a)
		if len(w.j.Stops) < w.s.Table.First() { // while the route still decides what a verdict rests on
			d.Para("%s", say.RouteSentence(w.s.Route, []*plans.StagePlan{w.s}))
		}
		return
	}
	when := ""
	if r := w.j.Revisit; r != nil {
		when = fmt.Sprintf("Come back on %s, in %s. %s", w.j.Told.Next, report.Count(r.Days, "day", "days"), say.RevisitReason(w.s, r))
	}
	say.AnswerDocument(d, w.s, a, when)
	if a.Verdict == plans.Act {
		say.AddCautions(d, w.s.About)
	}
}

func stopsTable(j *season.Judgement) *report.Table {
	t := &report.Table{Columns: []report.Column{
		{Head: "stop", Right: true}, {Head: say.Counted(j.Stage.Stage), Right: true},
		{Head: report.UnitsName(j.Stage.Stage), Right: true},
	}}
	if j.Stage.Sign != nil {
		t.Columns = append(t.Columns, report.Column{Head: "sign seen"})
	}
	for i, s := range j.Stops {
		row := []string{fmt.Sprint(i + 1), fmt.Sprint(s.Total), fmt.Sprint(s.Plants)}
		if j.Stage.Sign != nil {
			row = append(row, signText(s.Sign))
		}
		t.Add(row...)
	}
	return t
}

func signText(sign *bool) string {
	switch {
	case sign == nil:
		return "not asked"
	case *sign:
		return "yes"
	}
	return "no"
}
