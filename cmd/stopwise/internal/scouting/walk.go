package scouting

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"time"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/laying"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// clock is the time of day; tests set it.
var clock = time.Now

func WalkCommand(e shell.Env) *cli.Command {
	file, field, date := seasonFlag(), fieldFlag(), dateFlag("`DATE` day of the visit, such as 2026-07-31").WithoutValue("today")
	stage, last := shell.StageFlag(), shell.LastFlag().WithoutValue("what the season file knows of the field; where it knows nothing the scout is asked")
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
		Flags: slices.Concat([]cli.Flag{file, field, stage, last, date, scout, fresh}, where.List(), tongue.Flags(), []cli.Flag{format}),
		Action: func(c *cli.Context) error {
			name, err := shell.Only(c, "plan")
			if err != nil {
				return err
			}
			if err := shell.Required(file, field); err != nil {
				return err
			}
			language, err := tongue.Chosen(e)
			if err != nil {
				return err
			}
			plan, s, err := shell.ReadStage(e, name, stage.Value)
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
			w := &walk{where: stops, last: plans.Last(last.Value), e: e, In: say.In{Language: language}, file: file.Value, f: f, s: s, format: format.Value, scout: scout.Value}
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
	last   plans.Last   // what earlier visits found, as the scout says; empty where that is not said
	told   bool         // what earlier visits found was told by the scout
	in     shell.Lines
	format string
	scout  string
	v      *season.Visit
	j      *season.Judgement

	replies int
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
