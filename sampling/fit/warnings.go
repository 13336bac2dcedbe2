package fit

import (
	"fmt"
	"math"
	"strings"
)

// FewFields is the number of fields from which a fit over fields is taken
// without a warning. It is a rule of thumb, no source.
const FewFields = 5

// FewUnits is the number of units a field below which a common k is visibly too
// large: by about 1/units of its size, as each field's mean is fitted too. In
// simulations with 16 units in each of 14 fields its 95% interval held the truth
// in 91 of 100 repeats, with 40 in 94.
const FewUnits = 40

// significance is the level at which a test leads to a warning.
const significance = 0.05

func (r *Result) add(about, format string, args ...any) {
	r.Warnings = append(r.Warnings, Warning{about, fmt.Sprintf(format, args...)})
}

func (r *Result) warn() {
	r.warnFields()
	r.warnRho()
	if r.Leaves > 0 {
		r.warnK()
		r.warnLines()
		r.warnTallies()
	}
}

func (r *Result) warnFields() {
	var oneStop []string
	none, all := 0, 0
	for _, f := range r.PerField {
		switch {
		case f.Stops == 1:
			oneStop = append(oneStop, f.Label)
		case f.Infested == 0:
			none++
		case f.Infested == f.Plants:
			all++
		}
	}
	if n := len(oneStop); n > 0 {
		r.add("data", "%s %s one stop and %s nothing of rho: %s; look at several stops in each field", count(n, "field"), verb(n, "has", "have"), verb(n, "says", "say"), list(oneStop))
	}
	switch {
	case r.Infested == 0:
		r.add("data", "no plant was infested in any field: the data cannot show how the pest is spread; take counts where it is present")
	case none > 0:
		r.add("data", "%s %s no infested plant and %s nothing of rho", count(none, "field"), verb(none, "has", "have"), verb(none, "says", "say"))
	}
	if all > 0 {
		r.add("data", "in %s every plant is infested, which says nothing of rho", count(all, "field"))
	}
}

func (r *Result) warnRho() {
	p := r.Rho.Pooled
	e := r.Rho.Estimate
	if !e.Known() {
		return
	}
	if p.Sparse.Known() {
		r.add("rho", "the fields are sparse (fewer than %d infested plant a stop): rho is by the likelihood over fields, as the adjusted profile likelihood would be too large (%.2g); from so few finds it errs to the low side, by 4 to 7%% in trials of twenty fields, of whose intervals for 95%% some 93%% held: plan with the upper end of the interval, %.2g", SparseBelow, p.Adjusted.Value, e.Upper)
	} else if r.Fields > 1 && r.Stops > 0 && r.Infested < SparseBelow*r.Stops {
		r.add("rho", "the fields are sparse (fewer than %d infested plant a stop) and too few for the likelihood over fields: rho may come out up to twice too large; the analysis of variance gives %.2g", SparseBelow, p.ANOVA.Value)
	}
	if p.Fields < FewFields {
		r.add("rho", "rho is fitted to %s; fewer than %d show little of how fields differ", count(p.Fields, "field"), FewFields)
	}
	switch {
	case e.Value == 0:
		r.add("rho", NoClumping+": stops differ no more than independent plants would make them; plan with the upper end of the interval, %.2g", e.Upper)
	case e.Value == 1:
		r.add("rho", "at each stop all plants or none were infested, so that rho has no upper limit below 1")
	}
	if p.Same.Known() && p.Same.P < significance {
		r.add("rho", "rho differs from field to field (likelihood ratio %.1f on %d degrees of freedom, P = %.2g): one value for all is a compromise, and its interval is too narrow", p.Same.Statistic, p.Same.DF, p.Same.P)
	}
	if f := r.Binary.Line.Fields; r.Binary.B.Known() && f < FewFields {
		r.add("binary", "the binary power law is fitted to %s; %d or more are needed for a slope worth having", count(f, "field"), FewFields)
	}
}

func (r *Result) warnK() {
	k := r.K
	if strings.HasPrefix(k.Estimate.Missing, NoClumping) {
		r.add("k", "%s, so that k has no value; the Poisson distribution fits as well", k.Estimate.Missing)
	}
	if !k.Estimate.Known() {
		return
	}
	if n := k.Common.Fields; n < FewFields {
		r.add("k", "k is fitted to %s; fewer than %d show little of how fields differ", count(n, "field"), FewFields)
	}
	if units := r.Leaves / k.Common.Fields; k.Common.Fields > 1 && units < FewUnits {
		r.add("k", "with about %d leaves a field k comes out too large by some %d%%, and its interval is too narrow; count %d or more leaves in each field", units, 100/max(units, 1), FewUnits)
	}
	if t := k.Common.Same; t.Known() && t.P < significance {
		r.add("k", "k differs from field to field (likelihood ratio %.1f on %d degrees of freedom, P = %.2g): one value for all is a compromise; Taylor's law lets it change with the mean", t.Statistic, t.DF, t.P)
	}
	if t := k.Fit; t.Known() && t.P < significance {
		r.add("k", "the counts are not quite negative binomial (chi-square %.1f on %d degrees of freedom, P = %.2g)", t.Statistic, t.DF, t.P)
	}
	if c := r.CountRho; c.Estimate.Known() && c.Estimate.Lower > 0 {
		r.add("k", "the counts of one stop are alike (count rho %.3f): k and its interval as if leaves were independent do not hold; fitted along with it k is %.3g", c.Estimate.Value, c.K)
	}
}

func (r *Result) warnLines() {
	if n := r.Taylor.Line.Fields; r.Taylor.B.Known() && n < FewFields {
		r.add("taylor", "Taylor's law is fitted to %s; %d or more are needed for a slope worth having", count(n, "field"), FewFields)
	}
	if n := r.Iwao.Line.Fields; r.Iwao.B.Known() && n < FewFields {
		r.add("iwao", "Iwao's line is fitted to %s; %d or more are needed for a slope worth having", count(n, "field"), FewFields)
	}
	t := r.Taylor
	if t.B.Known() && t.Variance(t.MinMean) <= t.MinMean {
		r.add("taylor", "at a mean of %.2g Taylor's law has a variance below the mean, which leaves no k there", t.MinMean)
	}
	if w := r.Iwao; w.B.Known() && math.Min(w.Variance(w.MinMean), w.Variance(w.MaxMean)) <= 0 {
		r.add("iwao", "Iwao's line gives a variance of 0 or less within the range of means: it does not hold for these fields")
	}
}

func (r *Result) warnTallies() {
	for _, m := range r.Tallies {
		if m.Left > 0 {
			r.add("tally", "at tally number %d, %s %s left out: no plant infested there, or every plant", m.T, count(m.Left, "field"), verb(m.Left, "is", "are"))
		}
		if m.D.Known() && m.Fields < FewFields {
			r.add("tally", "the tally model for %d is fitted to %s; %d or more are needed for a slope worth having", m.T, count(m.Fields, "field"), FewFields)
		}
	}
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// list names the first few.
func list(names []string) string {
	const shown = 3
	if len(names) <= shown {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:shown], ", "), len(names)-shown)
}
