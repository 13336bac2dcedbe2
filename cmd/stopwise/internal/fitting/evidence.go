package fitting

import (
	"context"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/fit"
)

// Evidence tells a committee what pilot counts say of the clumping.
func Evidence(e shell.Env, file string, d *report.Document) error {
	f := &fitting{path: file, file: fileTitle(file)}
	var err error
	if f.data, err = shell.ReadPilot(e, file); err != nil {
		return err
	}
	if err := f.fit(fit.Options{}); err != nil {
		return err
	}
	d.Heading("Where the clumping comes from: " + f.file)
	d.Para("%s %s", f.alikeSentence(), f.dataSentence())
	if !f.Rho.Estimate.Known() {
		return nil
	}
	d.Para("%s %s", f.worthSentence(), f.shapeSentence())
	if f.Leaves > 0 {
		d.Para("Counts per leaf: %s. %s", f.kText(), alike("counts", f.CountRho.Estimate, f.countRhoText()))
	}
	f.notes(d, "data", "rho", "k")
	return nil
}

// SeasonEvidence tells a committee what a season file says of a plan.
func SeasonEvidence(_ context.Context, e shell.Env, file string, plan *plans.Plan, d *report.Document) error {
	l, err := learnFile(e, file, 0.95, func(*season.File) (*against, error) { return &against{file: "this plan", plan: plan}, nil })
	if err != nil {
		return err
	}
	d.Heading("What a season of visits said: " + l.file)
	d.Para("%s", l.answer())
	d.Table(l.constants())
	if t := l.promiseTable("this plan"); t != nil {
		d.Table(t)
	}
	return nil
}
