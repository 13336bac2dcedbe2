package fitting

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling/fit"
)

// alike says whether things of one stop are alike, numbers being what was found.
func alike(things string, e fit.Estimate, numbers string) string {
	switch {
	case !e.Known():
		return fmt.Sprintf("The data do not say how alike the %s of one stop are: %s.", things, e.Missing)
	case e.Value == 0:
		return fmt.Sprintf("No clumping found, %s at one stop are no more alike than %s of different stops: %s.", things, things, numbers)
	case e.Lower == 0:
		return fmt.Sprintf("%s at one stop may be alike, or not at all: %s.", sentenceCase(things), numbers)
	}
	return fmt.Sprintf("%s at one stop are alike: %s.", sentenceCase(things), numbers)
}

// countRhoText returns "count rho 0.153, 95% interval 0.116 to 0.197".
func (f *fitting) countRhoText() string {
	return withInterval("count rho", f.CountRho.Estimate, f.Confidence)
}

// countRhoRange is the interval, rounded outwards; nil where no plan can be made
// for it.
func (f *fitting) countRhoRange() *plans.Range {
	return outwardRange(f.CountRho.Estimate, protocol.MostCountRho)
}

// outwardRange rounds an interval outwards to three decimals. It is nil where
// there is none or where it passes most.
func outwardRange(e fit.Estimate, most float64) *plans.Range {
	if !e.Known() || !e.HasInterval() {
		return nil
	}
	r := plans.Range{Low: math.Floor(e.Lower*1000) / 1000, High: math.Ceil(e.Upper*1000) / 1000}
	if r.High > most {
		return nil
	}
	return &r
}

// countRhoPart tells how alike the counts of a stop are.
func (f *fitting) countRhoPart(d *report.Document) {
	d.Heading("How alike the counts of one stop are (count rho)")
	c := f.CountRho
	numbers := fmt.Sprintf("%s, from %s", f.countRhoText(), fieldsText(c.Fields))
	if c.Left > 0 {
		numbers += fmt.Sprintf(" taken evenly from %d", c.Fields+c.Left)
	}
	d.Para("%s", alike("counts", c.Estimate, numbers))
	if !c.Estimate.Known() {
		return
	}
	t := estimateTable("count rho", f.Confidence)
	t.Add(estimateRow(string(c.Method)+", taken", c.Estimate, rhoNumber)...)
	t.Add(estimateRow("analysis of variance, fields brought to one scale", c.ANOVA, rhoNumber)...)
	d.Table(t)
	d.Para("A plan for a mean per leaf adds up the counts of a stop and needs this correlation. The k fitted along with it, leaves not taken as independent, is %s (%s interval %s).", number3(c.K), report.Share(f.Confidence), interval(c.KInterval, number3))
}

// shapeSentence says which shape of clumping the counts speak for.
func (f *fitting) shapeSentence() string {
	s := f.Shape
	const shapes = "Of two shapes of clumping, alike everywhere as the beta-binomial says, which plans take, or patches with nothing between,"
	if s.Missing != "" {
		return shapes + " the data tell nothing: " + s.Missing + "."
	}
	apart := report.Decimals(math.Round(10*math.Abs(s.Beta-s.Patches))/10, 1)
	switch s.SpeaksFor {
	case fit.ShapeBeta:
		return fmt.Sprintf("%s the data speak for the first: its log-likelihood is higher by %s (from %d on is taken to speak).", shapes, apart, fit.ShapeSpeaks)
	case fit.ShapePatches:
		return fmt.Sprintf("%s the data speak for the second: its log-likelihood is higher by %s (from %d on is taken to speak); a plan can be asked to hold under patches.", shapes, apart, fit.ShapeSpeaks)
	}
	return fmt.Sprintf("%s the data do not tell: their log-likelihoods differ by %s (from %d on is taken to speak).", shapes, apart, fit.ShapeSpeaks)
}

// countRhoLines writes the correlation of counts beside the law of the mean.
func (f *fitting) countRhoLines(w *sectionWriter, c plans.Clumping) {
	r := f.CountRho
	switch {
	case !r.Estimate.Known():
		w.comment("count_rho: the data carry none, %s.", r.Estimate.Missing)
		return
	case c.CountRho == nil:
		w.comment("count_rho: %s has no upper limit that a plan can be made for, %s or less.", rhoNumber(r.Estimate.Value), report.Plain(protocol.MostCountRho))
		return
	}
	beside := ""
	if r.ANOVA.Known() {
		beside = "; beside it analysis of variance " + rhoNumber(r.ANOVA.Value)
	}
	w.comment("count_rho, for a mean per leaf: %s %s, interval %s%s. The range is the interval, rounded outwards. The k fitted along with it is %s (%s).",
		r.Method, rhoNumber(r.Estimate.Value), interval(r.Estimate, rhoNumber), beside, number3(r.K), interval(r.KInterval, number3))
	w.line("count_rho = %s", rangeValue(*c.CountRho))
}

type countRhoJSON struct {
	estimateJSON
	Method string       `json:"method"`
	Fields int          `json:"fields"`
	Stops  int          `json:"stops"`
	Left   int          `json:"fields_left_out"`
	K      *float64     `json:"k"`
	KRange estimateJSON `json:"k_interval"` // the same with its interval
	ANOVA  estimateJSON `json:"anova"`
}

type shapeJSON struct {
	SpeaksFor *string          `json:"speaks_for"` // null where the data do not tell
	Fields    int              `json:"fields"`
	Stops     int              `json:"stops"`
	Beta      *shapeLogJSON    `json:"beta_binomial"`
	Patches   *shapeLogJSON    `json:"patches"`
	Counts    []fit.ShapeCount `json:"counts"`
	Reason    string           `json:"reason,omitempty"`
}

type shapeLogJSON struct {
	Rho    float64 `json:"rho"`
	LogLik float64 `json:"log_likelihood"`
}

func (f *fitting) countRhoJSON() countRhoJSON {
	c := f.CountRho
	return countRhoJSON{estimateOf(c.Estimate), string(c.Method), c.Fields, c.Stops, c.Left, report.Finite(c.K), estimateOf(c.KInterval), estimateOf(c.ANOVA)}
}

func (f *fitting) shapeJSON() shapeJSON {
	s := f.Shape
	j := shapeJSON{Fields: s.Fields, Stops: s.Stops, Counts: []fit.ShapeCount{}, Reason: s.Missing}
	if s.Missing != "" {
		return j
	}
	if s.SpeaksFor != "" {
		j.SpeaksFor = &s.SpeaksFor
	}
	j.Beta, j.Patches = &shapeLogJSON{s.BetaRho, s.Beta}, &shapeLogJSON{s.PatchesRho, s.Patches}
	j.Counts = append(j.Counts, s.Counts...)
	return j
}
