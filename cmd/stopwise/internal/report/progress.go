package report

import (
	"io"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// Progress shows how far a long computation is. It may be used from several
// goroutines at once.
type Progress struct{ bar *progressbar.ProgressBar }

// NewProgress returns a bar for total steps on w, the error stream, or a sign that
// turns where there is one step only or their number is not known (-1). It
// shows nothing unless w is a terminal.
func NewProgress(w io.Writer, label string, total int64) *Progress {
	if !IsTerminal(w) {
		return &Progress{}
	}
	if total == 1 {
		total = -1 // a bar would stand still until all is done
	}
	options := []progressbar.Option{
		progressbar.OptionSetWriter(w),
		progressbar.OptionSetDescription(label),
		progressbar.OptionSetWidth(30),
		progressbar.OptionThrottle(100 * time.Millisecond),
		progressbar.OptionSpinnerType(14),
		progressbar.OptionSetSpinnerChangeInterval(200 * time.Millisecond),
		progressbar.OptionClearOnFinish(),
	}
	if total > 0 {
		options = append(options, progressbar.OptionShowCount())
	}
	return &Progress{progressbar.NewOptions64(total, options...)}
}

// Add reports n more steps done.
func (p *Progress) Add(n int64) {
	if p.bar != nil {
		_ = p.bar.Add64(n) // a bar that cannot be drawn must not stop the work
	}
}

// Done removes the bar, whether or not all steps were reported.
func (p *Progress) Done() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}

// IsTerminal reports whether a reader or writer is a terminal.
func IsTerminal(stream any) bool {
	f, ok := stream.(interface{ Fd() uintptr })
	return ok && term.IsTerminal(int(f.Fd()))
}
