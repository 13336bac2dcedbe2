package fitting

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/fit"
)

// brief is the short form of [fitting.document]: the constants that a protocol takes,
// what speaks against them, and what to do with them.
func (f *fitting) brief() *report.Document {
	d := &report.Document{}
	d.Heading("Constants from " + f.file)
	f.answer(d)
	for _, note := range f.data.Notes {
		d.Note("%s.", say.Capital(shell.Printable(note)))
	}
	f.notes(d, "data", "rho", "k")
	var kept []string
	if f.Shape.SpeaksFor == fit.ShapePatches {
		kept = append(kept, f.shapeSentence())
	}
	if t := f.Rho.Pooled.Same; t.Known() && t.P < clearly {
		kept = append(kept, testSentence("Do the fields share one rho? Likelihood ratio %s", t, "no", ""))
	}
	if b := f.Binary.B; b.Known() && (b.Lower > 1 || b.Upper < 1) {
		kept = append(kept, "Clumping changes with the share infested (binary power law): compare the rho of the bounds that you plan for, in --detail, with the interval above.")
	}
	if len(kept) > 0 {
		d.Para("Speaking against one rho for all: %s", strings.Join(kept, " "))
	}
	d.Para("%s", f.dataSentence())
	f.ignoredNote(d)
	d.Para("--detail shows the fields one by one, other methods, the tests and where the variance lies.")
	return d
}

// answer says what was found, and what to do with it.
func (f *fitting) answer(d *report.Document) {
	text := f.alikeSentence()
	if f.Rho.Estimate.Known() {
		text += " " + f.worthSentence()
	}
	d.Para("%s", text)
	if f.Leaves > 0 {
		var found []string
		if f.K.Estimate.Known() {
			found = append(found, fmt.Sprintf("Counts per leaf: %s; the smaller k, the more clumped.", f.kText()))
		} else {
			found = append(found, fmt.Sprintf("The counts carry no k: %s.", f.kText()))
		}
		found = append(found, alike("counts", f.CountRho.Estimate, f.countRhoText()))
		if w := f.Taylor; w.B.Known() {
			found = append(found, fmt.Sprintf("Taylor's law: variance = %s mean^%s, for means from %s to %s.", number3(w.A.Value), number3(w.B.Value), number3(w.MinMean), number3(w.MaxMean)))
		}
		d.Para("%s", strings.Join(found, " "))
	}
	if c := f.Clumping(); f.path != "-" && (c.Rho != nil || c.K != nil || c.Taylor != nil) {
		d.Para("To plan with these constants, paste into the protocol what this prints: `%s`", f.call())
	}
}
