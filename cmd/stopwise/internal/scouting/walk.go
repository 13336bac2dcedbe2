package scouting

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/laying"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

// clock is the time of day; tests set it.
var clock = time.Now

func WalkCommand(e shell.Env) *cli.Command {
	file, field, date := seasonFlag(), fieldFlag(), dateFlag("`DATE` day of the visit, such as 2026-07-31").WithoutValue("today")
	stage := shell.StageFlag()
	format := shell.ChoiceFlag("format", "`FORMAT` replies", "text", "json", "markdown").WithDefault("text")
	scout, where, tongue := scoutFlag(), laying.NewFlags("boundary"), shell.TongueFlags()
	fresh := &cli.BoolFlag{Name: "new", Usage: "begin another visit, even where there is one of this field, day and stage"}
	return &cli.Command{
		Name:      "walk",
		Usage:     "ask stop by stop, record each answer, and say what to do next",
		ArgsUsage: "PLAN.json",
		Description: `Walks a field with the scout: takes the count of each stop, records it in the season file, and only then replies with the verdict and what the next stop would need. Killed or without power it goes on where it was, when called again. Answers may be piped in, one a line.

$ stopwise walk plan.json --season 2026.season --field North --stage leafing

= walk.help`,
		Flags: slices.Concat([]cli.Flag{file, field, stage, date, scout, fresh}, where.List(), tongue.Flags(), []cli.Flag{format}),
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return shell.UsageHint("see stopwise walk --help", "walk takes one plan, not %d arguments", c.NArg())
			}
			if err := shell.Required(file, field); err != nil {
				return err
			}
			language, err := tongue.Chosen(e)
			if err != nil {
				return err
			}
			plan, s, err := shell.ReadStage(e, c.Args().First(), stage.Value)
			if err != nil {
				return err
			}
			var stops *laying.Laid
			if where.Given() || where.Seed.Set {
				if stops, err = where.Of(e, plan.Protocol.Route, []*plans.StagePlan{s}); err != nil {
					return err
				}
			}
			f, err := openSeason(file.Value, true)
			if err != nil {
				return err
			}
			defer f.Close()
			w := &walk{where: stops, e: e, In: say.In{Language: language}, file: file.Value, f: f, s: s, format: format.Value, scout: scout.Value}
			lines, done := shell.NewLines(e)
			defer done()
			w.in = lines
			if err := w.begin(plan, field.Value, dateOf(date), c.Bool("new")); err != nil {
				return err
			}
			return w.run()
		},
	}
}

func seasonFlag() *shell.Option[string] {
	return shell.TextFlag("season", "`FILE` season file; made if there is none")
}

func fieldFlag() *shell.Option[string] { return nameFlag("field", "`NAME` name of the field") }

func dateFlag(usage string) *shell.Option[string] { return namedDateFlag("date", usage) }

func namedDateFlag(name, usage string) *shell.Option[string] {
	return shell.NewOption(name, usage, func(s string) (string, error) { return s, season.CheckDate(s) })
}

// dateOf returns the date of a flag, or today.
func dateOf(o *shell.Option[string]) string {
	if o.Set {
		return o.Value
	}
	return clock().Format(season.DateLayout)
}

func openSeason(file string, create bool) (*season.File, error) {
	f, err := season.Open(file, create)
	return f, seasonError(file, err)
}

// seasonError gives the faults of a season file their exit status. It leaves other
// errors as they are.
func seasonError(file string, err error) error {
	if _, failed := errors.AsType[*season.StoreError](err); failed {
		return shell.Failure("%s: %w", file, err)
	}
	_, format := errors.AsType[*season.FormatError](err)
	_, path := errors.AsType[*fs.PathError](err)
	if format || path {
		return shell.InputError(file, err)
	}
	return err
}

// A walk is a session with a scout.
type walk struct {
	say.In
	e      shell.Env
	file   string
	f      *season.File
	s      *plans.StagePlan
	where  *laying.Laid // the stops in this field; nil where they are not laid out
	in     shell.Lines
	format string
	scout  string
	v      *season.Visit
	j      *season.Judgement

	replies int
}

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

// stops counts what was recorded.
func (w *walk) stops() string { return w.Count("count.stops", len(w.j.Stops)) }

func (w *walk) judge() (err error) {
	if w.j, err = w.f.Judge(w.v); err == nil {
		w.s = w.j.Stage // with the table for what earlier visits found
	}
	return seasonError(w.file, err)
}

// run answers line after line until the scout leaves or the input ends.
func (w *walk) run() error {
	for {
		text, err := w.in.Read(w.prompt())
		if errors.Is(err, io.EOF) {
			return w.leave()
		}
		if err != nil {
			return shell.Failure("cannot read the answers: %w; what was recorded is safe", shell.Bare(err))
		}
		a, err := w.parseReply(text)
		if err == nil {
			if a.what == "" {
				continue
			}
			if a.what == "quit" {
				return w.leave()
			}
			err = w.answer(a)
		}
		if err == nil {
			continue
		}
		if wrong, ok := errors.AsType[*replyError](err); ok {
			// A script would go on with the next stop's count in the wrong place.
			if err := w.in.Wrong(wrong.Error()); err != nil {
				return err
			}
			continue
		}
		return err
	}
}

func (w *walk) prompt() string {
	n := len(w.j.Stops)
	if w.closed() != "" {
		return w.Say("walk.prompt_closed")
	}
	if w.s.Measure == plans.MeanPerLeaf {
		return w.Say("walk.prompt_mean", "Stop", n+1, "Units", w.Units(w.s.Stage, w.s.Plants()))
	}
	return w.Say("walk.prompt_share", "Stop", n+1, "Units", w.Units(w.s.Stage, w.s.Plants()))
}

// closed says why no stop can be added, or is empty.
func (w *walk) closed() string {
	switch {
	case len(w.j.Stops) >= w.s.Table.Stops():
		return w.Say("walk.plan_ends", "Stop", w.s.Table.Stops())
	case w.j.Answer.DecidedAt > 0 && !w.v.Overruled(w.j.Answer.DecidedAt):
		return w.Say("walk.verdict_came", "Stop", w.j.Answer.DecidedAt)
	}
	return ""
}

// A replyError is an answer that cannot be taken. Nothing was recorded.
type replyError struct{ message string }

func (e *replyError) Error() string { return e.message }

func wrongReply(message string) error { return &replyError{message} }

func (w *walk) answer(a reply) error {
	switch a.what {
	case "help":
		return w.in.Say(w.e, w.Say("walk.help")+"\n")
	case "stops":
		d := w.document()
		d.Table(stopsTable(w.In, w.j))
		return w.write(d, nil)
	}
	e, err := w.entry(a)
	if err != nil {
		return err
	}
	moved := false
	for {
		e.At, e.Scout = now(), w.scout
		j, err := w.f.Append(w.v, e)
		if errors.Is(err, season.ErrMoved) {
			moved = true
			if e, err = w.catchUp(a, e); err != nil {
				return err
			}
			continue
		}
		if err != nil {
			return w.notRecorded(e, err)
		}
		before := w.j
		w.j = j
		return w.reply(e, before, moved)
	}
}

// entry turns an answer into what is recorded.
func (w *walk) entry(a reply) (season.Entry, error) {
	e := season.Entry{Kind: a.what, Note: a.text}
	n := len(w.j.Stops)
	switch a.what {
	case season.KindStop:
		if why := w.closed(); why != "" {
			return e, wrongReply(why)
		}
		e.Stop = n + 1
	case season.KindCorrect:
		if a.stop < 1 || a.stop > n {
			return e, wrongReply(w.Count("walk.no_correction", n, "Stop", a.stop))
		}
		e.Stop = a.stop
	case season.KindUndo:
		if e.Takes = w.v.Last(); e.Takes == 0 {
			return e, wrongReply(w.Say("walk.nothing_to_undo"))
		}
		return e, nil
	case season.KindMore:
		if w.j.Answer.DecidedAt == 0 {
			return e, wrongReply(w.Say("walk.no_verdict_yet"))
		}
		if n >= w.s.Table.Stops() {
			return e, wrongReply(w.closed())
		}
		return e, nil
	default:
		return e, nil
	}
	e.Total, e.Plants, e.Sign = a.count.Total, a.count.Plants, a.sign
	if e.Plants == 0 {
		e.Plants = w.s.Plants()
	}
	if err := w.tryCount(e, a.count.OrMore); err != nil {
		return e, err
	}
	sign := w.s.Sign
	switch {
	case sign == nil && e.Sign != nil:
		return e, wrongReply(w.Say("walk.no_sign_here"))
	case sign != nil && e.Sign == nil:
		seen, err := w.askSign(e.Stop, sign.Text)
		e.Sign = seen
		return e, err
	}
	return e, nil
}

// tryCount refuses a count before the scout is asked for more about the stop.
func (w *walk) tryCount(e season.Entry, orMore bool) error {
	units := w.Units(w.s.Stage, e.Plants)
	switch {
	case e.Plants > protocol.MaxPlants:
		return wrongReply(w.Say("walk.too_many", "Stop", e.Stop, "Units", units, "Most", protocol.MaxPlants))
	case w.s.Measure == plans.ShareInfested && e.Total > e.Plants:
		return wrongReply(w.Say("walk.more_than_seen", "Stop", e.Stop, "Total", e.Total, "Units", units))
	}
	_, err := w.s.Check([]plans.Count{{Total: e.Total, Plants: e.Plants, OrMore: orMore}})
	if wrong, ok := errors.AsType[*plans.CountError](err); ok {
		return wrongReply(fmt.Sprintf("stop %d: %s", e.Stop, wrong.Message))
	}
	return err
}

func (w *walk) askSign(stop int, sign string) (*bool, error) {
	for {
		text, err := w.in.Read(w.Say("walk.ask_sign", "Stop", stop, "Sign", sign))
		if errors.Is(err, io.EOF) {
			return nil, wrongReply(w.Say("walk.sign_not_said", "Stop", stop, "Sign", sign))
		}
		if err != nil {
			return nil, err
		}
		if seen, ok := w.yesNo(text); ok {
			return &seen, nil
		}
		if err := w.in.Wrong(w.Say("walk.sign_unclear", "Text", strconv.Quote(strings.TrimSpace(text)), "Stop", stop, "Sign", sign)); err != nil {
			return nil, err
		}
	}
}

// catchUp reads the visit again after another walk added to it. A stop is
// recorded after the other's stops: nothing that either scout saw is lost.
func (w *walk) catchUp(a reply, e season.Entry) (season.Entry, error) {
	v, err := w.f.Visit(w.v.ID)
	if err != nil {
		return e, seasonError(w.file, err)
	}
	if v == nil {
		return e, shell.Failure("%s: the visit is gone from the file", w.file)
	}
	w.v = v
	if err := w.judge(); err != nil {
		return e, err
	}
	if a.what == season.KindCorrect || a.what == season.KindUndo {
		return e, wrongReply(w.Say("walk.another_added", "Stops", w.stops()))
	}
	a.sign = e.Sign
	return w.entry(a)
}

func (w *walk) notRecorded(e season.Entry, err error) error {
	_, store := errors.AsType[*season.StoreError](err)
	_, format := errors.AsType[*season.FormatError](err)
	if !store && !format {
		return wrongReply(err.Error())
	}
	what := "the answer"
	if e.Kind == season.KindStop {
		what = fmt.Sprintf("stop %d", e.Stop)
	}
	return shell.Failure("%s: %w; %s was NOT recorded, what was recorded before is safe: %s", w.file, err, what, report.Count(len(w.j.Stops), "stop", "stops"))
}

// leave ends the session.
func (w *walk) leave() error {
	if len(w.j.Stops) == 0 || w.j.Answer.Verdict != plans.Continue {
		return nil
	}
	d := w.document()
	d.Para("%s", w.Say("walk.not_yet", "Stops", w.stops()))
	return w.write(d, nil)
}
