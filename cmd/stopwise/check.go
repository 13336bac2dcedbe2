package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

type checkJSON struct {
	report.Envelope
	Stage     string             `json:"stage"`
	Verdict   string             `json:"verdict"`
	Stop      int                `json:"stop"`
	Plants    int                `json:"plants"`
	Infested  int                `json:"infested"` // insects for a mean per leaf
	Leave     *int               `json:"leave"`
	Act       *int               `json:"act"`
	DecidedAt *int               `json:"decided_at_stop"`
	Signs     int                `json:"signs"`
	NoSign    bool               `json:"sign_missing"`
	Next      *nextJSON          `json:"next"`
	Estimate  float64            `json:"estimate"`
	Interval  intervalJSON       `json:"interval"`
	FromHere  map[string]chances `json:"from_here"`
	Revisit   *revisitJSON       `json:"revisit"` // null while walking, after act, and where the protocol does not say
	Uneven    bool               `json:"uneven_plants"`
	PathRisks []plans.Risk       `json:"path_risks"`
}

type nextJSON struct {
	Plants int  `json:"plants"`
	Leave  *int `json:"leave_at_most"`
	Act    *int `json:"act_at_least"`
}

type intervalJSON struct {
	Lower      float64 `json:"lower"`
	Upper      float64 `json:"upper"`
	Confidence float64 `json:"confidence"`
}

type chances struct {
	Act   float64 `json:"p_act"`
	Leave float64 `json:"p_leave"`
}

func checkCommand(e env) *cli.Command {
	stage, format := stageFlag(), formatFlag()
	found := &cli.BoolFlag{Name: "found", Usage: "the pest was found in this field on an earlier visit: it is visited more often"}
	return &cli.Command{
		Name:      "check",
		Usage:     "say after each stop whether to leave, to act or to walk on",
		ArgsUsage: "PLAN.json COUNT...",
		Description: `Give the count of every stop so far, in order: the infested plants, or infested/plants where another number of plants was seen than planned. Where the growth stage asks for a further sign, put an s behind the count of each stop at which it was seen.

$ stopwise check plan.json 3 5 2/18 6 --stage boot
$ stopwise check plan.json 9 7s 8 11s --stage "soft dough"`,
		Flags: []cli.Flag{stage, found, format},
		Action: func(c *cli.Context) error {
			if c.NArg() < 2 {
				return usageHint("such as stopwise check plan.json 3 5 2/18", "check needs a plan and the count of each stop")
			}
			plan, estimate, err := readAnyPlan(e, c.Args().First())
			if err != nil {
				return err
			}
			var counts []plans.Count
			for i, arg := range c.Args().Tail() {
				n, err := plans.ParseCount(arg)
				if err != nil {
					return usageError("stop %d: %v", i+1, err)
				}
				counts = append(counts, n)
			}
			if estimate != nil {
				if stage.set {
					return usageError("--stage: a plan for an estimate has no growth stages")
				}
				if c.Bool("found") {
					return usageError("--found: a plan for an estimate does not say when to come back")
				}
				return checkPrecision(e, estimate, counts, format.value)
			}
			s, err := plan.Stage(stage.value)
			if err != nil {
				return usageError("%v", err)
			}
			a, err := s.Check(counts)
			if err != nil {
				return usageError("%v", err)
			}
			back, err := s.Revisit(counts, plans.History{Found: c.Bool("found")})
			if err != nil {
				return usageError("%v", err)
			}
			return report.Write(e.Out, format.value, checkOutput(s, a, back))
		},
	}
}

func checkOutput(s *plans.StagePlan, a plans.Answer, back *plans.Revisit) report.Output {
	if !comesBack(s, a) {
		back = nil
	}
	j := newCheckJSON(s, a, back)
	records := report.NewRecords("stage", "verdict", "stop", "plants", "infested", "leave", "act", "estimate", "interval_lower", "interval_upper", "revisit_days")
	records.Add(s.Name, j.Verdict, a.Stop, a.Plants, a.Total, j.Leave, j.Act, a.Estimate, a.Interval.Lower, a.Interval.Upper, revisitDays(back))
	d := &report.Document{}
	when := ""
	if back != nil {
		when = fmt.Sprintf("Come back in %s. %s", report.Count(back.Days, "day", "days"), revisitReason(s, back))
		if !back.Found {
			when += " Where the pest was found in this field before, add --found: then the visits are closer together."
		}
	}
	answerDocument(d, s, a, when)
	if a.Verdict == plans.Act {
		addCautions(d, s.About)
	}
	return report.Output{Doc: d, Records: records, JSON: j}
}

func newCheckJSON(s *plans.StagePlan, a plans.Answer, back *plans.Revisit) checkJSON {
	j := checkJSON{
		Envelope: report.Envelope{Kind: "stopwise answer", Version: 1},
		Stage:    s.Name, Verdict: a.Verdict.String(), Stop: a.Stop, Plants: a.Plants, Infested: a.Total,
		Leave: orNull(a.Leave, plans.NeverLeave), Act: orNull(a.Act, plans.NeverAct),
		DecidedAt: orNull(a.DecidedAt, 0), Signs: a.Signs, NoSign: a.SignMissing, Estimate: a.Estimate,
		Interval: intervalJSON{a.Interval.Lower, a.Interval.Upper, a.Interval.Confidence},
		Revisit:  newRevisitJSON(back),
		Uneven:   a.Uneven, PathRisks: a.Risks,
	}
	if n := a.Next; n != nil {
		j.Next = &nextJSON{n.Plants, orNull(n.Leave, plans.NeverLeave), orNull(n.Act, plans.NeverAct)}
	}
	if h := a.FromHere; h != nil {
		j.FromHere = map[string]chances{"lower": {h.ActAtLower, h.LeaveAtLower}, "upper": {h.ActAtUpper, h.LeaveAtUpper}}
	}
	return j
}

func orNull(n, null int) *int {
	if n == null {
		return nil
	}
	return &n
}

// answerDocument puts the verdict first and then when to come back, where it is
// known: that is what the scout reads.
func answerDocument(d *report.Document, s *plans.StagePlan, a plans.Answer, when string) {
	d.Para("%s", verdictSentence(s, a))
	switch {
	case when != "":
		d.Para("%s", when)
	case a.Verdict == plans.Leave && s.ComingBack == nil:
		d.Para("The protocol does not say when to come back: ask the specialist.")
	}
	if a.DecidedAt > 0 && a.DecidedAt < a.Stop {
		d.Note("The verdict came at stop %d, and the stops after it do not change it: who walks on until the numbers look otherwise no longer has the plan's risks.", a.DecidedAt)
	}
	nextDocument(d, s, a)
	d.Para("%s", estimateSentence(s, a))
	if h := a.FromHere; h != nil {
		d.Para("From here on, walked to the end: a field at %s would end with act in %s of visits, one at %s with leave in %s (%s, exact).",
			report.Level(s.Measure, s.Lower), report.Percent(h.ActAtLower),
			report.Level(s.Measure, s.Upper), report.Percent(h.LeaveAtUpper), h.Clump)
	}
	if a.Uneven {
		n, m := worst(a.Risks)
		d.Para("Not every stop had the planned %d plants. The numbers are taken at the plants really seen, rounded to the careful side; continued as planned, this path acts needlessly in at most %s of fields at %s (allowed %s) and misses at most %s of those at %s (allowed %s).",
			s.Plants(), report.Percent(n), report.Level(s.Measure, s.Lower), report.Share(s.NeedlessRisk),
			report.Percent(m), report.Level(s.Measure, s.Upper), report.Share(s.MissedRisk))
	}
	if !s.Keeps() {
		d.Note("%s", promiseSentence(s))
	}
	if s.Sign != nil && !a.SignMissing {
		d.Para("The sign (%s) was seen at %s; act asks for %d.", s.Sign.Text, report.Count(a.Signs, "stop", "stops"), s.Sign.Stops)
	}
}

func worst(risks []plans.Risk) (needless, missed float64) {
	for _, r := range risks {
		needless, missed = max(needless, r.Needless), max(missed, r.Missed)
	}
	return needless, missed
}

func verdictSentence(s *plans.StagePlan, a plans.Answer) string {
	what := fmt.Sprintf("%d infested of %s at %s", a.Total, report.Count(a.Plants, "plant", "plants"), report.Count(a.Stop, "stop", "stops"))
	if s.Measure == plans.MeanPerLeaf {
		what = fmt.Sprintf("%s on %s at %s", report.Count(a.Total, "insect", "insects"), report.Count(s.Units(a.Plants), "leaf", "leaves"), report.Count(a.Stop, "stop", "stops"))
	}
	if a.SignMissing {
		return fmt.Sprintf("DO NOT TREAT YET, come back soon: the count is reached (%s), but the sign (%s) was seen at only %s, and the rule asks for %d. Look for it again at the next visit.",
			what, s.Sign.Text, report.Count(a.Signs, "stop", "stops"), s.Sign.Stops)
	}
	switch {
	case a.DecidedAt > 0 && a.DecidedAt < a.Stop:
		return fmt.Sprintf("%s, as decided at stop %d. By now %s.", verdictWords[a.Verdict], a.DecidedAt, what)
	case a.Verdict == plans.Act:
		return fmt.Sprintf("%s: %s reaches the act number %d.", verdictWords[a.Verdict], what, a.Act)
	case a.Verdict == plans.Leave:
		return fmt.Sprintf("%s: %s is not above the leave number %d.", verdictWords[a.Verdict], what, a.Leave)
	}
	why := fmt.Sprintf("between leave (%s) and act (%s)", orNever(a.Leave, plans.NeverLeave), orNever(a.Act, plans.NeverAct))
	if a.Leave == plans.NeverLeave && a.Act == plans.NeverAct {
		why = fmt.Sprintf("no verdict before stop %d", s.Table.First())
		if a.Stop >= s.Table.First() {
			why = "no verdict yet"
		}
	}
	return fmt.Sprintf("%s to stop %d: %s, %s.", verdictWords[a.Verdict], a.Stop+1, what, why)
}

// verdictWords are the verdicts as they are shown: not told apart by colour.
var verdictWords = map[plans.Verdict]string{
	plans.Act:      "ACT, the threshold is taken as reached",
	plans.Leave:    "LEAVE the field and come back",
	plans.Continue: "WALK ON",
}

func orNever(n, never int) string {
	if n == never {
		return "never"
	}
	return fmt.Sprint(n)
}

func nextDocument(d *report.Document, s *plans.StagePlan, a plans.Answer) {
	if a.Next == nil {
		return
	}
	if t := nextSentence(s, a); t != "" {
		d.Para("%s", t)
	}
}

func nextSentence(s *plans.StagePlan, a plans.Answer) string {
	n := a.Next
	count := "infested"
	if s.Measure == plans.MeanPerLeaf {
		count = "insects"
	}
	var parts []string
	if n.Leave != plans.NeverLeave {
		parts = append(parts, fmt.Sprintf("%s brings leave", atMost(n.Leave, count)))
	}
	if n.Act != plans.NeverAct {
		parts = append(parts, fmt.Sprintf("%d %s or more brings act", n.Act, count))
	}
	if n.Act == 0 {
		return fmt.Sprintf("At stop %d (%s) any count brings act.", a.Stop+1, report.Count(n.Plants, "plant", "plants"))
	}
	if len(parts) == 0 && a.Stop+1 < s.Table.First() {
		return "" // the verdict sentence has said it
	}
	if len(parts) == 0 {
		return fmt.Sprintf("At stop %d (%s) no count can bring a verdict yet.", a.Stop+1, report.Count(n.Plants, "plant", "plants"))
	}
	t := fmt.Sprintf("At stop %d (%s) %s", a.Stop+1, report.Count(n.Plants, "plant", "plants"), strings.Join(parts, ", "))
	switch {
	case n.Leave == plans.NeverLeave:
		return t + "; leave is not possible there."
	case n.Act == plans.NeverAct:
		return t + "; act is not possible there."
	case n.Act > n.Leave+1:
		return t + ", anything between walks on."
	}
	return t + ": it is the last stop."
}

func atMost(n int, what string) string {
	if n == 0 {
		return "none " + what
	}
	return fmt.Sprintf("%d %s or fewer", n, what)
}

func estimateSentence(s *plans.StagePlan, a plans.Answer) string {
	w := s.Clumped(s.Threshold)
	if s.Measure == plans.MeanPerLeaf {
		return fmt.Sprintf("Mean so far %s insects per leaf (%s interval %s to %s, as clumped as the protocol's clumped end).",
			report.Number(a.Estimate, 3), report.Share(a.Interval.Confidence), report.Number(a.Interval.Lower, 3), report.Number(a.Interval.Upper, 3))
	}
	return fmt.Sprintf("Share infested so far %s (%s interval %s to %s, rho %s).",
		report.Percent(a.Estimate), report.Share(a.Interval.Confidence), report.Percent(a.Interval.Lower), report.Percent(a.Interval.Upper), fmt.Sprintf("%.4g", w.Clump))
}
