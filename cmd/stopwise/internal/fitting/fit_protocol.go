package fitting

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/fit"
)

// Clumping returns what a protocol takes over from a fit: the interval of rho,
// and for counts Taylor's law, or the interval of k where there are too few
// fields for a law, with the interval of their correlation at a stop. Intervals are rounded outwards. What the data do not carry
// is nil.
func (f *fitting) Clumping() plans.Clumping {
	c := plans.Clumping{Rho: f.rhoRange(), Source: f.source()}
	if t := f.Taylor; t.A.Known() && t.B.Known() && t.Line.Fields >= fit.FewFields && t.A.Value > 0 && t.B.Value > 0 {
		c.Taylor = &plans.Taylor{A: report.Significant(t.A.Value, 4), B: report.Significant(t.B.Value, 4)}
	} else {
		c.K = f.kRange()
	}
	if c.Taylor != nil || c.K != nil {
		c.CountRho = f.countRhoRange()
	}
	return c
}

func (f *fitting) rhoRange() *plans.Range {
	return outwardRange(f.Rho.Estimate, 0.999) // no plan can be made for plants that are all alike
}

// takenK is the k that a plan goes by: where the counts of a stop are alike, the one
// fitted along with their correlation. Fitted as if leaves were independent, it is
// another, and its interval too narrow.
func (f *fitting) takenK() (e fit.Estimate, joint bool) {
	if c := f.CountRho; c.Estimate.Known() && c.Estimate.Value > 0 && c.KInterval.Known() {
		return c.KInterval, true
	}
	return f.K.Estimate, false
}

// kRange is the lower end alone where there is no upper one.
func (f *fitting) kRange() *plans.Range {
	e, _ := f.takenK()
	low := outwards(e.Lower, math.Floor)
	switch {
	case !e.HasInterval() || low <= 0:
		return nil
	case math.IsInf(e.Upper, 1):
		return &plans.Range{Low: low, High: low}
	}
	return &plans.Range{Low: low, High: outwards(e.Upper, math.Ceil)}
}

// outwards rounds x > 0 to three digits in the direction of to.
func outwards(x float64, to func(float64) float64) float64 {
	if !(x > 0) || math.IsInf(x, 1) {
		return x
	}
	unit := int(math.Floor(math.Log10(x))) - 2
	return report.Significant(to(x/math.Pow10(unit))*math.Pow10(unit), 3)
}

// source says in one line where the constants come from.
func (f *fitting) source() string {
	s := fmt.Sprintf("%s, %s, %s", fieldsText(f.Fields), report.Count(f.Stops, "stop", "stops"), f.file)
	if f.Tally > 0 {
		s += fmt.Sprintf(", tally number %d", f.Tally)
	}
	if f.Rho.Estimate.Known() {
		s += ": " + f.rhoText()
	}
	if f.CountRho.Estimate.Known() {
		s += "; " + f.countRhoText()
	}
	return s
}

// section returns the part of a protocol that a fit makes, with its provenance
// in comments.
func (f *fitting) section() (string, error) { return f.sectionUnder("[clumping]") }

// sectionUnder returns it under a head of its own.
func (f *fitting) sectionUnder(head string) (string, error) {
	c := f.Clumping()
	if c.Rho == nil && c.K == nil && c.Taylor == nil {
		return "", shell.Failure("%w", f.noConstants())
	}
	w := &sectionWriter{}
	w.line("%s", head)
	w.comment("Fitted by stopwise %s to %s: %s, %s, %s, %d of them infested. Intervals are of %s.", shell.Version, f.file,
		fieldsText(f.Fields), report.Count(f.Stops, "stop", "stops"), report.Count(f.Plants, "plant", "plants"), f.Infested, report.Share(f.Confidence))
	f.rhoLines(w, c)
	if f.Leaves > 0 {
		f.countLines(w, c)
		if c.Taylor != nil || c.K != nil {
			f.countRhoLines(w, c)
		}
	}
	for _, note := range f.warnings {
		if note.About != "tally" && note.About != "binary" {
			w.comment("Note: %s.", note.Text)
		}
	}
	w.line("source = %s", strconv.Quote(shell.Printable(c.Source)))
	return w.String(), nil
}

func (f *fitting) rhoLines(w *sectionWriter, c plans.Clumping) {
	e, p := f.Rho.Estimate, f.Rho.Pooled
	switch {
	case !e.Known():
		w.comment("rho: the data carry none, %s.", e.Missing)
		return
	case c.Rho == nil:
		w.comment("rho: %s has no upper limit below 1, which no plan can be made for.", rhoNumber(e.Value))
		return
	}
	others := ""
	if f.Rho.Method == fit.AdjustedProfile {
		others = "maximum likelihood " + rhoNumber(p.ML.Value)
	}
	if p.ANOVA.Known() {
		others = strings.TrimPrefix(others+", analysis of variance "+rhoNumber(p.ANOVA.Value), ", ")
	}
	w.comment("rho: %s %s, interval %s; beside it %s. The range is the interval, rounded outwards: the risks are kept over all of it, and the plan is built for its upper, clumped end.",
		f.Rho.Method, rhoNumber(e.Value), interval(e, rhoNumber), others)
	if f.Tally > 0 {
		w.comment("It holds for the tally number %d: say tally = %d in [sample_unit].", f.Tally, f.Tally)
	}
	w.line("rho    = %q", c.Rho)
}

// countLines writes the law that is taken, and the others for those who prefer
// them.
func (f *fitting) countLines(w *sectionWriter, c plans.Clumping) {
	taken := "k"
	switch {
	case c.Taylor != nil:
		t := f.Taylor
		taken = "taylor"
		w.comment("taylor: variance = a mean^b of the counts per leaf, from %s with means from %s to %s; a has the interval %s, b %s.",
			fieldsText(t.Line.Fields), number3(t.MinMean), number3(t.MaxMean), interval(t.A, number3), interval(t.B, number3))
		w.line("taylor = [%s, %s]", report.Plain(c.Taylor.A), report.Plain(c.Taylor.B))
		if k := f.kRange(); k != nil {
			w.line("# k    = %s    # in place of taylor: one k for all means", rangeValue(*k))
		}
	case c.K != nil:
		if e, joint := f.takenK(); joint {
			w.comment("k: %s, interval %s, fitted along with count_rho, from %s.%s As if leaves were independent: %s.", number3(e.Value), interval(e, number3), fieldsText(f.CountRho.Fields), unlimited(e), f.kText())
		} else {
			w.comment("k: %s, from %s.%s", f.kText(), fieldsText(f.K.Common.Fields), unlimited(e))
		}
		w.line("k      = %s", rangeValue(*c.K))
	default:
		w.comment("k: the data carry none, %s.", f.kText())
		return
	}
	if i := f.Iwao; i.A.Known() && i.B.Known() && i.Line.Fields >= fit.FewFields && i.A.Value > -1 && i.B.Value > 0 {
		w.line("# iwao = [%s, %s]    # in place of %s: mean crowding = A + B mean", report.Plain(report.Significant(i.A.Value, 4)), report.Plain(report.Significant(i.B.Value, 4)), taken)
	}
}

func unlimited(e fit.Estimate) string {
	if math.IsInf(e.Upper, 1) {
		return " It has no upper limit; the value is its lower, clumped end."
	}
	return ""
}

func rangeValue(r plans.Range) string {
	if r.Single() {
		return report.Plain(r.Low)
	}
	return strconv.Quote(report.Plain(r.Low) + ".." + report.Plain(r.High))
}

func (f *fitting) noConstants() error {
	text := "the data carry no constant: rho: " + f.Rho.Estimate.Missing
	if f.Rho.Estimate.Known() {
		text = "the data carry no constant: rho has no upper limit below 1"
	}
	if f.Leaves > 0 {
		text += "; k: " + f.kText()
	}
	return errors.New(text)
}

// A sectionWriter writes lines and wrapped comments of a protocol.
type sectionWriter struct{ strings.Builder }

func (w *sectionWriter) line(format string, args ...any) {
	fmt.Fprintf(w, format+"\n", args...)
}

func (w *sectionWriter) comment(format string, args ...any) {
	text := shell.Printable(fmt.Sprintf(format, args...))
	w.line("%s", report.Wrap("# "+text, report.TextWidth, "# "))
}
