package say

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// DesignDocument tells a specialist what a plan is and what it risks.
func DesignDocument(plan *plans.Plan, trials []plans.PlantsTrial, balanced Balanced, file string) *report.Document {
	return DesignWith(plan, trials, balanced, &Screen{File: file, Detail: true}, StageDocument)
}

// DesignWith lets stage write the part of each stage, for a screen or, where that is
// nil, for paper.
func DesignWith(plan *plans.Plan, trials []plans.PlantsTrial, balanced Balanced, screen *Screen, stage func(*report.Document, *plans.StagePlan)) *report.Document {
	d := &report.Document{}
	p := plan.Protocol
	d.Heading("Plan" + Titled(p.About()))
	designAnswer(d, plan, screen)
	if plan.Season != nil {
		d.Note("Exact with the tables and dates of this plan, for visits that start their route anew each time, and levels that stay or grow as said.")
	}
	d.Para("%s", English().WalkSentences(p.Stages))
	d.Para("%s", English().ClumpSentence(p))
	if trials != nil {
		trialsTable(d, trials)
	}
	balanceDocument(d, plan, balanced)
	d.Para("%s", English().WhichTable(plan.Stages))
	for _, s := range plan.Tables() {
		stage(d, s)
	}
	d.Para("Taken for granted:")
	d.List(English().Grounds(plan)...)
	routeWord(d, plan, screen)
	costDocument(d, plan)
	if len(p.Defaults) > 0 {
		d.Para("Taken by default, common practice, no source:")
		d.List(p.Defaults...)
	}
	English().AddCautions(d, p.About())
	return d
}

func stageArgument(plan *plans.Plan) string {
	if len(plan.Stages) == 1 {
		return ""
	}
	return " --stage " + QuoteWords(plan.Stages[0].Name)
}

// lastArgument says with which table to ask.
func lastArgument(plan *plans.Plan) string {
	if len(plan.Stages[0].ByLast) == 0 {
		return ""
	}
	return " --last " + string(plan.Stages[0].ByLast[0].Last)
}

func QuoteWords(s string) string {
	if strings.Contains(s, " ") {
		return `"` + s + `"`
	}
	return s
}

// TermsOf returns what holds in the stages, whose tables can end sooner than the
// protocol allows: the longest is told.
func TermsOf(stages []*plans.StagePlan) []plans.Stage {
	longest := 0
	for _, s := range stages {
		longest = max(longest, s.Table.Stops())
	}
	var terms []plans.Stage
	for _, s := range stages {
		t := s.Stage
		t.Name = English().TableName(s)
		t.Stop.Maximum = min(t.Stop.Maximum, longest)
		terms = append(terms, t)
	}
	return terms
}

func StageDocument(d *report.Document, s *plans.StagePlan) {
	level := func(x float64) string { return report.Level(s.Measure, x) }
	if name := English().TableName(s); name != "" {
		d.Heading("Stage " + name)
	}
	allowed := "Allowed"
	if s.Method == plans.SeasonTrue {
		allowed = "Allowed in one visit, as the season needs it"
	}
	d.Para("Lower bound %s, threshold %s, upper bound %s %s. %s: act needlessly at the lower bound in %s of fields, miss a treatment at the upper bound in %s.",
		level(s.Lower), level(s.Threshold), level(s.Upper), English().Measured(s.Stage), allowed, report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	SignSentence(d, s)
	if firstOf(s) {
		WorthDocument(d, s)
	}
	d.Table(DecisionTable(s, "Decision table, "+methodText(s)+". Compare the running total of "+English().Added(s)+" with it after each stop."))
	d.Table(riskTable(s))
	heldTable(d, s)
	d.Para("%s", Joined(" ", English().PromiseSentence(s), English().SlackSentence(s), patchesSentence(s)))
	d.Note("%s", IndependentSentence(s))
	d.Para("%s", spareSentence(s))
	d.Table(effortTable(s))
	returnTable(d, s)
	rivalTable(d, s)
	d.Para("%s", priceSentence(s))
	if s.NoPlanBelow > 0 && s.Keeps() {
		d.Para("%s, in the most clumped fields, the best table found walks %s stops. Where %s, no plan with these %s a stop, these first and last stops and these risks can do with fewer than %s: it is at most %s above what any plan could do.",
			averaged(s.Weights), report.Number(s.Weighted, 3), Shape(s.Stage), report.UnitsName(s.Stage), report.AtLeast(s.NoPlanBelow, 3), report.AtMost(max(0, s.Weighted/s.NoPlanBelow-1)))
	}
}

// spareSentence says that the minimum of stops is more than the promise needs; "" of
// other plans.
func spareSentence(s *plans.StagePlan) string {
	fewest := s.Spare()
	if fewest == 0 {
		return ""
	}
	text := fmt.Sprintf("Every visit ends at the minimum of %s, which is more than the promise needs: %s would keep it.",
		report.Count(s.Stop.Minimum, "stop", "stops"), report.Count(fewest, "stop", "stops"))
	if s.Method == plans.RiskTrueLines {
		return text
	}
	act := NotKnown
	for _, e := range s.Effort { // the most clumped fields come last
		if e.At == "threshold" {
			act = Chance(e.Act)
		}
	}
	if act != NotKnown {
		text += fmt.Sprintf(" Of the numbers that keep it, that one is taken with which a field at the threshold is treated nearest to half the time: %s.", act)
	}
	return text
}

// Shape says how the pest is spread at the stops of the fields in which no plan can do
// with fewer stops than a bound.
func Shape(t plans.Stage) string {
	switch r := t.Law().CountRho; {
	case t.Measure.Bounded():
		return "the share infested at a stop is beta distributed"
	case r.High == 0:
		return "counts are negative binomial and those of one stop independent"
	}
	return "each stop has a gamma distributed mean of its own, about which counts are negative binomial"
}

// averaged says what the effort is averaged over.
func averaged(weights [3]float64) string {
	names := [3]string{"the lower bound", "the threshold", "the upper bound"}
	var at []string
	even := true
	for i, w := range weights {
		if w == 1 {
			return "At " + names[i]
		}
		if w > 0 {
			at = append(at, fmt.Sprintf("%s (weight %s)", names[i], report.Percent(w)))
		}
		even = even && w == weights[0]
	}
	if even {
		return "Averaged over " + strings.Join(names[:2], ", ") + " and " + names[2]
	}
	return "Averaged over " + strings.Join(at, ", ")
}

func methodText(s *plans.StagePlan) string {
	t := TableFrom(s)
	if l := s.Lines; l != nil {
		t += fmt.Sprintf(" (leave on or below %s n - %s, act on or above %s n + %s, n %s)",
			report.Number(l.Slope, 4), report.Number(l.LeaveGap, 4), report.Number(l.Slope, 4), report.Number(l.ActGap, 4), unitsText(s.Stage))
	}
	return t
}

func unitsText(t plans.Stage) string {
	if !t.Measure.Bounded() {
		return "leaves"
	}
	return report.UnitsName(t)
}

func SignSentence(d *report.Document, s *plans.StagePlan) {
	if s.Sign == nil {
		return
	}
	text := fmt.Sprintf("To act, this sign must also be seen at %s: %s.", report.SignAt(*s.Sign), s.Sign.Text)
	chance, at := report.Share(s.Sign.Chance), " in fields at the upper bound"
	switch {
	case !s.MissedKnown():
		d.Para("%s How often it is seen in fields at the upper bound the protocol does not say (sign_chance), so the table is made for the count alone. The sign can only make needless treatments rarer and missed ones more frequent.", text)
	case s.NeedlessKnown():
		d.Para("%s It is taken to be seen at a stop with a chance of %s%s and of %s in those at the lower bound. All risks are those of the whole rule, count and sign.", text, chance, at, report.Share(s.Sign.ChanceLower))
	default:
		d.Para("%s It is taken to be seen at a stop with a chance of %s%s. The risks are those of the whole rule, count and sign; that of acting needlessly is the one of the count alone, which the sign can only lower.", text, chance, at)
	}
}

// SignCurve says how often the sign is taken to be seen in fields of all levels.
func SignCurve(s *plans.StagePlan) string {
	if s.NeedlessKnown() && s.MissedKnown() {
		return fmt.Sprintf("They are those of count and sign; the chance to see the sign at a stop is taken as %s up to the lower bound, %s from the upper bound, and on a straight line between.",
			report.Share(s.Sign.ChanceLower), report.Share(s.Sign.Chance))
	}
	return "Where the protocol does not say how often the sign is seen, they are not known."
}

// DecisionTable leaves out the stops before the first verdict, in one row.
func DecisionTable(s *plans.StagePlan, caption string) *report.Table {
	t := report.NewTable(caption, ">stop", ">"+report.UnitsName(s.Stage), ">leave at or below", ">act at or above")
	for _, r := range s.Rows() {
		t.Add(fmt.Sprint(r.Stop), fmt.Sprint(r.Plants), NumberOrNever(r.Leave), NumberOrNever(r.Act))
	}
	return t
}

func NumberOrNever(n *int) string {
	if n == nil {
		return "never"
	}
	return fmt.Sprint(*n)
}

// riskTable shows the ends of the clumping range and the worst value in it.
func riskTable(s *plans.StagePlan) *report.Table {
	t := report.NewTable("Exact risks over the clumping range.", "clumping", ">"+riskHead(s, "act", s.Lower, s.NeedlessRisk),
		">"+riskHead(s, "leave", s.Upper, s.MissedRisk), "promise")
	if !s.MissedKnown() {
		t.Caption = "Chance of acting, by the count alone, over the clumping range. That of leaving depends on how often the sign is seen."
	}
	for _, r := range shownRisks(s.Risks) {
		t.Add(report.Clumping(r.Clump), report.Percent(r.Needless), Chance(r.Missed), promiseWord(s, r.Needless, r.Missed))
	}
	return t
}

// NotKnown stands where a chance depends on how often a sign is seen.
const NotKnown = "not known"

// Chance writes a chance that need not be known.
func Chance(p float64) string {
	if math.IsNaN(p) {
		return NotKnown
	}
	return report.Percent(p)
}

// shownRisks picks the first, the middle and the last of many values, and the
// worst ones.
func shownRisks(all []plans.Risk) []plans.Risk {
	if len(all) <= 3 {
		return all
	}
	worstN, worstM := 0, 0
	for i, r := range all {
		if r.Needless > all[worstN].Needless {
			worstN = i
		}
		if r.Missed > all[worstM].Missed {
			worstM = i
		}
	}
	var out []plans.Risk
	for i, r := range all {
		if i == 0 || i == len(all)/2 || i == len(all)-1 || i == worstN || i == worstM {
			out = append(out, r)
		}
	}
	return out
}

func effortTable(s *plans.StagePlan) *report.Table {
	t := report.NewTable("What a visit takes: expectations, as exact as the risks.", "field at", ">level", "clumping", ">chance to act", ">stops",
		">"+report.UnitsName(s.Stage), ">time", ">9 in 10 need at most")
	for _, e := range s.Effort {
		t.Add(e.At, report.Level(s.Measure, e.Level), report.Clumping(e.Clump), Chance(e.Act), report.Number(e.Stops, 3),
			report.Number(e.Plants, 3), report.Minutes(e.Minutes), report.Count(e.Within90, "stop", "stops"))
	}
	return t
}

func trialsTable(d *report.Document, trials []plans.PlantsTrial) {
	t := report.NewTable("Plants per stop tried, each with its own plan of the same risks; averages over the stages, bounds and thresholds in the most clumped fields.",
		">plants per stop", ">stops", ">time", "")
	best := 0
	for i, x := range trials {
		if x.Feasible && (!trials[best].Feasible || x.Minutes < trials[best].Minutes) {
			best = i
		}
	}
	for i, x := range trials {
		switch {
		case !x.Feasible:
			t.Add(fmt.Sprint(x.Plants), "", "", "no plan within the maximum of stops")
		case i == best:
			t.Add(fmt.Sprint(x.Plants), report.Number(x.Stops, 3), report.Minutes(x.Minutes), "taken")
		default:
			t.Add(fmt.Sprint(x.Plants), report.Number(x.Stops, 3), report.Minutes(x.Minutes), "")
		}
	}
	d.Table(t)
}
