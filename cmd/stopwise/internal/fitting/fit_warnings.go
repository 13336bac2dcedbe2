package fitting

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/sampling/fit"
)

// A warning says what to be careful with. It does not prevent the analysis.
type warning struct {
	About string `json:"about"` // "data", "k", "rho", "taylor", "iwao", "binary" or "tally"
	Text  string `json:"text"`
}

// warnings are what to be careful with in a fit.
type warnings struct {
	*fit.Result
	all []warning
}

func (r *warnings) add(about, format string, args ...any) {
	r.all = append(r.all, warning{about, fmt.Sprintf(format, args...)})
}

func warningsOf(of *fit.Result) []warning {
	r := &warnings{of, []warning{}}
	r.warnFields()
	r.warnRho()
	if r.Leaves > 0 {
		r.warnK()
		r.warnLines()
		r.warnTallies()
	}
	return r.all
}

func (r *warnings) warnFields() {
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
		r.add("data", "%s %s one stop and %s nothing of rho: %s; look at several stops in each field", fieldsText(n), verb(n, "has", "have"), verb(n, "says", "say"), firstOf(oneStop))
	}
	switch {
	case r.Infested == 0:
		r.add("data", "no plant was infested in any field: the data cannot show how the pest is spread; take counts where it is present")
	case none > 0:
		r.add("data", "%s %s no infested plant and %s nothing of rho", fieldsText(none), verb(none, "has", "have"), verb(none, "says", "say"))
	}
	if all > 0 {
		r.add("data", "in %s every plant is infested, which says nothing of rho", fieldsText(all))
	}
}

func (r *warnings) warnRho() {
	p := r.Rho.Pooled
	e := r.Rho.Estimate
	if !e.Known() {
		return
	}
	if p.Sparse.Known() {
		r.add("rho", "the fields are sparse (fewer than %d infested plant a stop): rho is by the likelihood over fields, as the adjusted profile likelihood would be too large (%s); from so few finds it errs to the low side, by 4 to 7%% in trials of twenty fields, of whose intervals for 95%% some 93%% held: plan with the upper end of the interval, %s", fit.SparseBelow, number2(p.Adjusted.Value), number2(e.Upper))
	} else if r.Fields > 1 && r.Stops > 0 && r.Infested < fit.SparseBelow*r.Stops {
		r.add("rho", "the fields are sparse (fewer than %d infested plant a stop) and too few for the likelihood over fields: rho may come out up to twice too large; the analysis of variance gives %s", fit.SparseBelow, number2(p.ANOVA.Value))
	}
	if p.Fields < fit.FewFields {
		r.add("rho", "rho is fitted to %s; fewer than %d show little of how fields differ", fieldsText(p.Fields), fit.FewFields)
	}
	switch {
	case e.Value == 0:
		r.add("rho", fit.NoClumping+": stops differ no more than independent plants would make them; plan with the upper end of the interval, %s", number2(e.Upper))
	case e.Value == 1:
		r.add("rho", "at each stop all plants or none were infested, so that rho has no upper limit below 1")
	}
	if p.Same.Known() && p.Same.P < clearly {
		r.add("rho", "rho differs from field to field (likelihood ratio %s): one value for all is a compromise, and its interval is too narrow", tested(p.Same))
	}
	if f := r.Binary.Line.Fields; r.Binary.B.Known() && f < fit.FewFields {
		r.add("binary", "the binary power law is fitted to %s; %d or more are needed for a slope worth having", fieldsText(f), fit.FewFields)
	}
}

func (r *warnings) warnK() {
	k := r.K
	if strings.HasPrefix(k.Estimate.Missing, fit.NoClumping) {
		r.add("k", "%s, so that k has no value; the Poisson distribution fits as well", k.Estimate.Missing)
	}
	if !k.Estimate.Known() {
		return
	}
	if n := k.Common.Fields; n < fit.FewFields {
		r.add("k", "k is fitted to %s; fewer than %d show little of how fields differ", fieldsText(n), fit.FewFields)
	}
	if units := r.Leaves / k.Common.Fields; k.Common.Fields > 1 && units < fit.FewUnits {
		r.add("k", "with about %d leaves a field k comes out too large by some %d%%, and its interval is too narrow; count %d or more leaves in each field", units, 100/max(units, 1), fit.FewUnits)
	}
	if t := k.Common.Same; t.Known() && t.P < clearly {
		r.add("k", "k differs from field to field (likelihood ratio %s): one value for all is a compromise; Taylor's law lets it change with the mean", tested(t))
	}
	if t := k.Fit; t.Known() && t.P < clearly {
		r.add("k", "the counts are not quite negative binomial (chi-square %s)", tested(t))
	}
	if c := r.CountRho; c.Estimate.Known() && c.Estimate.Lower > 0 {
		r.add("k", "the counts of one stop are alike (count rho %s): k and its interval as if leaves were independent do not hold; fitted along with it k is %s", rhoNumber(c.Estimate.Value), number3(c.K))
	}
}

func (r *warnings) warnLines() {
	if n := r.Taylor.Line.Fields; r.Taylor.B.Known() && n < fit.FewFields {
		r.add("taylor", "Taylor's law is fitted to %s; %d or more are needed for a slope worth having", fieldsText(n), fit.FewFields)
	}
	if n := r.Iwao.Line.Fields; r.Iwao.B.Known() && n < fit.FewFields {
		r.add("iwao", "Iwao's line is fitted to %s; %d or more are needed for a slope worth having", fieldsText(n), fit.FewFields)
	}
	t := r.Taylor
	if t.B.Known() && t.Variance(t.MinMean) <= t.MinMean {
		r.add("taylor", "at a mean of %s Taylor's law has a variance below the mean, which leaves no k there", number2(t.MinMean))
	}
	if w := r.Iwao; w.B.Known() && math.Min(w.Variance(w.MinMean), w.Variance(w.MaxMean)) <= 0 {
		r.add("iwao", "Iwao's line gives a variance of 0 or less within the range of means: it does not hold for these fields")
	}
}

func (r *warnings) warnTallies() {
	for _, m := range r.Tallies {
		if m.Left > 0 {
			r.add("tally", "at tally number %d, %s %s left out: no plant infested there, or every plant", m.T, fieldsText(m.Left), verb(m.Left, "is", "are"))
		}
		if m.D.Known() && m.Fields < fit.FewFields {
			r.add("tally", "the tally model for %d is fitted to %s; %d or more are needed for a slope worth having", m.T, fieldsText(m.Fields), fit.FewFields)
		}
	}
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// tested is a test's result behind its name.
func tested(t fit.Test) string {
	return fmt.Sprintf("%s on %s of freedom, P %s", report.Decimals(t.Statistic, 1), report.Count(t.DF, "degree", "degrees"), chance(t))
}

func number2(x float64) string { return report.Number(x, 2) }

// firstOf names the first few.
func firstOf(names []string) string {
	const shown = 3
	if len(names) <= shown {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:shown], ", "), len(names)-shown)
}
