package scouting

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/season"
	"stopwise/plans"
	"stopwise/plans/protocol"
)

// A replyError is an answer that cannot be taken. Nothing was recorded.
type replyError struct{ message string }

func (e *replyError) Error() string { return e.message }

func wrongReply(message string) error { return &replyError{message} }

func (w *walk) answer(a reply) error {
	switch a.what {
	case "help":
		_, err := io.WriteString(w.e.Out, w.Say("walk.help")+"\n")
		return err
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
