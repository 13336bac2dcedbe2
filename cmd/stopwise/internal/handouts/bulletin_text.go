package handouts

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/bulletin"
	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/laying"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/words"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

func bulletinOf(plan *plans.Plan, stops *laying.Laid, language *words.Language) (bulletin.Bulletin, error) {
	l := handout{say.In{Language: language}, plan}
	p := plan.Protocol
	b := bulletin.Bulletin{
		Language: language,
		Kicker:   say.Joined(" · ", l.Say("bulletin.kicker"), p.Region, l.season()),
		Title:    p.Title,
		Foot:     say.Joined(" · ", p.Title, p.Region, l.season(), l.Say("bulletin.made_with", "Program", plan.Program)),
	}
	if b.Title == "" {
		b.Title = l.Say("bulletin.title")
	}
	if p.Pest != "" && p.Crop != "" {
		b.Sub = l.Say("bulletin.sub", "Crop", p.Crop, "Pest", p.Pest)
	}
	picture, err := l.picture()
	if err != nil {
		return b, err
	}
	pictureHead := l.Say("bulletin.pictures")
	if len(plan.Stages) == 1 {
		pictureHead = l.Say("bulletin.picture")
	}
	b.Parts = []bulletin.Part{
		bulletin.Text{Head: l.Say("bulletin.how"), Paras: l.steps(stops.Told(p.Route)), Numbered: true}}
	if stops != nil {
		b.Parts = append(b.Parts, bulletin.Picture{Head: l.Say("where.title"), Picture: stops.Small(), Note: stops.Note(language), Small: true})
	}
	b.Parts = append(b.Parts, l.thresholds())
	b.Parts = append(b.Parts, l.risks()...)
	if plan.Season != nil {
		b.Parts = append(b.Parts, bulletin.Text{Head: l.Say("bulletin.season"), Paras: []string{l.SeasonPromise(plan)}})
	}
	b.Parts = append(b.Parts,
		bulletin.Text{Head: l.Say("bulletin.coming_back"), Paras: []string{l.SameOrEach(p.Stages, l.comingBack)}},
		bulletin.Text{Head: l.Say("bulletin.cautions"), Paras: l.cautions()},
	)
	b.Parts = append(b.Parts, l.decisions()...)
	b.Parts = append(b.Parts, l.points()...)
	b.Parts = append(b.Parts,
		bulletin.Picture{Head: pictureHead, Picture: picture, Note: l.Say("bulletin.picture_note")})
	if taken := spokenDefaults(p); len(taken) > 0 {
		b.Parts = append(b.Parts, bulletin.Text{Head: l.Say("bulletin.small_print"), Small: true,
			Paras: []string{l.Say("bulletin.defaults", "Taken", strings.Join(taken, "; "))}})
	}
	return b, nil
}

// A handout says what stands in the bulletin of a plan.
type handout struct {
	say.In
	plan *plans.Plan
}

// spokenDefaults leaves out what the thresholds show anyway.
func spokenDefaults(p plans.Protocol) []string {
	var out []string
	for _, d := range p.Defaults {
		if strings.HasPrefix(d, "measure ") {
			continue
		}
		out = append(out, strings.ReplaceAll(d, "_", " "))
	}
	return out
}

func (l handout) season() string {
	if l.plan.Protocol.Season == "" {
		return ""
	}
	return l.Say("bulletin.season_of", "Season", l.plan.Protocol.Season)
}

// stage names a stage in the middle of a sentence.
func (l handout) stage(name string) string {
	if name == "" {
		return l.Say("bulletin.this_stage")
	}
	return name
}

// steps says what to do. How to enter a field and what goes wrong is common
// practice, no source.
func (l handout) steps(r *protocol.Route) []string {
	examine := l.SameOrEach(l.plan.Protocol.Stages, func(s plans.Stage) string {
		units := l.Units(s, s.Stop.Plants)
		if s.Unit.Text == "" {
			return l.Say("bulletin.examine", "Units", units)
		}
		return l.Say("bulletin.examine_unit", "Units", units, "Unit", s.Unit.Text)
	})
	steps := []string{l.Say("bulletin.enter") + " " + l.RouteSentence(r, l.plan.Stages), examine}
	if t := l.infestedWhen(); t != "" {
		steps = append(steps, t)
	}
	first := l.SameOrEach(l.plan.Protocol.Stages, func(s plans.Stage) string { return l.Say("bulletin.first", "First", s.Stop.Minimum) })
	steps = append(steps, l.Say("bulletin.write_down"), l.Say("bulletin.look_up"), first+" "+l.Say("bulletin.do_not_walk_on"))
	for _, s := range l.plan.Stages {
		if text := l.WorthSentence(s); text != "" {
			if s.Name != "" && len(l.plan.Stages) > 1 {
				text = l.Say("unit.stage_says", "Stage", s.Name, "Text", text)
			}
			steps = append(steps, text)
		}
		if s.Sign != nil {
			steps = append(steps, l.Say("bulletin.sign", "Stage", l.stage(s.Name), "At", l.SignAt(*s.Sign), "Sign", s.Sign.Text))
		}
	}
	return steps
}

// infestedWhen says what is counted: once where all stages agree, else for each.
func (l handout) infestedWhen() string {
	what := func(s *plans.StagePlan) string {
		one, _ := l.UnitWords(s.Stage)
		switch n := s.Unit.Tally; {
		case s.Measure == plans.MeanPerLeaf:
			return l.Say("bulletin.count_insects", "Leaves", l.Count("count.leaves", s.UnitsPerPlant()), "One", one)
		case n > 0:
			return l.Say("bulletin.infested_when", "One", one, "Insects", l.Count("count.insects", n))
		}
		return ""
	}
	var parts []string
	same := true
	for _, s := range l.plan.Stages {
		text := what(s)
		same = same && text == what(l.plan.Stages[0])
		if text != "" {
			parts = append(parts, say.Capital(l.Say("bulletin.at_stage", "Stage", l.stage(s.Name), "Text", text)))
		}
	}
	if same && len(parts) > 0 {
		return say.Capital(what(l.plan.Stages[0]))
	}
	return strings.Join(parts, " ")
}

func (l handout) thresholds() bulletin.Table {
	t := bulletin.Table{Head: l.Say("bulletin.thresholds"), Columns: []bulletin.Column{
		{Head: l.Say("bulletin.growth_stage"), Left: true, Weight: 1.5}, {Head: l.Say("bulletin.needless_below")}, {Head: l.Say("bulletin.threshold"), Bold: true},
		{Head: l.Say("bulletin.harmful_above")}, {Head: l.Say("bulletin.most_needless")}, {Head: l.Say("bulletin.most_missed")}}}
	measure, same := measureOf(l.plan)
	level := func(s *plans.StagePlan, x float64) string { return l.Level(s.Measure, x) }
	switch {
	case !same:
		t.Note = l.Say("bulletin.levels_both")
	case measure == plans.MeanPerLeaf:
		t.Note = l.Say("bulletin.levels_mean")
		level = func(_ *plans.StagePlan, x float64) string { return l.Number(report.Constant(x)) }
	default:
		t.Note = l.Say("bulletin.levels_share", "Measured", l.Measured(l.plan.Stages[0].Stage))
	}
	t.Note += " " + l.Say("bulletin.two_risks")
	for _, s := range l.plan.Stages {
		name := s.Name
		if name == "" {
			name = l.Say("bulletin.all")
		}
		missed := l.Number(report.Share(s.MissedRisk))
		if !s.MissedKnown() {
			missed = l.Say("promise.not_known")
		}
		t.Rows = append(t.Rows, []string{name, level(s, s.Lower), level(s, s.Threshold), level(s, s.Upper), l.Number(report.Share(s.NeedlessRisk)), missed})
	}
	return t
}

// manyStages is the number of stages up to which the risks of each are told in
// sentences.
const manyStages = 4

// worth returns what a stop of a stage of the plan counts.
func (l handout) worth(s plans.Stage) rule.Worth {
	for _, own := range l.plan.Stages {
		if own.Name == s.Name {
			return own.Worth
		}
	}
	return rule.Worth{}
}

func (l handout) comingBack(s plans.Stage) string {
	c := s.ComingBack
	if c == nil {
		return l.Say("bulletin.no_return")
	}
	until, once, lead := l.Days(c.DaysUntilFound), l.Days(c.DaysOnceFound), l.Days(c.LeadDays)
	if c.MoreFrom > 0 {
		return l.Say("bulletin.back_by_last", "UntilFound", until, "OnceFound", once, "MoreFound", l.Days(c.DaysMoreFound), "MoreFrom", l.MoreFrom(s, l.worth(s), c.MoreFrom), "Lead", lead)
	}
	if c.ByIntervals {
		return l.Say("bulletin.back_by_days", "UntilFound", until, "OnceFound", once, "Lead", lead)
	}
	text := l.Say("bulletin.back", "UntilFound", until, "OnceFound", once)
	if c.GrowthPerDay > 0 {
		text += " " + l.Say("bulletin.doubles", "Days", l.Number(report.Number(math.Ln2/c.GrowthPerDay, 2)), "Growth", l.Number(report.Plain(c.GrowthPerDay)), "Lead", lead)
	}
	return text
}

// decisions sets the tables of all stages side by side, or where they go by what the last
// visit found those of each stage.
func (l handout) decisions() []bulletin.Part {
	all := l.plan.Tables()
	if len(all) == len(l.plan.Stages) || len(l.plan.Stages) == 1 {
		return []bulletin.Part{l.decisionsOf(all, "", l.TableName)}
	}
	// The names of tables by what the last visit found are long: a stage at a time.
	var parts []bulletin.Part
	for _, s := range l.plan.Stages {
		parts = append(parts, l.decisionsOf(s.Tables(), s.Name, l.FieldsOf))
	}
	return parts
}

// decisionsOf sets tables side by side, named as name does, under the name of their stage
// where they are all of one of several.
func (l handout) decisionsOf(stages []*plans.StagePlan, stage string, name func(*plans.StagePlan) string) bulletin.Table {
	what := l.AddedOf(stages)
	if _, same := measureOf(l.plan); !same {
		what = l.Say("bulletin.plants_or_insects")
	}
	t := bulletin.Table{
		Head: say.Joined(", ", l.Say("bulletin.decisions", "What", what), stage), Wide: len(stages) > 2, Every: 5,
		Columns: []bulletin.Column{{Head: l.Say("walk.head_stop"), Weight: 0.7}, {Head: l.UnitsName(stages[0].Stage), Weight: 0.8}},
		Note:    say.Joined(" ", l.WhichTable(stages), l.Say("bulletin.dashes")),
	}
	leave, act := l.Say("paper.leave"), l.Say("paper.act")
	if len(stages) > manyStages {
		t.Columns[0].Weight, t.Columns[1].Weight = 1.3, 1.5
		leave, act = l.Say("bulletin.leave_narrow"), l.Say("bulletin.act_narrow")
	}
	most, first := 0, math.MaxInt
	for _, s := range stages {
		t.Columns = append(t.Columns, bulletin.Column{Group: name(s), Head: leave}, bulletin.Column{Group: name(s), Head: act, Bold: true})
		most, first = max(most, s.Table.Stops()), min(first, s.Table.First())
	}
	for j := 1; j <= most; j++ {
		if j < first-1 {
			continue
		}
		plants := report.OneOrEach(stages, func(s *plans.StagePlan) string { return fmt.Sprint(j * s.Plants()) })
		row := []string{fmt.Sprint(j), plants}
		if j == first-1 && j > 1 {
			row = []string{l.Say("count.to", "Low", 1, "High", j), l.Say("bulletin.up_to", "Plants", plants)}
		}
		for _, s := range stages {
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

// points are the tables of what a stop counts, of stages where that are points.
func (l handout) points() []bulletin.Part {
	var parts []bulletin.Part
	for _, s := range l.plan.Stages {
		if s.Worth.Points == nil {
			continue
		}
		head := l.Say("worth.points_of")
		if s.Name != "" && len(l.plan.Stages) > 1 {
			head = l.Say("unit.stage_says", "Stage", s.Name, "Text", head)
		}
		t := bulletin.Table{Head: head, Columns: []bulletin.Column{
			{Head: l.Counted(s.Stage)}, {Head: l.Say("worth.points"), Bold: true}}}
		for _, r := range s.PointRuns() {
			t.Rows = append(t.Rows, []string{l.RunText(r), fmt.Sprint(r.Worth)})
		}
		parts = append(parts, t)
	}
	return parts
}

func orDash(n *int) string {
	if n == nil {
		return "\u2013"
	}
	return fmt.Sprint(*n)
}

func (l handout) picture() (figure.Picture, error) {
	v := figure.Staircases{Columns: pictureColumns(len(l.plan.Tables())),
		Leave: l.Say("bulletin.zone_leave"), Act: l.Say("bulletin.zone_act"), WalkOn: l.Say("bulletin.zone_on")}
	for _, s := range l.plan.Tables() {
		c := drawing.Staircase(s, nil)
		c.Head, c.StopLabel = l.TableName(s), l.Say("walk.head_stop")
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

func (l handout) cautions() []string {
	out := []string{say.Capital(l.Say("scout.cautions"))}
	if own := l.plan.Protocol.Cautions; own != "" {
		out = append(out, own)
	}
	return out
}
