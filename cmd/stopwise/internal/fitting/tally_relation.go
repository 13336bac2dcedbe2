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
	k, countRho *shell.Option[plans.Range]
	taylor      *shell.Option[plans.Taylor]
	model       *shell.Option[modelText]
	leaves      *shell.Option[int]
}

func newRelationFlags() *relationFlags {
	return &relationFlags{
		k: shell.KFlag(), countRho: shell.CountRhoFlag().WithoutValue("leaves are independent, and that is said"),
		taylor: shell.TaylorFlag(), model: modelFlag(), leaves: shell.LeavesFlag(),
	}
}

func (f *relationFlags) flags() []cli.Flag {
	return []cli.Flag{f.k, f.taylor, f.countRho, f.model, f.leaves}
}

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
		c.CountRho = &f.countRho.Value
		out = theories(t, f.leaves.Value, c)
	}
	if f.model.Set {
		if len(out) == 0 {
			if err := modelOf(f.leaves, f.countRho); err != nil {
				return nil, err
			}
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

// modelOf returns an error where a flag was given of which a fitted line already
// speaks.
func modelOf(flags ...shell.AnOption) error {
	return shell.NoneOf("does not go with --model, which already speaks of plants", flags...)
}

// theories returns the relation under the law of counts: both ends of a range of
// k, and of one of the correlation of counts.
func theories(t, leaves int, c plans.Clumping) []relation {
	law, _ := c.Counts()
	var out []relation
	for _, rho := range law.CountRho.Grid(2) {
		for _, r := range theoriesAt(t, leaves, law) {
			x := r.Relation.(tally.Theory)
			if x.CountRho = rho; rho > 0 || !law.CountRho.Single() {
				r.name += ", count rho " + report.Constant(rho)
			}
			out = append(out, relation{r.name, x})
		}
	}
	return out
}

func theoriesAt(t, leaves int, law plans.Law) []relation {
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
			d.Para("Fields are taken to lie around the line as Student's t on N - 2 degrees of freedom says, N pilot fields, with the mean square around the line taken whole: what Schaalje et al. (1991) take off it for the counting of the pilot fields stays in.")
			return
		}
	}
}

// relationNotes says what to be careful with; the terms name what is examined.
func relationNotes(d *report.Document, terms plans.Stage, rs []relation, means []float64) {
	var independent, alike, lowered, poisson, outside bool
	var at, share float64
	for _, r := range rs {
		switch x := r.Relation.(type) {
		case tally.Theory:
			independent = independent || x.Leaves > 1 && x.CountRho == 0
			alike = alike || x.Leaves > 1 && x.CountRho > 0
			for _, mean := range means {
				lowered = lowered || mean > 0 && x.CountRho > sampling.MaxCountRho(mean, x.K(mean))
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
	if independent {
		d.Note("The leaves of %s are taken as independent. They are not: fewer %s are infested than this says. --count-rho, which fit gives, says how alike they are; a line fitted to pilot fields (--model) needs no such assumption.", report.OneUnit(terms), report.UnitsName(terms))
	}
	if alike {
		d.Note("With a count rho the leaves of %s are taken to be as alike as those of one stop. Where they are more alike than those of other %s there, fewer %s are infested than this says; a line fitted to pilot fields (--model) needs no such assumption.", report.OneUnit(terms), report.UnitsName(terms), report.UnitsName(terms))
	}
	if lowered {
		d.Note("At some mean so few insects cannot be as alike as the count rho says: the largest that there can be is taken there.")
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
		return shell.ParseEach(s, shell.Positive)
	})
}

// tallySharesFlag takes shares above 0% and below 100% with commas between them.
func tallySharesFlag(name, usage string) *shell.Option[[]float64] {
	return shell.NewOption(name, usage, func(s string) ([]float64, error) {
		return shell.ParseEach(s, func(s string) (float64, error) {
			x, err := plans.ParseShare(s)
			if err == nil && !(x > 0 && x < 1) {
				err = fmt.Errorf("%q is out of range; it must be above 0%% and below 100%%", s)
			}
			return x, err
		})
	})
}

func talliesFlag(name, usage string) *shell.Option[[]int] {
	return shell.NewOption(name, usage, func(s string) ([]int, error) { return shell.ParseEach(s, shell.Whole(1, protocol.MaxTally)) })
}
