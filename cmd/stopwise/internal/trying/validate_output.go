package trying

import (
	"fmt"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/validate"
)

// validationResult is all that one run of validate found.
type validationResult struct {
	stage    *plans.StagePlan
	visits   int
	seed     uint64
	surveys  []validate.Survey
	data     *fieldData
	fields   []validate.FieldResult
	walks    []validate.WalkRow
	walk     validate.WalkOptions
	required []validate.Requirement
	promised bool // among what is required is what the stage promises
	faults   []validate.Fault
	detailed bool
	drawn    string // file of the picture
}

// lines returns everything that a requirement is held against.
func (r *validationResult) lines() []validate.Line {
	lines := []validate.Line{validate.OwnLine(r.stage)}
	for _, v := range r.surveys {
		for _, row := range v.Rows {
			lines = append(lines, row.Line(row.World+", "+say.Setting(row)))
		}
	}
	if r.data != nil {
		lines = append(lines, validate.PoolLines(validate.Pools(r.fields))...)
	}
	for _, row := range r.walks {
		lines = append(lines, row.Line())
	}
	if r.promised {
		lines = append(lines, validate.HeldLines(r.stage)...)
	}
	return lines
}

// csvHolds refuses CSV where it would have to hold tables of several kinds.
func (r *validationResult) csvHolds(format string, worlds []string) error {
	if format != "csv" {
		return nil
	}
	kinds := 0
	if r.data != nil {
		kinds++
	}
	if slices.Contains(worlds, spaceWorld) {
		kinds++
	}
	if slices.ContainsFunc(worlds, func(w string) bool { return w != spaceWorld }) {
		kinds++
	}
	if kinds > 1 {
		return shell.UsageHint("run --data, --simulate space and the other worlds one at a time, or use json", "csv holds one table")
	}
	return nil
}

func (r *validationResult) output() report.Output {
	j := r.json()
	o := report.Output{Doc: r.brief(), Records: j.records(), JSON: j}
	if r.detailed {
		o.Doc = r.document()
	}
	return o
}

// document tells all that was found, the answer first.
func (r *validationResult) document() *report.Document {
	d := &report.Document{}
	d.Heading("Validation" + say.StageTitle(r.stage))
	r.answer(d, true)
	for _, v := range r.surveys {
		surveyDocument(d, r.stage, v, r.visits)
	}
	if r.walks != nil {
		r.walksDocument(d)
	}
	if r.data != nil {
		r.fieldsDocument(d)
	}
	if len(r.required) > 0 {
		r.judgement(d)
	}
	return d
}

// promise says what is tried.
func (r *validationResult) promise() string {
	s := r.stage
	text := fmt.Sprintf("The plan promises to act in at most %s of the fields at %s and to leave at most %s of those at %s, where %s. "+
		"Here it is tried where that may not be so.",
		report.Share(s.NeedlessRisk), report.Level(s.Measure, s.Lower), report.Share(s.MissedRisk), report.Level(s.Measure, s.Upper),
		assumedClumping(s)+besides(s))
	if !s.MissedKnown() {
		text = fmt.Sprintf("How often the sign is seen is not known, and so not how many treatments are missed. Needless risks are those of the count alone, which the sign can only lower; allowed are %s at %s, where %s.",
			report.Share(s.NeedlessRisk), report.Level(s.Measure, s.Lower), assumedClumping(s))
	}
	if s.Sign != nil && s.MissedKnown() {
		text += " The risks are those of count and sign."
	}
	if r.simulated() {
		text += fmt.Sprintf(" Simulated numbers: %s in each situation, seed %d.", report.Count(r.visits, "visit", "visits"), r.seed)
	}
	return text
}

// besides says where else the promise holds.
func besides(s *plans.StagePlan) string {
	if held := say.English().HeldUnder(s.HoldUnder, s.Stage); held != "" {
		return ", and " + held
	}
	return ""
}

// simulated reports whether any of the results is.
func (r *validationResult) simulated() bool {
	return r.walks != nil || r.data != nil || slices.ContainsFunc(r.surveys, func(v validate.Survey) bool { return v.World == validate.ShortStops })
}

func assumedClumping(s *plans.StagePlan) string {
	law := s.Law()
	if law.Kind == protocol.RhoLaw {
		return "rho is " + say.English().RangeText(law.Range)
	}
	alike := "the counts of a stop have a correlation of " + say.English().RangeText(law.CountRho)
	if law.CountRho.High == 0 {
		alike = "the leaves of a stop are independent"
	}
	switch law.Kind {
	case protocol.TaylorLaw:
		return "the variance of the counts per leaf is " + report.Number(law.A, 3) + " mean^" + report.Number(law.B, 3) + " and " + alike
	case protocol.IwaoLaw:
		return fmt.Sprintf("the variance of the counts per leaf is (%s+1) mean + (%s-1) mean^2 and %s", report.Number(law.A, 3), report.Number(law.B, 3), alike)
	case protocol.PoissonLaw:
		return "insects are at random (Poisson)"
	}
	return "k is " + say.English().RangeText(law.Range) + " and " + alike
}

// judgement says what was required and whether it holds.
func (r *validationResult) judgement(d *report.Document) {
	d.Heading("Required")
	t := report.NewTable("", "what", "holds", "in", ">value")
	for _, q := range uniqueRequirements(r.required) {
		held := true
		for _, f := range r.faults {
			if f.Requirement == q {
				held = false
				t.Add(say.Required(q), say.StandingWord(f.Standing, "yes", "NO"), f.Line, faultValue(f))
			}
		}
		if held {
			where := "all that was tried, the plan's own worlds among it"
			if q.Own {
				where = "the worlds that the promise speaks of"
			}
			t.Add(say.Required(q), "yes", where, "")
		}
	}
	d.Table(t)
}

func uniqueRequirements(all []validate.Requirement) []validate.Requirement {
	var out []validate.Requirement
	for _, q := range all {
		if !slices.Contains(out, q) {
			out = append(out, q)
		}
	}
	return out
}

func keptWord(s validate.Standing) string { return say.StandingWord(s, "kept", "BROKEN") }

func meanText(m validate.Mean) string { return report.Number(m.Value, 3) }

// threeTexts writes what is expected at the lower bound, the threshold and the
// upper bound.
func threeTexts(m [3]validate.Mean, text func(float64) string) string {
	var parts []string
	for _, x := range m {
		parts = append(parts, text(x.Value))
	}
	return strings.Join(parts, " / ")
}

func threeDigits(x float64) string { return report.Number(x, 3) }
