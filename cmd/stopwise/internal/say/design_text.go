package say

import (
	"fmt"
	"math"
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
	seasonDocument(d, plan)
	whichTable(d, plan.Stages)
	for _, s := range plan.Tables() {
		stage(d, s)
	}
	d.Para("Taken for granted:")
	d.List(Grounds(plan)...)
	costDocument(d, plan)
	if len(p.Defaults) > 0 {
		d.Para("Taken by default, common practice, no source:")
		d.List(p.Defaults...)
	}
	if file != "" {
		d.Para("Plan written to %s. After each stop ask: `stopwise check %s%s%s COUNT...`", file, file, stageArgument(plan), lastArgument(plan))
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
		t.Name = TableName(s)
		t.Stop.Maximum = min(t.Stop.Maximum, longest)
		terms = append(terms, t)
	}
	return terms
}

// WalkSentences says how a field is walked.
func WalkSentences(stages []plans.Stage) string { return SameOrEach(stages, WalkSentence) }

func WalkSentence(p plans.Stage) string {
	plants := p.Stop.Plants
	unit := report.Units(p, plants)
	if p.Unit.Text != "" {
		unit = fmt.Sprintf("%s (%s)", unit, p.Unit.Text)
	}
	s := fmt.Sprintf("At each stop %s; no verdict before stop %d, always one by stop %d.", unit, p.Stop.Minimum, p.Stop.Maximum)
	if p.Unit.Tally > 0 && p.Measure.Bounded() {
		one, _ := report.UnitWords(p)
		s += fmt.Sprintf(" A %s counts as infested when a leaf carries at least %s.", one, report.Count(p.Unit.Tally, "insect", "insects"))
	}
	return s + fmt.Sprintf(" A stop takes %s to walk to and %s for its %s.",
		report.Minutes(p.Stop.WalkMinutes), report.Minutes(p.Stop.PlantMinutes*float64(plants)), report.UnitsName(p))
}

func ClumpSentence(p plans.Protocol) string { return SameOrEach(p.Stages, clumpsOf) }

func clumpsOf(p plans.Stage) string {
	var parts []string
	if r := p.Clumping.Rho; r != nil {
		parts = append(parts, "rho "+RangeText(*r)+" between the "+report.UnitsName(p)+" of a stop")
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
	s += ". The promise must hold for all of it"
	if held := HeldUnder(p.HoldUnder, p); held != "" {
		s += ", and " + held
	}
	return s + "."
}

func RangeText(r plans.Range) string {
	if r.Single() {
		return report.Constant(r.Low)
	}
	return report.Constant(r.Low) + " to " + report.Constant(r.High)
}

func StageDocument(d *report.Document, s *plans.StagePlan) {
	level := func(x float64) string { return report.Level(s.Measure, x) }
	if name := TableName(s); name != "" {
		d.Heading("Stage " + name)
	}
	allowed := "Allowed"
	if s.Method == plans.SeasonTrue {
		allowed = "Allowed in one visit, as the season needs it"
	}
	d.Para("Lower bound %s, threshold %s, upper bound %s %s. %s: act needlessly at the lower bound in %s of fields, miss a treatment at the upper bound in %s.",
		level(s.Lower), level(s.Threshold), level(s.Upper), Measured(s.Stage), allowed, report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	SignSentence(d, s)
	d.Table(DecisionTable(s, "Decision table, "+methodText(s)+". Compare the running total of "+Counted(s.Stage)+" with it after each stop."))
	d.Table(riskTable(s))
	heldTable(d, s)
	d.Para("%s", Joined(" ", PromiseSentence(s), SlackSentence(s)))
	if text := IndependentSentence(s); text != "" {
		d.Note("%s", text)
	}
	d.Table(effortTable(s))
	returnTable(d, s)
	rivalTable(d, s)
	if text := priceSentence(s); text != "" {
		d.Para("%s", text)
	}
	if s.NoPlanBelow > 0 && s.Keeps() {
		d.Para("%s, in the most clumped fields, the best table found walks %s stops. Where the share infested at a stop is beta distributed, no plan with these plants a stop, these first and last stops and these risks can do with fewer than %s: it is at most %s above what any plan could do.",
			averaged(s.Weights), report.Number(s.Weighted, 3), report.AtLeast(s.NoPlanBelow, 3), report.AtMost(max(0, s.Weighted/s.NoPlanBelow-1)))
	}
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

func Measured(t plans.Stage) string {
	if !t.Measure.Bounded() {
		return "(insects)"
	}
	return "of " + report.UnitsName(t) + " infested"
}

func Counted(t plans.Stage) string {
	if !t.Measure.Bounded() {
		return "insects"
	}
	return "infested " + report.UnitsName(t)
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
	t := &report.Table{Caption: caption, Columns: []report.Column{
		{Head: "stop", Right: true}, {Head: report.UnitsName(s.Stage), Right: true},
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
			{Head: riskHead(s, "act", s.Lower, s.NeedlessRisk), Right: true},
			{Head: riskHead(s, "leave", s.Upper, s.MissedRisk), Right: true},
			{Head: "promise"},
		}}
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

// PromiseSentence says whether a plan keeps what its protocol allows. The shares
// of fields are those of many visits.
func PromiseSentence(s *plans.StagePlan) string {
	n, m := s.WorstNeedless(), s.WorstMissed()
	level := func(x float64) string { return report.Level(s.Measure, x) }
	if s.Keeps() && s.Method == plans.SeasonTrue {
		return fmt.Sprintf("One visit treats at worst %s of fields at %s needlessly and misses %s of fields at %s, over the whole clumping range; what the plan promises is the season.",
			report.Percent(n.Needless), level(s.Lower), report.Percent(m.Missed), level(s.Upper))
	}
	if s.Keeps() {
		n.Needless, m.Missed = s.WorstPromised()
	}
	needless := fmt.Sprintf("of fields at %s on average at most %s are treated needlessly", level(s.Lower), report.Percent(n.Needless))
	if s.Keeps() {
		keeps, where := "The plan keeps its promise"+forIndependent(s), ""
		if s.Method == plans.IwaoCurves {
			keeps = "The method iwao promises no risk; this table happens to keep both"
		}
		if len(s.Held) > 0 {
			where = fmt.Sprintf(", and in the other worlds too (%s)", HeldNames(s))
		}
		return fmt.Sprintf("%s over the whole clumping range%s: %s, and of fields at %s at most %s are missed.",
			keeps, where, needless, level(s.Upper), report.Percent(m.Missed))
	}
	const unknown = "How many treatments are missed is not known: it depends on how often the sign is seen"
	var broken []string
	if n.Needless > s.NeedlessRisk+plans.Slack {
		broken = append(broken, fmt.Sprintf("it acts in %s of fields at %s, not %s (%s)", report.Percent(n.Needless), level(s.Lower), report.Share(s.NeedlessRisk), report.Clumping(n.Clump)))
	}
	switch {
	case !s.MissedKnown() && len(broken) == 0:
		return fmt.Sprintf("By the count alone, over the whole clumping range, %s. %s.", needless, unknown)
	case !s.MissedKnown():
		broken = append(broken, lowerFirst(unknown))
	case m.Missed > s.MissedRisk+plans.Slack:
		broken = append(broken, fmt.Sprintf("it leaves %s of fields at %s, not %s (%s)", report.Percent(m.Missed), level(s.Upper), report.Share(s.MissedRisk), report.Clumping(m.Clump)))
	}
	for _, r := range s.Held {
		if r.Needless > s.NeedlessRisk+plans.Slack || r.Missed > s.MissedRisk+plans.Slack {
			broken = append(broken, fmt.Sprintf("under %s it acts in %s of fields at %s and leaves %s of those at %s", r.World, report.Percent(r.Needless), level(s.Lower), Chance(r.Missed), level(s.Upper)))
		}
	}
	text := "This plan does NOT keep the promised risks: " + strings.Join(broken, "; ") + "."
	if s.Method == plans.OwnTable {
		return text
	}
	return text + " The method risk-true makes one that does, where there is one."
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

func effortTable(s *plans.StagePlan) *report.Table {
	t := &report.Table{
		Caption: "What a visit takes: expectations, as exact as the risks.",
		Columns: []report.Column{
			{Head: "field at"}, {Head: "level", Right: true}, {Head: "clumping"},
			{Head: "chance to act", Right: true},
			{Head: "stops", Right: true}, {Head: report.UnitsName(s.Stage), Right: true},
			{Head: "time", Right: true}, {Head: "9 in 10 need at most", Right: true},
		}}
	for _, e := range s.Effort {
		t.Add(e.At, report.Level(s.Measure, e.Level), report.Clumping(e.Clump), Chance(e.Act), report.Number(e.Stops, 3),
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
