package report

import (
	"io"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"
)

// Progress shows how far a long computation is. It may be used from several
// goroutines at once.
type Progress struct {
	bars *mpb.Progress
	bar  *mpb.Bar
}

// NewProgress returns a bar for total steps on w, the error stream, or a sign that
// turns where there is one step only or their number is not known (-1). It
// shows nothing unless w is a terminal.
func NewProgress(w io.Writer, label string, total int64) *Progress {
	if !IsTerminal(w) {
		return &Progress{}
	}
	return newProgress(label, total, mpb.WithOutput(w), mpb.WithRefreshRate(200*time.Millisecond))
}

func newProgress(label string, total int64, options ...mpb.ContainerOption) *Progress {
	bars := mpb.New(append(options, mpb.WithWidth(30))...)
	name := mpb.PrependDecorators(decor.Name(label))
	if total <= 1 { // a bar would stand still until all is done
		return &Progress{bars, bars.New(-1, mpb.SpinnerStyle(`|`, `/`, `-`, `\`).PositionLeft(), name, mpb.BarRemoveOnComplete())}
	}
	return &Progress{bars, bars.New(total, mpb.BarStyle(), name, mpb.BarRemoveOnComplete(), mpb.AppendDecorators(decor.CountersNoUnit(" %d of %d")))}
}

// Add reports n more steps done.
func (p *Progress) Add(n int64) {
	if p.bar != nil {
		p.bar.IncrInt64(n)
	}
}

// Done removes the bar, whether or not all steps were reported.
func (p *Progress) Done() {
	if p.bar != nil {
		p.bar.Abort(true)
		p.bars.Wait()
	}
}

// IsTerminal reports whether a reader or writer is a terminal.
func IsTerminal(stream any) bool {
	f, ok := stream.(interface{ Fd() uintptr })
	return ok && term.IsTerminal(int(f.Fd()))
}

// Limits of the columns that a text is set in on a terminal: longer lines are hard
// to read, shorter ones hold no sentence.
const (
	mostColumns   = 100
	fewestColumns = 30
)

// widthOf returns the columns of the terminal that a text goes to, within limits,
// or [TextWidth] where it goes elsewhere.
func widthOf(w io.Writer) int {
	f, ok := w.(interface{ Fd() uintptr })
	if !ok {
		return TextWidth
	}
	columns, _, err := term.GetSize(int(f.Fd()))
	if err != nil || columns <= 0 { // no terminal, or one that does not say
		return TextWidth
	}
	return min(mostColumns, max(fewestColumns, columns))
}
