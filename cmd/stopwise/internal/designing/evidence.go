package designing

import (
	"context"
	"crypto/sha256"
	"fmt"
	"time"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/cmd/stopwise/internal/textsafe"
	"stopwise/plans"
)

// Evidence holds the parts of an evidence file that other commands make: what stands
// behind a plan, for a committee.
type Evidence struct {
	// Fit tells what pilot counts say of the clumping.
	Fit func(e shell.Env, pilot string, d *report.Document) error
	// Recorded tells what a season file says, against the plan.
	Recorded func(ctx context.Context, e shell.Env, season string, plan *plans.Plan, d *report.Document) error
	// Validated tells where the promise of every stage holds; data is a file of counts
	// and pilot that of the fields to be left out of them, both may be empty.
	Validated func(ctx context.Context, e shell.Env, plan *plans.Plan, data, pilot string, d *report.Document) error
	// OverSeason tells what the plan does over a season of visits.
	OverSeason func(plan *plans.Plan, d *report.Document) error
}

// clock tells the time of making; tests set it.
var clock = time.Now

// evidenceFlags make the page of a plan a file of evidence.
type evidenceFlags struct {
	parts                         Evidence
	madeBy, pilot, data, recorded *shell.Option[string]
}

func newEvidenceFlags(parts Evidence) *evidenceFlags {
	return &evidenceFlags{parts,
		shell.NewOption("made-by", "`NAME` with --page: add what stands behind the plan (validation, season, protocol text, checksums), and who made it and when", textsafe.Name),
		shell.NewOption("pilot", "`PILOT.csv` with --made-by: what the pilot counts say of the clumping", shell.NotEmpty),
		shell.NewOption("data", "`FIELDS.csv` with --made-by: validation on these fields, without those of --pilot", shell.NotEmpty),
		shell.NewOption("season", "`FILE` with --made-by: what a season file says of the plan", shell.NotEmpty),
	}
}

func (f *evidenceFlags) flags() []cli.Flag { return []cli.Flag{f.madeBy, f.pilot, f.data, f.recorded} }

// check refuses flags that have nothing to be added to.
func (f *evidenceFlags) check(page *shell.Option[string], noPlan bool) error {
	switch {
	case !f.madeBy.Set:
		return shell.NoneOf("goes with --made-by", f.pilot, f.data, f.recorded)
	case noPlan:
		return shell.UsageError("--made-by is for the page of a plan; leave --compare and --precision away")
	case !page.Set:
		return shell.UsageError("--made-by goes with --page")
	case f.data.Set && !f.pilot.Set:
		return shell.UsageError("--data goes with --pilot: fields that the clumping was fitted to cannot validate it")
	}
	return nil
}

// add adds the evidence to a page, where it was asked for.
func (f *evidenceFlags) add(ctx context.Context, e shell.Env, d *report.Document, plan *plans.Plan, protocol string) error {
	if !f.madeBy.Set {
		return nil
	}
	if f.pilot.Set {
		if err := f.parts.Fit(e, f.pilot.Value, d); err != nil {
			return err
		}
	}
	if err := f.parts.Validated(ctx, e, plan, f.data.Value, f.pilot.Value, d); err != nil {
		return err
	}
	if err := f.parts.OverSeason(plan, d); err != nil {
		return err
	}
	if f.recorded.Set {
		if err := f.parts.Recorded(ctx, e, f.recorded.Value, plan, d); err != nil {
			return err
		}
	}
	return f.origin(e, d, plan, protocol)
}

// origin tells who made the plan, when, and of what.
func (f *evidenceFlags) origin(e shell.Env, d *report.Document, plan *plans.Plan, protocol string) error {
	sum, err := plan.Checksum()
	if err != nil {
		return err
	}
	d.Heading("Made by whom, when, and of what")
	d.Para("Made by %s on %s with stopwise %s.", shell.Printable(f.madeBy.Value), clock().UTC().Format("2006-01-02 15:04 UTC"), shell.Version)
	t := report.NewTable("Checksums (SHA-256): what is printed here follows from these files. sha256sum FILE prints that of a file; that of the plan stands in the plan file.",
		"what", "file", "checksum")
	t.Add("plan", "", sum)
	var text []byte
	for _, file := range []struct{ what, name string }{{"protocol", protocol}, {"pilot counts", f.pilot.Value}, {"fields for validation", f.data.Value}, {"season file", f.recorded.Value}} {
		if file.name == "" || file.name == "-" {
			continue // standard input cannot be read again
		}
		b, err := shell.ReadInput(e, file.name)
		if err != nil {
			return err
		}
		if file.what == "protocol" {
			text = b
		}
		t.Add(file.what, shell.Printable(file.name), fmt.Sprintf("sha256:%x", sha256.Sum256(b)))
	}
	d.Table(t)
	if text != nil {
		d.Heading("The protocol as it was given")
		d.Picture(string(text))
	}
	return nil
}
