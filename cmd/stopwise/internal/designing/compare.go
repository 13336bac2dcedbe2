package designing

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

type comparisonJSON struct {
	report.Envelope
	Stages []comparisonStage `json:"stages"`
}

type comparisonStage struct {
	Stage string `json:"stage"`
	// Independent says that all is said of leaves that are independent at a stop.
	Independent bool               `json:"independent_leaves,omitempty"`
	Methods     []comparisonMethod `json:"methods"`
	// Unheld is the plan by the method risk-true that does without the worlds
	// besides.
	Unheld      *comparisonMethod `json:"without_hold_under,omitempty"`
	NoPlanBelow *float64          `json:"no_plan_below"`
	// Countings are what stops may count, for the same promise.
	Countings []comparisonCounting `json:"countings,omitempty"`
}

type comparisonMethod struct {
	Method   plans.Method     `json:"method"`
	Needless *float64         `json:"worst_needless"`
	Missed   *float64         `json:"worst_missed"`
	Keeps    *bool            `json:"keeps_risks"` // null where it depends on how often the sign is seen
	Weighted *float64         `json:"weighted_expected_stops"`
	Effort   []plans.Effort   `json:"effort" csv:"-"`
	Missing  string           `json:"missing,omitempty" csv:"-"`
	plan     *plans.StagePlan // nil where missing
}

func compareMethods(ctx context.Context, e shell.Env, p plans.Protocol, o plans.DesignOptions, page, format string) error {
	progress := report.NewProgress(e.Err, "comparing", int64(len(p.Stages)))
	o.Progress = func(string) { progress.Add(1) }
	o.Countings = true
	all, err := plans.Compare(ctx, p, o)
	progress.Done()
	if err != nil {
		return shell.DesignError(err)
	}
	out := comparisonJSON{Envelope: report.Envelope{Kind: "stopwise comparison", Version: 1}}
	d := &report.Document{}
	d.Heading("Methods compared" + say.Titled(p.About()))
	d.Para("%s", say.English().WalkSentences(p.Stages))
	d.Para("%s", say.English().ClumpSentence(p))
	type row struct {
		Stage string `json:"stage"`
		comparisonMethod
		// In the most clumped fields, of the efforts that JSON has for all.
		Lower     *float64 `json:"expected_stops_lower"`
		Threshold *float64 `json:"expected_stops_threshold"`
		Upper     *float64 `json:"expected_stops_upper"`
	}
	var rows []row
	for _, c := range all {
		s := comparisonOf(c)
		out.Stages = append(out.Stages, s)
		d.Table(promiseTable(c, s))
		d.Table(effortsTable(c, s))
		countingDocument(d, c)
		if s.Unheld != nil {
			d.Para("Risks above are the worst in all worlds in which the promise must hold. The last plan was made without %s: its promise breaks there, and the stops that it saves are the price of one that holds.", say.English().HeldNames(c.Unheld))
		}
		for _, m := range s.Methods {
			r := row{Stage: s.Stage, comparisonMethod: m}
			if m.plan != nil {
				at := clumpedEffort(m.plan)
				r.Lower, r.Threshold, r.Upper = &at[0].Stops, &at[1].Stops, &at[2].Stops
			}
			rows = append(rows, r)
		}
		if s.NoPlanBelow != nil {
			kept := true
			rows = append(rows, row{Stage: s.Stage, comparisonMethod: comparisonMethod{Method: "lower bound", Keeps: &kept, Weighted: s.NoPlanBelow}})
		}
	}
	d.Para("%s", comparisonNote(report.UnitsNames(p.Stages), all))
	if page != "" {
		if err := writePage(page, d, "Methods compared"+say.Titled(p.About())); err != nil {
			return err
		}
		d.Para("Page for review written to %s.", page)
	}
	return report.Write(e.Out, format, report.Output{Doc: d, Records: report.RecordsOf(rows), JSON: out})
}

func comparisonOf(c plans.Comparison) comparisonStage {
	s := comparisonStage{Stage: c.Stage.Name}
	if c.NoPlanBelow > 0 && c.Stage.MissedKnown() {
		s.NoPlanBelow = &c.NoPlanBelow
	}
	s.Countings = countingsOf(c)
	s.Independent = slices.ContainsFunc(c.Plans, (*plans.StagePlan).Independent)
	byMethod := map[plans.Method]*plans.StagePlan{}
	for _, sp := range c.Plans {
		byMethod[sp.Method] = sp
	}
	for _, m := range plans.Compared {
		sp := byMethod[m]
		if sp == nil {
			why := ""
			if err := c.Missing[m]; err != nil {
				why = cmp.Or(say.Impossible(err), err.Error())
			}
			s.Methods = append(s.Methods, comparisonMethod{Method: m, Missing: why, Keeps: new(bool)})
			continue
		}
		s.Methods = append(s.Methods, comparedMethod(sp))
	}
	if c.Unheld != nil {
		m := comparedMethod(c.Unheld)
		s.Unheld = &m
	}
	return s
}

func comparedMethod(s *plans.StagePlan) comparisonMethod {
	n, miss := s.WorstPromised()
	return comparisonMethod{Method: s.Method, Needless: &n, Missed: report.Finite(miss), Keeps: keepsOrNull(s), Weighted: &s.Weighted, Effort: s.Effort, plan: s}
}

// clumpedEffort returns the effort at the two bounds and the threshold at the
// clumped end of the range.
func clumpedEffort(s *plans.StagePlan) [3]plans.Effort {
	var at [3]plans.Effort
	for _, e := range s.Effort { // the clumped end comes last
		switch e.At {
		case "lower":
			at[0] = e
		case "threshold":
			at[1] = e
		case "upper":
			at[2] = e
		}
	}
	return at
}

// promiseTable shows what each method risks and what it takes on average.
func promiseTable(c plans.Comparison, s comparisonStage) *report.Table {
	level := func(x float64) string { return report.Level(c.Stage.Measure, x) }
	caption := fmt.Sprintf("lower bound %s (allowed %s), threshold %s, upper bound %s (allowed %s).",
		level(c.Stage.Lower), report.Share(c.Stage.NeedlessRisk), level(c.Stage.Threshold), level(c.Stage.Upper), report.Share(c.Stage.MissedRisk))
	if s.Stage != "" {
		caption = "Stage " + s.Stage + ": " + caption
	}
	t := report.NewTable(caption, "method", ">needless risk", ">missed risk", "promise", ">stops", ">"+report.UnitsName(c.Stage), ">time")
	add := func(name string, m comparisonMethod) {
		kept := say.NotKnown
		switch {
		case m.plan.Keeps():
			kept = "kept"
		case m.plan.Breaks():
			kept = "BROKEN"
		}
		_, missed := m.plan.WorstPromised()
		_, plants, minutes := m.plan.Expected()
		t.Add(name, report.Percent(*m.Needless), say.Chance(missed), kept, report.Number(*m.Weighted, 3),
			report.Whole(plants), report.Minutes(minutes))
	}
	for _, m := range s.Methods {
		if m.plan == nil {
			t.Add(string(m.Method), "", "", "no plan", "", "", "")
			continue
		}
		add(string(m.Method), m)
	}
	if s.Unheld != nil {
		add(string(s.Unheld.Method)+", plain promise", *s.Unheld)
	}
	if s.NoPlanBelow != nil {
		t.Add("(no plan below)", "", "", "kept", report.AtLeast(c.NoPlanBelow, 3), "", "")
	}
	return t
}

// effortsTable shows what each method takes at the lower bound, the threshold
// and the upper bound.
func effortsTable(c plans.Comparison, s comparisonStage) *report.Table {
	t := report.NewTable("In fields at the lower bound / the threshold / the upper bound:", "method", ">stops", ">"+report.UnitsName(c.Stage), ">minutes",
		">9 in 10 need")
	for _, m := range s.Methods {
		if m.plan == nil {
			continue
		}
		at := clumpedEffort(m.plan)
		three := func(f func(plans.Effort) string) string { return f(at[0]) + " / " + f(at[1]) + " / " + f(at[2]) }
		t.Add(string(m.Method),
			three(func(e plans.Effort) string { return report.Number(e.Stops, 2) }),
			three(func(e plans.Effort) string { return report.Whole(e.Plants) }),
			three(func(e plans.Effort) string { return report.Whole(e.Minutes) }),
			three(func(e plans.Effort) string { return fmt.Sprint(e.Within90) }))
	}
	return t
}

// keepsOrNull says whether a plan keeps its promise, nil where that is not known.
func keepsOrNull(s *plans.StagePlan) *bool {
	keeps := s.Keeps()
	if !keeps && !s.Breaks() {
		return nil
	}
	return &keeps
}

// comparisonNote says how to read the tables of a comparison.
func comparisonNote(units string, all []plans.Comparison) string {
	text := fmt.Sprintf("Risks are exact and the worst over the clumping range; stops, %s and times are exact expectations in the most clumped fields, "+
		"in the first table averaged over the lower bound, the threshold and the upper bound, as weighted.", units)
	unknown := false
	var shapes []string // of the fields that a bound holds in
	for _, c := range all {
		unknown = unknown || !c.Stage.NeedlessKnown() || !c.Stage.MissedKnown()
		if shape := say.Shape(c.Stage); c.NoPlanBelow > 0 && c.Stage.MissedKnown() && !slices.Contains(shapes, shape) {
			shapes = append(shapes, shape)
		}
	}
	if unknown {
		text += " Where the chances of a sign are not known, needless risks are those of the count alone, which the sign can only lower, and missed risks are not known."
	}
	if len(shapes) > 0 {
		text += fmt.Sprintf(" No plan with these %s a stop and these first and last stops that keeps the promise can average fewer stops than its last row, where %s.", units, strings.Join(shapes, ", or "))
	}
	if slices.ContainsFunc(all, func(c plans.Comparison) bool { return slices.ContainsFunc(c.Plans, (*plans.StagePlan).Independent) }) {
		text += " " + say.IndependentPromise
	}
	return text
}
