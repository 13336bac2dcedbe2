package handouts

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/bulletin"
	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

func BulletinCommand(e shell.Env) *cli.Command {
	out := shell.NewOption("out", "`FILE` write the hand-out there; its name ends in .pdf", func(s string) (string, error) {
		if !strings.EqualFold(filepath.Ext(s), ".pdf") {
			return "", fmt.Errorf("%q is no PDF file; end the name in .pdf", s)
		}
		return s, nil
	})
	return &cli.Command{
		Name:      "bulletin",
		Usage:     "set a region's rules as a hand-out on paper",
		ArgsUsage: "PROTOCOL.toml|PLAN.json",
		Description: `Writes one or two pages (A4, PDF) for growers and scouts: how to scout, the thresholds of each growth stage, the decision table and its picture, how often it is wrong in plain words, when to come back, and the cautions. From a protocol the plan is made first, by the method risk-true; a plan file keeps its own.

$ stopwise bulletin testdata/marrow-vale/protocol.toml --out bulletin.pdf
$ stopwise bulletin plan.json --out bulletin.pdf`,
		Flags: []cli.Flag{out},
		Action: func(c *cli.Context) error {
			if c.NArg() != 1 {
				return shell.UsageHint("see stopwise bulletin --help", "bulletin takes one protocol or plan, not %d arguments", c.NArg())
			}
			if err := shell.Required(out); err != nil {
				return err
			}
			ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt)
			defer cancel()
			plan, err := shell.PlanOf(ctx, e, c.Args().First(), "a hand-out")
			if err != nil {
				return err
			}
			b, err := bulletinOf(plan)
			if err != nil {
				return err
			}
			data, err := b.PDF()
			if err != nil {
				return err
			}
			if err := shell.WriteFile("--out", out.Value, data, outfile.IsPicture, "a hand-out that stopwise made"); err != nil {
				return err
			}
			d := &report.Document{}
			d.Para("Hand-out written to %s.", out.Value)
			return report.Write(e.Out, "text", report.Output{Doc: d})
		},
	}
}

func bulletinOf(plan *plans.Plan) (bulletin.Bulletin, error) {
	p := plan.Protocol
	b := bulletin.Bulletin{
		Kicker: say.Joined(" · ", "Scouting bulletin", p.Region, seasonText(p)),
		Title:  p.Title,
		Foot:   say.Joined(" · ", p.Title, p.Region, seasonText(p), "made with stopwise "+plan.Program),
	}
	if b.Title == "" {
		b.Title = "Scouting rules"
	}
	if p.Pest != "" && p.Crop != "" {
		b.Sub = "When to treat " + p.Crop + " against the " + p.Pest + ", and when to leave it alone"
	}
	picture, err := bulletinPicture(plan)
	if err != nil {
		return b, err
	}
	pictureHead := "The same tables as pictures"
	if len(plan.Stages) == 1 {
		pictureHead = "The same table as a picture"
	}
	b.Parts = []bulletin.Part{
		bulletin.Text{Head: "How to scout", Paras: scoutSteps(plan), Numbered: true},
		thresholdPart(plan),
	}
	b.Parts = append(b.Parts, riskParts(plan)...)
	if plan.Season != nil {
		b.Parts = append(b.Parts, bulletin.Text{Head: "Over the season", Paras: []string{say.SeasonPromise(plan)}})
	}
	b.Parts = append(b.Parts,
		bulletin.Text{Head: "Coming back", Paras: comingBackSentences(p)},
		bulletin.Text{Head: "Cautions", Paras: cautionsOf(p)},
		decisionPart(plan),
		bulletin.Picture{Head: pictureHead, Picture: picture,
			Note: "Stop on the level, running total upright. On or below the lower stairs: leave. On or above the upper stairs: act. Between them: walk on."})
	if taken := spokenDefaults(p); len(taken) > 0 {
		b.Parts = append(b.Parts, bulletin.Text{Head: "Small print", Small: true,
			Paras: []string{"Not said in the protocol and taken by default, common practice, no source: " + strings.Join(taken, "; ") + "."}})
	}
	return b, nil
}

// spokenDefaults leaves out what the thresholds show anyway.
func spokenDefaults(p plans.Protocol) []string {
	var out []string
	for _, d := range p.Defaults {
		if strings.Contains(d, "measure = ") {
			continue
		}
		for i, s := range p.Stages {
			d = strings.Replace(d, fmt.Sprintf("stage.%d.", i), s.Name+": ", 1)
		}
		out = append(out, strings.ReplaceAll(d, "_", " "))
	}
	return out
}

func seasonText(p plans.Protocol) string {
	if p.Season == "" {
		return ""
	}
	return "season " + p.Season
}

// scoutSteps says what to do. How to enter a field and what goes wrong is common
// practice, no source.
func scoutSteps(plan *plans.Plan) []string {
	examine := say.SameOrEach(plan.Protocol.Stages, func(s plans.Stage) string {
		plants := report.Units(s, s.Stop.Plants)
		if s.Unit.Text == "" {
			return fmt.Sprintf("At each stop examine %s.", plants)
		}
		return fmt.Sprintf("At each stop examine %s (%s). Take the leaves agreed on, not the worst ones.", plants, s.Unit.Text)
	})
	steps := []string{
		"Walk into the field, away from the gate and the edge. " + say.RouteSentence(plan.Protocol.Route, plan.Stages),
		examine,
	}
	if t := infestedWhen(plan); t != "" {
		steps = append(steps, t)
	}
	steps = append(steps,
		"Write down the count of the stop, a whole number, and add it to those before.",
		"Look up the stop in the decision table of the growth stage. Total at or below the leave number: leave the field untreated and come back. At or above the act number: act, the threshold is taken as reached. Between them: walk to another stop.",
		say.SameOrEach(plan.Protocol.Stages, func(s plans.Stage) string {
			return fmt.Sprintf("There is no verdict before stop %d, and always one at the last stop of the table.", s.Stop.Minimum)
		})+" Do not walk on after a verdict.")
	for _, s := range plan.Stages {
		if s.Sign != nil {
			steps = append(steps, fmt.Sprintf("At %s, act only if this sign was also seen at %s: %s. Otherwise come back soon and look for it again.",
				say.OrThisStage(s.Name), report.SignAt(*s.Sign), s.Sign.Text))
		}
	}
	return steps
}

// infestedWhen says what is counted: once where all stages agree, else for each.
func infestedWhen(plan *plans.Plan) string {
	what := func(s *plans.StagePlan) string {
		one, _ := report.UnitWords(s.Stage)
		switch n := s.Unit.Tally; {
		case s.Measure == plans.MeanPerLeaf:
			return fmt.Sprintf("count the insects on %s of each %s.", report.Count(s.UnitsPerPlant(), "leaf", "leaves"), one)
		case n > 0:
			return fmt.Sprintf("a %s counts as infested when a leaf carries at least %s.", one, report.Count(n, "insect", "insects"))
		}
		return ""
	}
	var parts []string
	same := true
	for _, s := range plan.Stages {
		text := what(s)
		same = same && text == what(plan.Stages[0])
		if text != "" {
			parts = append(parts, say.Capital("at "+say.OrThisStage(s.Name)+" "+text))
		}
	}
	if same && len(parts) > 0 {
		return say.Capital(what(plan.Stages[0]))
	}
	return strings.Join(parts, " ")
}

func thresholdPart(plan *plans.Plan) bulletin.Table {
	t := bulletin.Table{Head: "Thresholds", Columns: []bulletin.Column{
		{Head: "growth stage", Left: true, Weight: 1.5}, {Head: "needless to treat at or below"}, {Head: "action threshold", Bold: true},
		{Head: "harmful to leave at or above"}, {Head: "at most so many treated needlessly"}, {Head: "at most so many missed"}}}
	const risks = " The two risks are those allowed at the bound beside the threshold."
	unit := ""
	switch measure, same := measureOf(plan); {
	case !same:
		t.Note = "Share of plants infested, or mean number of insects per leaf, in the whole field." + risks
	case measure == plans.MeanPerLeaf:
		t.Note, unit = "Mean number of insects per leaf in the whole field."+risks, " per leaf"
	default:
		t.Note = "Share " + say.Measured(plan.Stages[0].Stage) + " in the whole field." + risks
	}
	for _, s := range plan.Stages {
		level := func(x float64) string { return strings.TrimSuffix(report.Level(s.Measure, x), unit) }
		name := s.Name
		if name == "" {
			name = "all"
		}
		missed := report.Share(s.MissedRisk)
		if !s.MissedKnown() {
			missed = say.NotKnown
		}
		t.Rows = append(t.Rows, []string{name, level(s.Lower), level(s.Threshold), level(s.Upper), report.Share(s.NeedlessRisk), missed})
	}
	return t
}

// manyStages is the number of stages up to which the risks of each are told in
// sentences.
const manyStages = 4

func riskParts(plan *plans.Plan) []bulletin.Part {
	const head = "How often it is wrong"
	closing := "Nearer the threshold either verdict can come, and both are then nearly right. " + clumpSentenceShort(plan) +
		" Taken for granted: " + strings.Join(say.Grounds(plan), "; ") + "."
	if len(plan.Stages) <= manyStages {
		return []bulletin.Part{bulletin.Text{Head: head, Paras: append(riskSentences(plan), closing)}}
	}
	t := bulletin.Table{Head: head, Columns: []bulletin.Column{
		{Head: "growth stage", Left: true, Weight: 1.4}, {Head: "of 100 fields at the lower level treated needlessly", Weight: 1.5}, {Head: "of 100 fields at the upper level missed", Weight: 1.4},
		{Head: "stops of a visit, on average", Weight: 1.1}, {Head: "time, on average", Weight: 1.9}, {Head: "nine in ten need at most", Weight: 1},
	}, Note: "The levels are those of the thresholds above; the numbers of fields are the most, in whole fields. " + closing}
	for _, s := range plan.Stages {
		e := effortOf(s)
		needless, _ := s.WorstPromised()
		t.Rows = append(t.Rows, []string{s.Name, of100(needless), missedOf100(s), e.stops, e.minutes, strconv.Itoa(e.within)})
	}
	return []bulletin.Part{t}
}

// measureOf returns the measure of the stages, and whether all have the same.
func measureOf(plan *plans.Plan) (m plans.Measure, same bool) {
	m, same = plan.Stages[0].Measure, true
	for _, s := range plan.Stages {
		same = same && s.Measure == m
	}
	return m, same
}

// riskSentences tells each stage's risks and effort in numbers of fields.
func riskSentences(plan *plans.Plan) []string {
	var out []string
	for _, s := range plan.Stages {
		level := func(x float64) string { return report.Level(s.Measure, x) }
		of := " " + say.Measured(s.Stage)
		if s.Measure == plans.MeanPerLeaf {
			of = ""
		}
		text := say.PromiseSentence(s)
		if s.Keeps() {
			needless, missed := s.WorstPromised()
			text = fmt.Sprintf("of 100 fields with %s%s %s treated needlessly; of 100 fields with %s %s left although they should be treated.",
				level(s.Lower), of, atMostOf100(needless), level(s.Upper), atMostOf100(missed))
			if held := say.HeldUnder(s.HoldUnder, s.Stage); held != "" {
				text += " This holds too " + held + "."
			}
		}
		if s.Name != "" {
			text = s.Name + ": " + text
		}
		if s.Keeps() {
			text = say.Joined(" ", text, say.SlackSentence(s), say.Reservation(s))
		}
		e := effortOf(s)
		out = append(out, say.Capital(text)+fmt.Sprintf(" A visit takes %s stops on average (%s); nine in ten need at most %d.", e.stops, e.minutes, e.within))
	}
	return out
}

// missedOf100 returns how many of 100 fields at the upper bound are missed.
func missedOf100(s *plans.StagePlan) string {
	if !s.MissedKnown() {
		return say.NotKnown
	}
	_, missed := s.WorstPromised()
	return of100(missed)
}

// of100 returns a number of fields in 100, rounded up.
func of100(chance float64) string {
	if chance < 0.005 {
		return "fewer than 1"
	}
	return report.OfHundred(chance)
}

func atMostOf100(chance float64) string {
	switch n := of100(chance); n {
	case "fewer than 1":
		return n + " is"
	case "1":
		return "at most 1 is"
	default:
		return "at most " + n + " are"
	}
}

// effortText is what a visit takes, over the levels and the clumping range.
type effortText struct {
	stops, minutes string
	within         int
}

func effortOf(s *plans.StagePlan) effortText {
	few, many, within := s.Effort[0], s.Effort[0], 0
	for _, e := range s.Effort {
		if e.Stops < few.Stops {
			few = e
		}
		if e.Stops > many.Stops {
			many = e
		}
		within = max(within, e.Within90)
	}
	between := func(a, b string) string {
		if a == b {
			return "about " + a
		}
		return a + " to " + b
	}
	return effortText{between(report.Whole(few.Stops), report.Whole(many.Stops)),
		between(report.Minutes(few.Minutes), report.Minutes(many.Minutes)), within}
}

func clumpSentenceShort(plan *plans.Plan) string {
	return "The numbers hold for fields as clumped as the protocol says. " + strings.TrimSuffix(say.ClumpSentence(plan.Protocol), " The promise must hold for all of it.")
}

func comingBackSentences(p plans.Protocol) []string {
	return []string{say.SameOrEach(p.Stages, comingBackSentence)}
}

func comingBackSentence(s plans.Stage) string {
	c := s.ComingBack
	if c == nil {
		return "The protocol does not say when to come back to a field that was left. Ask the local adviser."
	}
	if c.ByIntervals {
		return fmt.Sprintf("After the verdict leave come back in %s, once the pest has been found in the field in %s. These days were chosen for the season, with the growth of the pest in them; from the decision to the treatment it takes %s.",
			report.Days(c.DaysUntilFound), report.Days(c.DaysOnceFound), report.Days(c.LeadDays))
	}
	text := fmt.Sprintf("After the verdict leave come back within %s, once the pest has been found in the field within %s; sooner where what was seen could grow to the threshold before that (stopwise check names the day).",
		report.Days(c.DaysUntilFound), report.Days(c.DaysOnceFound))
	if c.GrowthPerDay > 0 {
		text += fmt.Sprintf(" Numbers can double in %s days (growth %s a day), and from the decision to the treatment it takes %s.",
			report.Number(math.Ln2/c.GrowthPerDay, 2), report.Plain(c.GrowthPerDay), report.Days(c.LeadDays))
	}
	return text
}

// decisionPart sets the tables of all stages side by side.
func decisionPart(plan *plans.Plan) bulletin.Table {
	s := plan.Stages[0]
	what := say.Counted(s.Stage)
	if _, same := measureOf(plan); !same {
		what = "infested plants or insects"
	}
	t := bulletin.Table{
		Head: "Decision table: total of " + what + " so far, after each stop", Wide: len(plan.Stages) > 2, Every: 5,
		Columns: []bulletin.Column{{Head: "stop", Weight: 0.7}, {Head: report.UnitsName(s.Stage), Weight: 0.8}},
		Note:    "A dash: that verdict cannot come at this stop. An empty place: the table ended before.",
	}
	leave, act := "leave at or below", "act at or above"
	if len(plan.Stages) > manyStages {
		t.Columns[0].Weight, t.Columns[1].Weight = 1.3, 1.5
		leave, act = "leave \u2264", "act \u2265"
	}
	most, first := 0, math.MaxInt
	for _, s := range plan.Stages {
		t.Columns = append(t.Columns, bulletin.Column{Group: s.Name, Head: leave}, bulletin.Column{Group: s.Name, Head: act, Bold: true})
		most, first = max(most, s.Table.Stops()), min(first, s.Table.First())
	}
	for j := 1; j <= most; j++ {
		if j < first-1 {
			continue
		}
		plants := report.OneOrEach(plan.Stages, func(s *plans.StagePlan) string { return fmt.Sprint(j * s.Plants()) })
		row := []string{fmt.Sprint(j), plants}
		if j == first-1 && j > 1 {
			row = []string{fmt.Sprintf("1 to %d", j), "to " + plants}
		}
		for _, s := range plan.Stages {
			if j > s.Table.Stops() {
				row = append(row, "", "")
				continue
			}
			r := s.Rows()[j-1]
			row = append(row, orDash(r.Leave), orDash(r.Act))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func orDash(n *int) string {
	if n == nil {
		return "\u2013"
	}
	return fmt.Sprint(*n)
}

func bulletinPicture(plan *plans.Plan) (figure.Picture, error) {
	v := figure.Staircases{Columns: pictureColumns(len(plan.Stages))}
	for _, s := range plan.Stages {
		c := drawing.Staircase(s, nil)
		c.Head, c.StopLabel = s.Name, "stop"
		v.Stages = append(v.Stages, c)
	}
	return v.Picture()
}

// pictureColumns is how many pictures stand side by side.
func pictureColumns(stages int) int {
	if stages > manyStages {
		return 4
	}
	return min(3, stages)
}

func cautionsOf(p plans.Protocol) []string {
	out := []string{strings.TrimPrefix(say.Cautions, "Cautions: ")}
	out[0] = say.Capital(out[0])
	if p.Cautions != "" {
		out = append(out, p.Cautions)
	}
	return out
}
