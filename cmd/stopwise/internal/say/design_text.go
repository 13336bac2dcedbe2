package say

import (
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// DesignDocument tells a specialist what a plan is and what it risks.
func DesignDocument(plan *plans.Plan, trials []plans.PlantsTrial, balanced []plans.Balance, file string) *report.Document {
	return DesignWith(plan, trials, balanced, file, StageDocument)
}

// DesignWith lets stage write the part of each stage.
func DesignWith(plan *plans.Plan, trials []plans.PlantsTrial, balanced []plans.Balance, file string, stage func(*report.Document, *plans.StagePlan)) *report.Document {
	d := &report.Document{}
	p := plan.Protocol
	d.Heading("Plan" + Titled(p.About()))
	d.Para("%s", WalkSentences(p.Stages))
	d.Para("%s", ClumpSentence(p))
	if trials != nil {
		trialsTable(d, trials)
	}
	if balanced != nil {
		balanceDocument(d, *p.Costs, balanced)
	}
	for _, s := range plan.Stages {
		stage(d, s)
	}
	costDocument(d, plan)
	if len(p.Defaults) > 0 {
		d.Para("Taken by default, common practice, no source:")
		d.List(p.Defaults...)
	}
	if file != "" {
		d.Para("Plan written to %s. After each stop ask: `stopwise check %s%s COUNT...`", file, file, stageArgument(plan))
	}
	AddCautions(d, p.About())
	return d
}

func stageArgument(plan *plans.Plan) string {
	if len(plan.Stages) == 1 {
		return ""
	}
	return " --stage " + QuoteWords(plan.Stages[0].Name)
}

func QuoteWords(s string) string {
	if strings.Contains(s, " ") {
		return `"` + s + `"`
	}
	return s
}

// SameOrEach says something of all stages: once where they agree.
func SameOrEach(stages []plans.Stage, say func(plans.Stage) string) string {
	same := true
	var each []string
	for _, s := range stages {
		text := say(s)
		same = same && text == say(stages[0])
		each = append(each, "Stage "+s.Name+": "+text)
	}
	if same {
		return say(stages[0])
	}
	return strings.Join(each, " ")
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
		t.Stop.Maximum = min(t.Stop.Maximum, longest)
		terms = append(terms, t)
	}
	return terms
}

// WalkSentences says how a field is walked.
func WalkSentences(stages []plans.Stage) string { return SameOrEach(stages, WalkSentence) }

func WalkSentence(p plans.Stage) string {
	plants := p.Stop.Plants
	unit := report.Count(plants, "plant", "plants")
	if p.Unit.Text != "" {
		unit = fmt.Sprintf("%s (%s)", unit, p.Unit.Text)
	}
	s := fmt.Sprintf("At each stop %s; no verdict before stop %d, always one by stop %d.", unit, p.Stop.Minimum, p.Stop.Maximum)
	if p.Unit.Tally > 0 && p.Measure.Bounded() {
		s += fmt.Sprintf(" A plant counts as infested when a leaf carries at least %d insects.", p.Unit.Tally)
	}
	return s + fmt.Sprintf(" A stop takes %s to walk to and %s for its plants.",
		report.Minutes(p.Stop.WalkMinutes), report.Minutes(p.Stop.PlantMinutes*float64(plants)))
}

func ClumpSentence(p plans.Protocol) string { return SameOrEach(p.Stages, clumpsOf) }

func clumpsOf(p plans.Stage) string {
	var parts []string
	if r := p.Clumping.Rho; r != nil {
		parts = append(parts, "rho "+RangeText(*r)+" between the plants of a stop")
	}
	if r := p.Clumping.K; r != nil {
		parts = append(parts, "k "+RangeText(*r)+" of the counts per leaf")
	}
	if t := p.Clumping.Taylor; t != nil {
		parts = append(parts, fmt.Sprintf("variance %s mean^%s of the counts per leaf", report.Number(t.A, 3), report.Number(t.B, 3)))
	}
	if w := p.Clumping.Iwao; w != nil {
		parts = append(parts, fmt.Sprintf("variance (%s+1) mean + (%s-1) mean^2 of the counts per leaf", report.Number(w.A, 3), report.Number(w.B, 3)))
	}
	if p.Clumping.Poisson {
		parts = append(parts, "counts per leaf at random (Poisson)")
	}
	if r := p.Clumping.CountRho; r != nil && (r.High > 0 || !p.Measure.Bounded()) {
		parts = append(parts, "correlation "+RangeText(*r)+" of the counts at a stop")
	}
	s := "Clumping: " + strings.Join(parts, "; ")
	if p.Clumping.Source != "" {
		s += " (" + p.Clumping.Source + ")"
	}
	return s + ". The promise must hold for all of it."
}

func RangeText(r plans.Range) string {
	if r.Single() {
		return report.Constant(r.Low)
	}
	return report.Constant(r.Low) + " to " + report.Constant(r.High)
}

func StageDocument(d *report.Document, s *plans.StagePlan) {
	level := func(x float64) string { return report.Level(s.Measure, x) }
	if s.Name != "" {
		d.Heading("Stage " + s.Name)
	}
	d.Para("Lower bound %s, threshold %s, upper bound %s %s. Allowed: act needlessly at the lower bound in %s of fields, miss a treatment at the upper bound in %s.",
		level(s.Lower), level(s.Threshold), level(s.Upper), Measured(s.Measure), report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	SignSentence(d, s)
	d.Table(DecisionTable(s, "Decision table, "+methodText(s)+". Compare the running total of "+Counted(s.Measure)+" with it after each stop."))
	d.Table(riskTable(s))
	d.Para("%s", PromiseSentence(s))
	d.Table(effortTable(s))
	rivalTable(d, s)
	if s.NoPlanBelow > 0 && s.Keeps() {
		d.Para("Averaged over lower bound, threshold and upper bound in the most clumped fields, no plan that keeps the risks can average fewer than %s stops; this one averages %s (%s above).",
			report.AtLeast(s.NoPlanBelow, 3), report.Number(s.Weighted, 3), report.Percent(max(0, s.Weighted/s.NoPlanBelow-1)))
	}
}

func Measured(m plans.Measure) string {
	if m == plans.MeanPerLeaf {
		return "(insects)"
	}
	return "of plants infested"
}

func Counted(m plans.Measure) string {
	if m == plans.MeanPerLeaf {
		return "insects"
	}
	return "infested plants"
}

func methodText(s *plans.StagePlan) string {
	t := TableFrom(s)
	if l := s.Lines; l != nil {
		t += fmt.Sprintf(" (leave on or below %s n - %s, act on or above %s n + %s, n %s)",
			report.Number(l.Slope, 4), report.Number(l.LeaveGap, 4), report.Number(l.Slope, 4), report.Number(l.ActGap, 4), unitsText(s.Measure))
	}
	return t
}

func unitsText(m plans.Measure) string {
	if m == plans.MeanPerLeaf {
		return "leaves"
	}
	return "plants"
}

func SignSentence(d *report.Document, s *plans.StagePlan) {
	if s.Sign == nil {
		return
	}
	text := fmt.Sprintf("To act, this sign must also be seen at %s: %s.", report.SignAt(*s.Sign), s.Sign.Text)
	joint := s.JointRisks()
	if joint == nil {
		d.Para("%s The risks below are those of the count alone: the sign can only make needless treatments rarer and missed ones more frequent. With sign_chance in the protocol the whole rule is computed.", text)
		return
	}
	n, m := worst(joint)
	exact := "exactly"
	if s.Sign.ChanceLower == 0 {
		exact = "at most"
	}
	d.Para("%s It is taken to be seen at a stop with a chance of %s in fields at the upper bound. The whole rule, count and sign, then acts needlessly in %s %s of fields at the lower bound and misses exactly %s of those at the upper bound, at worst over the clumping range; the risks below are those of the count alone.",
		text, report.Share(s.Sign.Chance), exact, report.Percent(n), report.Percent(m))
}

// DecisionTable leaves out the stops before the first verdict, in one row.
func DecisionTable(s *plans.StagePlan, caption string) *report.Table {
	t := &report.Table{Caption: caption, Columns: []report.Column{
		{Head: "stop", Right: true}, {Head: "plants", Right: true},
		{Head: "leave at or below", Right: true}, {Head: "act at or above", Right: true},
	}}
	for _, r := range s.Rows() {
		t.Add(fmt.Sprint(r.Stop), fmt.Sprint(r.Plants), numberOrNever(r.Leave), numberOrNever(r.Act))
	}
	return t
}

func numberOrNever(n *int) string {
	if n == nil {
		return "never"
	}
	return fmt.Sprint(*n)
}

// riskTable shows the ends of the clumping range and the worst value in it.
func riskTable(s *plans.StagePlan) *report.Table {
	t := &report.Table{
		Caption: "Exact risks over the clumping range.",
		Columns: []report.Column{
			{Head: "clumping"},
			{Head: "act at " + report.Level(s.Measure, s.Lower), Right: true},
			{Head: "allowed", Right: true},
			{Head: "leave at " + report.Level(s.Measure, s.Upper), Right: true},
			{Head: "allowed", Right: true},
			{Head: "kept"},
		}}
	for _, r := range shownRisks(s.Risks) {
		kept := "both"
		n, m := r.Needless > s.NeedlessRisk+1e-12, r.Missed > s.MissedRisk+1e-12
		switch {
		case n && m:
			kept = "NEITHER"
		case n:
			kept = "NOT needless"
		case m:
			kept = "NOT missed"
		}
		t.Add(r.Clump.String(), report.Percent(r.Needless), report.Share(s.NeedlessRisk), report.Percent(r.Missed), report.Share(s.MissedRisk), kept)
	}
	return t
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

func PromiseSentence(s *plans.StagePlan) string {
	n, m := s.WorstNeedless(), s.WorstMissed()
	level := func(x float64) string { return report.Level(s.Measure, x) }
	if s.Keeps() {
		return fmt.Sprintf("The plan keeps its promise over the whole clumping range: at worst %s of fields at %s are treated needlessly and %s of fields at %s are missed.",
			report.Percent(n.Needless), level(s.Lower), report.Percent(m.Missed), level(s.Upper))
	}
	var broken []string
	if n.Needless > s.NeedlessRisk+1e-12 {
		broken = append(broken, fmt.Sprintf("it acts in %s of fields at %s, not %s (%s)", report.Percent(n.Needless), level(s.Lower), report.Share(s.NeedlessRisk), n.Clump))
	}
	if m.Missed > s.MissedRisk+1e-12 {
		broken = append(broken, fmt.Sprintf("it leaves %s of fields at %s, not %s (%s)", report.Percent(m.Missed), level(s.Upper), report.Share(s.MissedRisk), m.Clump))
	}
	text := "This plan does NOT keep the promised risks: " + strings.Join(broken, "; ") + "."
	if s.Method == plans.OwnTable {
		return text
	}
	return text + " The method risk-true makes one that does."
}

func effortTable(s *plans.StagePlan) *report.Table {
	t := &report.Table{
		Caption: "What a visit takes, exact expectations.",
		Columns: []report.Column{
			{Head: "field at"}, {Head: "level", Right: true}, {Head: "clumping"},
			{Head: "chance to act", Right: true},
			{Head: "stops", Right: true}, {Head: "plants", Right: true},
			{Head: "time", Right: true}, {Head: "9 in 10 need at most", Right: true},
		}}
	for _, e := range s.Effort {
		t.Add(e.At, report.Level(s.Measure, e.Level), e.Clump.String(), report.Percent(e.Act), report.Number(e.Stops, 3),
			report.Number(e.Plants, 3), report.Minutes(e.Minutes), report.Count(e.Within90, "stop", "stops"))
	}
	return t
}

func trialsTable(d *report.Document, trials []plans.PlantsTrial) {
	t := &report.Table{
		Caption: "Plants per stop tried, each with its own plan of the same risks; averages over the stages, bounds and thresholds in the most clumped fields.",
		Columns: []report.Column{
			{Head: "plants per stop", Right: true}, {Head: "stops", Right: true},
			{Head: "time", Right: true}, {Head: ""},
		}}
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
