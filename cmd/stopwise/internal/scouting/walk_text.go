package scouting

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

// A reply is what the scout wrote.
type reply struct {
	what  string // a kind of entry, or help, stops, quit; empty for nothing
	stop  int    // the stop to correct
	count plans.Count
	sign  *bool
	text  string
}

// replyWords returns what each word means that a scout can begin an answer with:
// those of the language, and the English ones, which scripts use.
func replyWords(l say.In) map[string]string {
	words := map[string]string{}
	for _, in := range []say.In{say.English(), l} {
		for what, list := range map[string]string{
			"quit": in.Say("walk.words_quit"), "help": in.Say("walk.words_help"), "stops": in.Say("walk.words_stops"), season.KindUndo: in.Say("walk.words_undo"),
			season.KindCorrect: in.Say("walk.words_correct"), season.KindNote: in.Say("walk.words_note"), season.KindMore: in.Say("walk.words_more"),
		} {
			for _, word := range strings.Fields(list) {
				words[word] = what
			}
		}
	}
	return words
}

// parseReply reads a line of the scout's. Lines that are empty or begin with #
// say nothing.
func (w *walk) parseReply(line string) (reply, error) {
	words := strings.Fields(line)
	if len(words) == 0 || strings.HasPrefix(words[0], "#") {
		return reply{}, nil
	}
	what, known := replyWords(w.In)[strings.ToLower(words[0])]
	if !known {
		r := reply{what: season.KindStop}
		return r, w.counted(&r, words, w.Say("walk.write_count"))
	}
	r := reply{what: what}
	rest := words[1:]
	switch what {
	case season.KindNote, season.KindMore:
		r.text = strings.Join(rest, " ")
		if r.text == "" {
			return r, wrongReply(w.Say("walk.write_words", "Word", words[0]))
		}
	case season.KindCorrect:
		how := w.Say("walk.write_correct")
		if len(rest) < 2 {
			return r, wrongReply(how)
		}
		n, err := shell.Whole(1, protocol.MaxStops)(rest[0])
		if err != nil {
			return r, wrongReply(w.Say("walk.which_stop", "Text", strconv.Quote(rest[0]), "Most", protocol.MaxStops, "How", how))
		}
		r.stop = n
		return r, w.counted(&r, rest[1:], how)
	default:
		if len(rest) > 0 {
			return r, wrongReply(w.Say("walk.nothing_after", "Text", strconv.Quote(strings.Join(words, " ")), "Word", words[0]))
		}
	}
	return r, nil
}

// counted reads a count and perhaps a yes or no.
func (w *walk) counted(r *reply, words []string, how string) error {
	text := strconv.Quote(strings.Join(words, " "))
	count, err := plans.ParseCount(words[0])
	if err != nil {
		return wrongReply(text + ": " + how)
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
		if seen, ok := w.yesNo(words[1]); ok {
			r.sign = &seen
			return nil
		}
	}
	return wrongReply(w.Say("walk.after_count", "Text", text))
}

// yesNo reads a yes or no in the walk's language or in English.
func (w *walk) yesNo(s string) (yes, ok bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	for _, in := range []say.In{w.In, say.English()} {
		if slices.Contains(strings.Fields(in.Say("walk.words_yes")), s) {
			return true, true
		}
		if slices.Contains(strings.Fields(in.Say("walk.words_no")), s) {
			return false, true
		}
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
		text := strings.TrimSpace(w.Cautions() + " " + w.s.About.Cautions)
		j.Cautions = &text
	}
	if w.replies++; w.replies > 1 && w.format != "json" {
		if _, err := io.WriteString(w.e.Out, "\n"); err != nil {
			return err
		}
	}
	return report.Write(w.e.Out, w.format, report.Output{Doc: d, JSON: j})
}

// document returns an empty document in the walk's language.
func (w *walk) document() *report.Document {
	return &report.Document{NoteWord: w.Say("walk.note_word")}
}

// reply tells the scout what was recorded and what follows.
func (w *walk) reply(e season.Entry, before *season.Judgement, moved bool) error {
	d := w.document()
	if moved {
		d.Note("%s", w.Say("walk.another_meanwhile"))
	}
	d.Para("%s", w.recordedSentence(e))
	switch {
	case e.Kind == season.KindNote:
	case e.Kind == season.KindMore:
		d.Para("%s", w.Say("walk.verdict_stays"))
	case len(w.j.Stops) == 0:
	default:
		if before.Answer.DecidedAt > 0 && before.Answer.Verdict != w.j.Answer.Verdict {
			was := w.Say("walk.no_longer_leave")
			if before.Answer.Verdict == plans.Act {
				was = w.Say("walk.no_longer_act")
			}
			d.Note("%s", was)
		}
		w.stateDocument(d)
	}
	return w.write(d, &e)
}

func (w *walk) recordedSentence(e season.Entry) string {
	switch e.Kind {
	case season.KindStop:
		return w.Say("walk.recorded_stop", "Stop", e.Stop, "Seen", seenText(w.In, w.s, e))
	case season.KindCorrect:
		return w.Say("walk.recorded_correction", "Stop", e.Stop, "Seen", seenText(w.In, w.s, e))
	case season.KindUndo:
		return w.Say("walk.recorded_undo", "What", w.takenBack(e.Takes))
	case season.KindMore:
		return w.Say("walk.recorded_more", "Why", e.Note)
	}
	return w.Say("walk.recorded_note")
}

// takenBack names the answer with a number.
func (w *walk) takenBack(number int) string {
	switch was := w.v.Entries[number-1]; was.Kind {
	case season.KindStop:
		return w.Say("walk.the_stop", "Stop", was.Stop)
	case season.KindCorrect:
		return w.Say("walk.the_correction", "Stop", was.Stop)
	case season.KindMore:
		return w.Say("walk.the_more")
	case season.KindUndo:
		return w.Say("walk.the_undo")
	}
	return w.Say("walk.the_note")
}

// seenText says what an entry has for a stop.
func seenText(l say.In, s *plans.StagePlan, e season.Entry) string {
	units := l.Units(s.Stage, e.Plants)
	seen := l.Say("walk.entry_share", "Total", e.Total, "Units", units)
	switch ended := s.AtCap(plans.Count{Total: e.Total}); {
	case ended && s.Measure == plans.MeanPerLeaf:
		seen = l.Say("walk.entry_mean_ended", "Insects", l.Count("count.insects", e.Total))
	case s.Measure == plans.MeanPerLeaf:
		seen = l.Say("walk.entry_mean", "Insects", l.Count("count.insects", e.Total), "Units", units)
	case ended:
		seen = l.Say("walk.entry_ended", "Total", e.Total)
	}
	switch {
	case e.Sign == nil:
		return seen
	case *e.Sign:
		return l.Say("walk.with_sign", "Seen", seen)
	}
	return l.Say("walk.without_sign", "Seen", seen)
}

// tellWhere says how the field is walked, while that still decides what a first
// verdict rests on, and where the next stop is.
func (w *walk) tellWhere(d *report.Document) {
	done := len(w.j.Stops)
	if done < w.s.Table.First() {
		d.Para("%s", w.RouteSentence(w.where.Told(w.s.Route), []*plans.StagePlan{w.s}))
	}
	if w.where == nil || done >= len(w.where.Route.Stops) {
		return
	}
	next := w.where.Route.Stops[done]
	d.Para("%s", w.Say("where.next_metres", "Stop", done+1, "Where", w.where.Where(w.Language, next.At), "Metres", report.Whole(next.Metres)))
}

// stateDocument says where the visit stands.
func (w *walk) stateDocument(d *report.Document) {
	a := w.j.Answer
	if a.Verdict == plans.Continue && w.j.Revisit == nil {
		d.Para("%s", w.VerdictSentence(w.s, a))
		w.NextDocument(d, w.s, a)
		w.tellWhere(d)
		return
	}
	when := ""
	if r := w.j.Revisit; r != nil {
		when = w.Say("walk.come_back", "Date", w.Date(w.j.Told.Next), "Days", w.Count("count.days", r.Days)) + " " + w.RevisitReason(w.s, r)
	}
	w.AnswerDocument(d, w.s, a, when)
	if a.Verdict == plans.Act {
		w.AddCautions(d, w.s.About)
	}
}

func stopsTable(l say.In, j *season.Judgement) *report.Table {
	t := report.NewTable("", ">"+l.Say("walk.head_stop"), ">"+l.Counted(j.Stage.Stage), ">"+l.UnitsName(j.Stage.Stage))
	points := j.Stage.Worth.Points != nil
	if points {
		t.Head(">" + l.Say("walk.head_points"))
	}
	if j.Stage.Sign != nil {
		t.Head(l.Say("walk.head_sign"))
	}
	for i, s := range j.Stops {
		row := []string{fmt.Sprint(i + 1), fmt.Sprint(s.Total), fmt.Sprint(s.Plants)}
		if points {
			row = append(row, fmt.Sprint(j.Stage.Worth.Value(s.Total, j.Stage.Units(s.Plants))))
		}
		if j.Stage.Sign != nil {
			row = append(row, signText(l, s.Sign))
		}
		t.Add(row...)
	}
	return t
}

func signText(l say.In, sign *bool) string {
	switch {
	case sign == nil:
		return l.Say("walk.sign_not_asked")
	case *sign:
		return l.Say("walk.sign_yes")
	}
	return l.Say("walk.sign_no")
}
