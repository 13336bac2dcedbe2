package report

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/term"
)

// Progress shows how far a long computation is. It may be used from several
// goroutines at once.
type Progress struct {
	w      io.Writer
	label  string
	total  int64
	done   atomic.Int64
	stop   chan struct{}
	ended  sync.WaitGroup
	finish sync.Once
}

// The line is drawn anew so often; what takes less time shows none.
const progressEvery = 200 * time.Millisecond

// NewProgress returns a bar for total steps on w, the error stream, or a sign that
// turns where there is one step only or their number is not known (-1). It
// shows nothing unless w is a terminal.
func NewProgress(w io.Writer, label string, total int64) *Progress {
	p := &Progress{w: w, label: label, total: total}
	if IsTerminal(w) {
		p.begin(progressEvery)
	}
	return p
}

func (p *Progress) begin(every time.Duration) {
	p.stop = make(chan struct{})
	p.ended.Go(func() {
		tick := time.NewTicker(every)
		defer tick.Stop()
		for turn := 0; ; turn++ {
			select {
			case <-p.stop:
				fmt.Fprint(p.w, "\r\x1b[K")
				return
			case <-tick.C:
				fmt.Fprintf(p.w, "\r\x1b[K%s", p.line(turn))
			}
		}
	})
}

// line returns what is shown; of a single step a bar would stand still until all
// is done.
func (p *Progress) line(turn int) string {
	if p.total <= 1 {
		return p.label + " " + string(`|/-\`[turn%4])
	}
	const width = 30
	done := min(p.done.Load(), p.total)
	full := int(width * done / p.total)
	return fmt.Sprintf("%s %3d%% [%s%s] %d of %d", p.label, 100*done/p.total, strings.Repeat("=", full), strings.Repeat(" ", width-full), done, p.total)
}

// Add reports n more steps done.
func (p *Progress) Add(n int64) { p.done.Add(n) }

// Done removes the bar, whether or not all steps were reported.
func (p *Progress) Done() {
	if p.stop != nil {
		p.finish.Do(func() { close(p.stop) })
		p.ended.Wait()
	}
}

// IsTerminal reports whether a reader or writer is a terminal.
func IsTerminal(stream any) bool {
	f, ok := stream.(interface{ Fd() uintptr })
	return ok && term.IsTerminal(int(f.Fd()))
}
