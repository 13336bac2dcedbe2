package main

import (
	"fmt"
	"math"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// relationFlags say how the share infested follows from the mean per leaf.
type relationFlags struct {
	k      *option[plans.Range]
	taylor *option[plans.Taylor]
	model  *option[modelText]
	leaves *option[int]
}

func newRelationFlags() *relationFlags {
	return &relationFlags{k: kFlag(), taylor: taylorFlag(), model: modelFlag(), leaves: leavesFlag()}
}

func leavesFlag() *option[int] {
	return newOption("leaves", "`COUNT` leaves examined on a plant", whole(1, 1000)).withDefault("1")
}

func (f *relationFlags) flags() []cli.Flag { return []cli.Flag{f.k, f.taylor, f.model, f.leaves} }

func (f *relationFlags) given() bool { return f.k.set || f.taylor.set || f.model.set }

// A relation is one that was asked for, with its name.
type relation struct {
	name string
	tally.Relation
}

// relations returns what was asked for at the tally number t; with t = 0, all
// lines of a file.
func (f *relationFlags) relations(e env, t int) ([]relation, error) {
	if err := exclusive(f.k, f.taylor); err != nil {
		return nil, err
	}
	if !f.given() {
		return nil, usageHint("give one, such as --k 0.8", "--k, --taylor and --model are missing")
	}
	var out []relation
	if f.k.set || f.taylor.set {
		if t == 0 {
			return nil, usageError("--tally is missing")
		}
		var c plans.Clumping
		if f.k.set {
			c.K = &f.k.value
		} else {
			c.Taylor = &f.taylor.value
		}
		out = theories(t, f.leaves.value, c)
	}
	if f.model.set {
		if f.leaves.set && len(out) == 0 {
			return nil, usageError("--leaves does not go with --model, which already speaks of plants")
		}
		models, err := f.model.value.read(e, t)
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
			name = fmt.Sprintf("k %.4g", v.K)
			if math.IsInf(v.K, 1) {
				name = "Poisson"
			}
		case sampling.Taylor:
			name = fmt.Sprintf("Taylor %.4g, %.4g", v.A, v.B)
		case sampling.Iwao:
			name = fmt.Sprintf("Iwao %.4g, %.4g", v.A, v.B)
		}
		out = append(out, relation{name, tally.Theory{T: t, Leaves: leaves, Law: l}})
	}
	return out
}

// relationNotes says what to be careful with.
func relationNotes(d *report.Document, rs []relation, means []float64) {
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
		d.Note("The leaves of a plant are taken as independent. They are not: fewer plants are infested than this says. A line fitted to pilot fields (--model) needs no such assumption.")
	}
	if poisson {
		d.Note("Taylor's law gives a variance that is not above the mean at %s per leaf (and where said below), which no negative binomial has: a Poisson is taken there.", report.Number(at, 3))
	}
	if outside {
		d.Note("The line was fitted to other shares than, for one, %s: beyond them it is a guess.", report.Percent(share))
	}
}

// tallySentence says what is related to what.
func tallySentence(t, leaves int) string {
	on := "a leaf"
	if leaves > 1 {
		on = fmt.Sprintf("at least one of its %d leaves", leaves)
	}
	return fmt.Sprintf("A plant is infested when %s carries at least %s.", on, report.Count(t, "insect", "insects"))
}

// numbersFlag takes numbers above 0 with commas between them.
func numbersFlag(name, usage string) *option[[]float64] {
	return newOption(name, usage, func(s string) ([]float64, error) {
		return parseEach(s, positive)
	})
}

// tallySharesFlag takes shares above 0% and below 100% with commas between them.
func tallySharesFlag(name, usage string) *option[[]float64] {
	return newOption(name, usage, func(s string) ([]float64, error) {
		return parseEach(s, func(s string) (float64, error) {
			x, err := plans.ParseShare(s)
			if err == nil && !(x > 0 && x < 1) {
				err = fmt.Errorf("%q is out of range; it must be above 0%% and below 100%%", s)
			}
			return x, err
		})
	})
}

func talliesFlag(name, usage string) *option[[]int] {
	return newOption(name, usage, func(s string) ([]int, error) { return parseEach(s, whole(1, 1000000)) })
}

func parseEach[T any](s string, parse func(string) (T, error)) ([]T, error) {
	parts, err := parseList(s)
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
