package fitting

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// relationFlags say how the share infested follows from the mean per leaf.
type relationFlags struct {
	k      *shell.Option[plans.Range]
	taylor *shell.Option[plans.Taylor]
	model  *shell.Option[modelText]
	leaves *shell.Option[int]
}

func newRelationFlags() *relationFlags {
	return &relationFlags{k: shell.KFlag(), taylor: shell.TaylorFlag(), model: modelFlag(), leaves: shell.LeavesFlag()}
}

func (f *relationFlags) flags() []cli.Flag { return []cli.Flag{f.k, f.taylor, f.model, f.leaves} }

func (f *relationFlags) Given() bool { return f.k.Set || f.taylor.Set || f.model.Set }

// A relation is one that was asked for, with its name.
type relation struct {
	name string
	tally.Relation
}

// relations returns what was asked for at the tally number t; with t = 0, all
// lines of a file.
func (f *relationFlags) relations(e shell.Env, t int) ([]relation, error) {
	if err := shell.Exclusive(f.k, f.taylor); err != nil {
		return nil, err
	}
	if !f.Given() {
		return nil, shell.UsageHint("give one, such as --k 0.8", "--k, --taylor and --model are missing")
	}
	var out []relation
	if f.k.Set || f.taylor.Set {
		if t == 0 {
			return nil, shell.UsageError("--tally is missing")
		}
		var c plans.Clumping
		if f.k.Set {
			c.K = &f.k.Value
		} else {
			c.Taylor = &f.taylor.Value
		}
		out = theories(t, f.leaves.Value, c)
	}
	if f.model.Set {
		if f.leaves.Set && len(out) == 0 {
			return nil, shell.UsageError("--leaves does not go with --model, which already speaks of plants")
		}
		models, err := f.model.Value.Read(e, t)
		if err != nil {
			return nil, err
		}
		for _, m := range models {
			out = append(out, relation{"fitted line", m})
		}
	}
	return out, nil
}

// theories returns the relation under the law of counts: both ends of a range of
// k.
func theories(t, leaves int, c plans.Clumping) []relation {
	law, _ := c.Counts()
	var out []relation
	for _, l := range law.VarianceLaws(2) {
		name := ""
		switch v := l.(type) {
		case sampling.CommonK:
			name = "k " + report.Constant(v.K)
			if math.IsInf(v.K, 1) {
				name = "Poisson"
			}
		case sampling.Taylor:
			name = fmt.Sprintf("Taylor %s, %s", report.Constant(v.A), report.Constant(v.B))
		case sampling.Iwao:
			name = fmt.Sprintf("Iwao %s, %s", report.Constant(v.A), report.Constant(v.B))
		}
		out = append(out, relation{name, tally.Theory{T: t, Leaves: leaves, Law: l}})
	}
	return out
}

// lineInterval says by which convention the interval of a fitted line is made.
func lineInterval(d *report.Document, rs []relation) {
	for _, r := range rs {
		if m, ok := r.Relation.(tally.Model); ok && m.Uncertain() {
			d.Para("The interval of the line is that of Student's t on N - 2 degrees of freedom, N pilot fields, with the mean square around the line taken whole: what Schaalje et al. (1991) take off it for the counting of the pilot fields stays in.")
			return
		}
	}
}

// relationNotes says what to be careful with; the terms name what is examined.
func relationNotes(d *report.Document, terms plans.Stage, rs []relation, means []float64) {
	var leaves, poisson, outside bool
	var at, share float64
	for _, r := range rs {
		switch x := r.Relation.(type) {
		case tally.Theory:
			leaves = leaves || x.Leaves > 1
			for _, mean := range means {
				if _, taylor := x.Law.(sampling.Taylor); taylor && mean > 0 && math.IsInf(x.K(mean), 1) {
					poisson, at = true, math.Max(at, mean)
				}
			}
		case tally.Model:
			for _, mean := range means {
				if p := x.Share(mean); mean > 0 && !x.Covers(p) {
					outside, share = true, p
				}
			}
		}
	}
	if leaves {
		d.Note("The leaves of %s are taken as independent. They are not: fewer %s are infested than this says. A line fitted to pilot fields (--model) needs no such assumption.", report.OneUnit(terms), report.UnitsName(terms))
	}
	if poisson {
		d.Note("Taylor's law gives a variance that is not above the mean at %s per leaf (and where said below), which no negative binomial has: a Poisson is taken there.", report.Number(at, 3))
	}
	if outside {
		d.Note("The line was fitted to other shares than, for one, %s: beyond them it is a guess.", report.Percent(share))
	}
}

// tallySentence says what is related to what.
func tallySentence(terms plans.Stage, t, leaves int) string {
	on := "a leaf"
	if leaves > 1 {
		on = fmt.Sprintf("at least one of its %d leaves", leaves)
	}
	return fmt.Sprintf("%s is infested when %s carries at least %s.", say.Capital(report.OneUnit(terms)), on, report.Count(t, "insect", "insects"))
}

// numbersFlag takes numbers above 0 with commas between them.
func numbersFlag(name, usage string) *shell.Option[[]float64] {
	return shell.NewOption(name, usage, func(s string) ([]float64, error) {
		return parseEach(s, shell.Positive)
	})
}

// tallySharesFlag takes shares above 0% and below 100% with commas between them.
func tallySharesFlag(name, usage string) *shell.Option[[]float64] {
	return shell.NewOption(name, usage, func(s string) ([]float64, error) {
		return parseEach(s, func(s string) (float64, error) {
			x, err := plans.ParseShare(s)
			if err == nil && !(x > 0 && x < 1) {
				err = fmt.Errorf("%q is out of range; it must be above 0%% and below 100%%", s)
			}
			return x, err
		})
	})
}

func talliesFlag(name, usage string) *shell.Option[[]int] {
	return shell.NewOption(name, usage, func(s string) ([]int, error) { return parseEach(s, shell.Whole(1, protocol.MaxTally)) })
}

func parseEach[T any](s string, parse func(string) (T, error)) ([]T, error) {
	parts, err := shell.ParseList(s)
	if err != nil {
		return nil, err
	}
	var out []T
	for _, part := range parts {
		x, err := parse(part)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}
