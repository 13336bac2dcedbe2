package fitting

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling"
	"stopwise/sampling/fit"
)

// document tells the specialist all that the counts say, the answer first.
func (f *fitting) document() *report.Document {
	d := &report.Document{}
	d.Heading("Constants from " + f.file)
	f.answer(d)
	d.Para("%s", f.dataSentence())
	f.ignoredNote(d)
	for _, note := range f.data.Notes {
		d.Note("%s.", say.Capital(shell.Printable(note)))
	}
	f.notes(d, "data")
	f.rhoPart(d)
	if f.Leaves > 0 {
		f.countPart(d)
		f.countRhoPart(d)
		f.lawPart(d)
	}
	f.variancePart(d)
	if f.Leaves > 0 {
		f.tallyPart(d)
	} else {
		d.Para("k, count rho, Taylor's and Iwao's constants and the tally model: counts are needed (one row a leaf), these data have %s.", f.Layout)
	}
	return d
}

func (f *fitting) ignoredNote(d *report.Document) {
	if n := len(f.data.Ignored); n > 0 {
		d.Note("%s not used: %s.", report.Count(n, "column was", "columns were"), shell.Printable(strings.Join(f.data.Ignored, ", ")))
	}
}

// call is what prints the section for a protocol.
func (f *fitting) call() string {
	s := "stopwise fit " + say.QuoteWords(shell.Printable(f.path)) + " --protocol"
	if f.Tally > 1 {
		s += fmt.Sprintf(" --tally %d", f.Tally)
	}
	if f.Confidence != 0.95 {
		s += " --confidence " + report.Share(f.Confidence)
	}
	return s
}

func (f *fitting) dataSentence() string {
	s := fmt.Sprintf("%s, %s, %s, %s: %d plants infested (%s).", fieldsText(f.Fields), report.Count(f.Stops, "stop", "stops"),
		report.Count(f.Plants, "plant", "plants"), f.Layout, f.Infested, report.Percent(float64(f.Infested)/float64(f.Plants)))
	if f.Leaves > 0 {
		s = fmt.Sprintf("%s, %s, %s, %s, %s. At the tally number %d, %d plants are infested (%s): a leaf of theirs carries at least as many insects.",
			fieldsText(f.Fields), report.Count(f.Stops, "stop", "stops"), report.Count(f.Plants, "plant", "plants"), report.Count(f.Leaves, "leaf", "leaves"),
			f.Layout, f.Tally, f.Infested, report.Percent(float64(f.Infested)/float64(f.Plants)))
	}
	return s
}

// notes adds the warnings about a part.
func (f *fitting) notes(d *report.Document, about ...string) {
	for _, a := range about {
		for _, w := range f.warnings {
			if w.About == a {
				d.Note("%s.", sentenceCase(w.Text))
			}
		}
	}
}

// sentenceCase leaves the names of constants alone: K is not k.
func sentenceCase(s string) string {
	if strings.HasPrefix(s, "k ") || strings.HasPrefix(s, "rho ") {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func (f *fitting) rhoPart(d *report.Document) {
	d.Heading("How alike the plants of one stop are (rho)")
	d.Para("%s", f.alikeSentence())
	e, p := f.Rho.Estimate, f.Rho.Pooled
	if !e.Known() {
		f.notes(d, "rho", "binary")
		f.fieldTable(d)
		return
	}
	d.Para("%s", f.worthSentence())
	t := estimateTable("rho", f.Confidence)
	t.Add(estimateRow(string(f.Rho.Method)+", taken", e, rhoNumber)...)
	if f.Rho.Method == fit.AdjustedProfile {
		t.Add(estimateRow("maximum likelihood, too low with few stops a field", p.ML, rhoNumber)...)
	}
	t.Add(estimateRow("analysis of variance", p.ANOVA, rhoNumber)...)
	d.Table(t)
	if p.ANOVA.Known() && p.ANOVA.Value < 0 {
		d.Para("The analysis of variance is below 0: the stops differ even less than independent plants would make them.")
	}
	d.Para("%s %s", testSentence("Are plants independent (rho = 0)? Tarone's test: Z %s", f.tarone(), "no", "nothing speaks against it"),
		testSentence("Do the fields share one rho? Likelihood ratio %s", p.Same, "no", "nothing speaks against it"))
	f.notes(d, "rho")
	f.fieldTable(d)
	d.Para("%s", f.shapeSentence())
	f.binaryPart(d)
}

// worthSentence says what rho means for a stop.
func (f *fitting) worthSentence() string {
	e, m := f.Rho.Estimate, f.plantsPerStop()
	worth := func(rho float64) string {
		return report.Number(float64(m)/sampling.DesignEffect(m, rho), 2)
	}
	return fmt.Sprintf("A stop of %d plants then tells as much as %s independent plants (%s to %s).", m, worth(e.Value), worth(e.Upper), worth(e.Lower))
}

func (f *fitting) plantsPerStop() int {
	return int(math.Round(float64(f.Plants) / float64(f.Stops)))
}

func (f *fitting) plantsPerField() int {
	return int(math.Round(float64(f.Plants) / float64(f.Fields)))
}

// designEffect is 1 where the data say nothing of rho.
func (f *fitting) designEffect(rho fit.Estimate) float64 {
	if !rho.Known() {
		return 1
	}
	return sampling.DesignEffect(f.plantsPerStop(), rho.Value)
}

// fieldTable shows rho field by field.
func (f *fitting) fieldTable(d *report.Document) {
	t := report.NewTable(fmt.Sprintf("Field by field: rho by maximum likelihood with its %s interval, and Tarone's test. rho 0: the stops vary no more than independent plants would make them.", report.Share(f.Confidence)),
		"field", ">stops", ">infested", ">share", ">rho", ">interval", ">Z", ">P")
	for _, one := range f.PerField {
		r := one.Rho
		t.Add(shell.Printable(one.Label), fmt.Sprint(one.Stops), fmt.Sprintf("%d/%d", one.Infested, one.Plants),
			report.Percent(float64(one.Infested)/float64(one.Plants)), rhoNumber(r.ML.Value), interval(r.ML, rhoNumber),
			report.Number(r.Tarone.Statistic, 2), chance(r.Tarone))
	}
	d.Table(t)
}

func (f *fitting) binaryPart(d *report.Document) {
	b := f.Binary
	if !b.B.Known() {
		d.Para("Does clumping change with the share infested? The binary power law is missing: %s.", b.B.Missing)
		return
	}
	d.Para("Does clumping change with the share infested? By the binary power law, with stops of %s plants, rho is %s at %s infested and %s at %s, the ends of what was seen.",
		report.Number(b.Plants, 2), rhoNumber(b.Rho(b.MinShare)), report.Percent(b.MinShare), rhoNumber(b.Rho(b.MaxShare)), report.Percent(b.MaxShare))
	t := lawTable("Binary power law: variance of a stop's share = a_p (p(1-p)/m)^b_p, m plants a stop, by least squares of the logarithms. a_p = b_p = 1 is no clumping; b_p above 1, clumping changes with p.", f.Confidence)
	addLaw(t, "binary power", "a_p", "b_p", b.A, b.B, b.Line, report.Percent(b.MinShare)+" to "+report.Percent(b.MaxShare))
	d.Table(t)
	if b.B.Lower <= 1 && b.B.Upper >= 1 {
		d.Para("The interval of b_p holds 1: that rho changes with the share infested is not shown.")
	} else {
		d.Para("The interval of b_p does not hold 1: rho changes with the share infested, so compare the rho of the bounds that you plan for with the interval above.")
	}
	f.notes(d, "binary")
}

// kText returns "k 0.84, 95% interval 0.777 to 0.908 (maximum likelihood)", or
// why there is no k.
func (f *fitting) kText() string {
	e := f.K.Estimate
	switch {
	case e.Known():
		return fmt.Sprintf("k %s, %s interval %s (%s)", number3(e.Value), report.Share(f.Confidence), interval(e, number3), f.K.Method)
	case e.HasInterval() && e.Lower > 0:
		return fmt.Sprintf("%s; k is not below %s (%s)", e.Missing, number3(e.Lower), report.Share(f.Confidence))
	}
	return e.Missing
}

func (f *fitting) countPart(d *report.Document) {
	d.Heading("How clumped the counts per leaf are (k)")
	k := f.K
	if !k.Estimate.Known() {
		d.Para("The counts carry no k: %s.", f.kText())
	} else {
		d.Para("Counts per leaf: %s, from %s. The smaller k, the more clumped.", f.kText(), fieldsText(k.Common.Fields))
		t := estimateTable("common k", f.Confidence)
		t.Add(estimateRow(string(k.Method)+", taken", k.Estimate, number3)...)
		t.Add(estimateRow("weighted regression (Bliss and Owen)", k.Common.BlissOwen, number3)...)
		d.Table(t)
		d.Para("%s %s", testSentence("Do the fields share one k? Likelihood ratio %s", k.Common.Same, "no", "nothing speaks against it"),
			testSentence("Is the negative binomial right, each field with its own k? Chi-square %s", k.Fit, "not quite", "nothing speaks against it"))
	}
	f.notes(d, "k")
	t := report.NewTable(`Field by field: k by moments, from the leaves without an insect, and by maximum likelihood, with the chi-square test of the fit. "none": no clumping found, the variance is not above the mean; n/a: the field's counts do not carry it.`,
		"field", ">leaves", ">mean", ">variance", ">k moments", ">k zeros", ">k ML", ">interval", ">chi-square", ">df", ">P")
	for _, one := range f.PerField {
		k := one.K
		t.Add(shell.Printable(one.Label), fmt.Sprint(k.Units), number3(k.Mean), number3(k.Variance), kNumber(k.Moments), kNumber(k.Zeros),
			kNumber(k.ML), interval(k.ML, number3), number3(k.Fit.Statistic), degrees(k.Fit.Test), chance(k.Fit.Test))
	}
	d.Table(t)
}

// kNumber tells counts without clumping from counts that carry no k.
func kNumber(e fit.Estimate) string {
	if strings.HasPrefix(e.Missing, fit.NoClumping) {
		return "none"
	}
	return number3(e.Value)
}

func (f *fitting) lawPart(d *report.Document) {
	d.Heading("How the variance follows the mean (Taylor, Iwao)")
	t := lawTable("Taylor: variance = a mean^b, by least squares of the logarithms. Iwao: mean crowding = A + B mean, by least squares; so variance = (A+1) mean + (B-1) mean^2.", f.Confidence)
	if w := f.Taylor; w.B.Known() {
		addLaw(t, "Taylor", "a", "b", w.A, w.B, w.Line, "means "+number3(w.MinMean)+" to "+number3(w.MaxMean))
	}
	if w := f.Iwao; w.B.Known() {
		addLaw(t, "Iwao", "A", "B", w.A, w.B, w.Line, "means "+number3(w.MinMean)+" to "+number3(w.MaxMean))
	}
	if len(t.Rows) > 0 {
		d.Table(t)
	}
	for _, w := range []struct{ name, missing string }{{"Taylor's", f.Taylor.B.Missing}, {"Iwao's", f.Iwao.B.Missing}} {
		if w.missing != "" {
			d.Para("%s constants are missing: %s.", w.name, w.missing)
		}
	}
	f.notes(d, "taylor", "iwao")
}

// lawTable has two rows for each law, see addLaw.
func lawTable(caption string, confidence float64) *report.Table {
	return report.NewTable(caption, "law", "", ">value", ">SE", ">"+report.Share(confidence)+" interval", ">fields", ">r^2", "holds for")
}

func addLaw(t *report.Table, law, nameA, nameB string, a, b fit.Estimate, line fit.Regression, valid string) {
	t.Add(law, nameA, number3(a.Value), report.Number(a.SE, 2), interval(a, number3), fmt.Sprint(line.Fields), number3(line.R2), valid)
	t.Add("", nameB, number3(b.Value), report.Number(b.SE, 2), interval(b, number3), "", "", "")
}

func (f *fitting) variancePart(d *report.Document) {
	if !f.PlantShares.Known() && !f.Counted.Known() {
		return
	}
	d.Heading("Where the variance lies")
	t := report.NewTable("Variance components within fields, by analysis of variance: between the stops of a field, and between the plants of a stop. The F test asks whether stops differ at all.",
		"of a plant", ">between stops", ">within stops", ">correlation", ">plants a stop", ">F", ">df", ">P")
	for _, one := range []struct {
		what string
		c    fit.Components
	}{{"infested or not", f.PlantShares}, {"insects per leaf", f.Counted}} {
		if c := one.c; c.Known() {
			t.Add(one.what, number3(c.Between), number3(c.Within), rhoNumber(c.IntraclassCorrelation), number3(c.PlantsPerStop),
				number3(c.F.Statistic), fmt.Sprintf("%d, %d", c.DFBetween, c.DFWithin), chance(c.F))
		}
	}
	d.Table(t)
	f.notes(d, "components")
}

func (f *fitting) tallyPart(d *report.Document) {
	d.Heading("From the share of plants infested to the mean per leaf (tally model)")
	t := report.NewTable("ln mean = intercept + slope ln(-ln(1-p)) over fields, p being the share of plants with a leaf that carries at least the tally number; MSE is the residual mean square of ln mean, and rho that of plants at this tally number.",
		">tally", ">intercept", ">SE", ">slope", ">SE", ">MSE", ">r^2", ">fields", "holds for p", ">rho", ">interval")
	parts := report.NewTable(fmt.Sprintf("How well a share tells the mean: the variance of ln mean where p was seen among %s of a field, %d a stop, and its parts: fields differ from the line, the intercept and the slope of the line are estimated, and p is estimated from few plants.",
		report.Count(f.plantsPerField(), "plant", "plants"), f.plantsPerStop()),
		">tally", ">p", ">mean per leaf", ">variance", ">fields", ">intercept", ">slope", ">sampling")
	var lack []string
	for i, m := range f.Tallies {
		if !m.D.Known() {
			lack = append(lack, fmt.Sprintf("For the tally number %d there is no model: %s.", m.T, m.D.Missing))
			continue
		}
		rho := f.atTally[i]
		t.Add(fmt.Sprint(m.T), number3(m.C.Value), report.Number(m.C.SE, 2), number3(m.D.Value), report.Number(m.D.SE, 2), number3(m.MSE),
			number3(m.Line.R2), fmt.Sprint(m.Fields), report.Percent(m.MinShare)+" to "+report.Percent(m.MaxShare), rhoNumber(rho.Value), interval(rho, rhoNumber))
		for _, p := range f.predictions(i) {
			parts.Add(fmt.Sprint(m.T), report.Share(p.P), number3(p.Mean), number3(p.Variance), report.Percent(p.Fields/p.Variance),
				report.Percent(p.Level/p.Variance), report.Percent(p.Slope/p.Variance), report.Percent(p.Sampling/p.Variance))
		}
	}
	if len(t.Rows) > 0 {
		d.Table(t)
	}
	for _, s := range lack {
		d.Para("%s", s)
	}
	if len(parts.Rows) > 0 {
		d.Table(parts)
	}
	f.notes(d, "tally")
}
