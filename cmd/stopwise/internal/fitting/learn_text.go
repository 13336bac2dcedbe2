package fitting

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/season"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// brief is the answer, with the constants that it rests on.
func (l *learning) brief() *report.Document {
	d := &report.Document{}
	d.Heading("What the season says: " + l.file)
	d.Para("%s", l.answer())
	d.Table(l.constants())
	if _, err := l.section(false); err == nil {
		d.Para("For next season's protocol: `%s`.", l.call())
	}
	d.Para("--detail shows what the promises became, the fields that were left and the sections themselves.")
	return d
}

// document tells the specialist what the season says, the answer first.
func (l *learning) document() *report.Document {
	d := &report.Document{}
	d.Heading("What the season says: " + l.file)
	d.Para("%s", l.answer())
	l.basisPart(d)
	l.promisePart(d)
	l.followedPart(d)
	if text, err := l.section(false); err == nil {
		d.Heading("For the next protocol")
		d.Picture(text)
		d.Para("For next season's protocol: `%s`.", l.call())
	}
	return d
}

func (l *learning) call() string {
	return "stopwise fit --season " + say.QuoteWords(shell.Printable(l.path)) + " --protocol"
}

// answer is the main result in a few sentences.
func (l *learning) answer() string {
	var s []string
	if e := l.clumping.Estimate; e.Known() {
		s = append(s, fmt.Sprintf("Plants at one stop were alike with rho %s (%s interval %s).", rhoNumber(e.Value), report.Share(l.confidence), interval(e, rhoNumber)))
	}
	for _, one := range l.stages {
		if e := one.clumping.Estimate; one.key() != "rho" && e.Known() {
			s = append(s, fmt.Sprintf("Counts at one stop%s were alike with count rho %s (%s interval %s).", inStage(one.plan), rhoNumber(e.Value), report.Share(l.confidence), interval(e, rhoNumber)))
		}
	}
	if g := l.growth; g.Known() {
		s = append(s, fmt.Sprintf("The pest grew by %s a day (%s).", rhoNumber(g.Value), interval(g.Estimate, rhoNumber)))
	}
	if len(s) == 0 {
		s = append(s, fmt.Sprintf("The visits carry no constant: clumping: %s; growth: %s.", l.clumping.Missing, l.growth.Missing))
	}
	if l.against != nil {
		s = append(s, l.againstSentences()...)
	}
	if f := l.followed; f.Again > 0 {
		s = append(s, fmt.Sprintf("Of %s to leave a field that was seen again within a week, %d were followed by act.", report.Count(f.Again, "verdict", "verdicts"), f.Acted))
	}
	return strings.Join(s, " ")
}

func inStage(s *plans.StagePlan) string {
	if s.Name == "" {
		return ""
	}
	return " in stage " + s.Name
}

// againstSentences say what held and what did not.
func (l *learning) againstSentences() (s []string) {
	var broken, kept, drifted []string
	for _, one := range l.stages {
		p := one.promise
		if p == nil || p.at == nil {
			continue
		}
		name := say.OrThisStage(one.plan.Name)
		for _, r := range []struct {
			what     string
			of       func(*plans.StagePlan) float64
			promised float64
		}{{"needless", needlessOf, p.stage.NeedlessRisk}, {"missed", missedOf, p.stage.MissedRisk}} {
			at := r.of(p.at)
			text := fmt.Sprintf("%s %s of %s in %s", r.what, report.AtMost(at), report.Share(r.promised), name)
			switch state := p.kept(r.of, r.promised); {
			case math.IsNaN(at):
			case state == "broken":
				broken = append(broken, text)
			default:
				kept = append(kept, text)
			}
		}
		clump, growth := p.stated(one)
		if how := compare(one.clumping.Estimate, *clump); how == higher || how == lower {
			drifted = append(drifted, fmt.Sprintf("%s in %s was %s than stated (%s)", one.key(), name, how, rangeText(*clump)))
		}
		if growth != nil {
			if how := compare(one.growth.Estimate, *growth); how == higher || how == lower {
				drifted = append(drifted, fmt.Sprintf("growth in %s was %s than stated (%s)", name, how, rangeText(*growth)))
			}
		}
	}
	if len(broken) > 0 {
		s = append(s, fmt.Sprintf("With this clumping the promise of %s was broken: %s.", l.against.file, strings.Join(broken, "; ")))
	} else if len(kept) > 0 {
		s = append(s, fmt.Sprintf("With this clumping the promise of %s was kept: %s.", l.against.file, strings.Join(kept, "; ")))
	}
	switch {
	case len(drifted) > 0:
		s = append(s, say.Capital(strings.Join(drifted, "; "))+".")
	case len(kept)+len(broken) > 0:
		s = append(s, "No stage is shown to have drifted from what the protocol states.")
	}
	return s
}

func rangeText(r plans.Range) string {
	if r.Single() {
		return report.Plain(r.Low)
	}
	return report.Plain(r.Low) + " to " + report.Plain(r.High)
}

// constants shows every constant with what it rests on.
func (l *learning) constants() *report.Table {
	r := l.records
	left := ""
	if r.Void > 0 {
		left = fmt.Sprintf("; %s left out", report.Count(r.Void, "void visit", "void visits"))
	}
	if r.Empty > 0 {
		left += fmt.Sprintf("; %s left out", report.Count(r.Empty, "visit without stops", "visits without stops"))
	}
	from, to := "", ""
	if n := len(r.Visits); n > 0 {
		from, to = r.Visits[0].Date, r.Visits[n-1].Date
	}
	t := report.NewTable(fmt.Sprintf("From %s of %s, %s to %s%s. A visit carries rho where it has two stops and the pest was found, and growth where its field was visited on two days.",
		report.Count(len(r.Visits), "visit", "visits"), fieldsText(r.Fields), from, to, left),
		"stage", "constant", ">value", ">"+report.Share(l.confidence)+" interval")
	if l.against != nil {
		t.Head(">protocol", "held")
	}
	t.Head(">fields", ">visits")
	for _, x := range l.rows() {
		stage := "all stages"
		if x.Stage != nil {
			stage = shell.Printable(*x.Stage)
		}
		row := []string{stage, strings.ReplaceAll(x.Constant, "growth_per_day", "growth a day"), rhoNumber(x.estimate.Value), interval(x.estimate, rhoNumber)}
		if l.against != nil {
			said := ""
			if x.stated != nil {
				said = rangeText(*x.stated)
			}
			row = append(row, said, x.Compared)
		}
		t.Add(append(row, fmt.Sprint(x.Fields), fmt.Sprint(x.Visits))...)
	}
	return t
}

// basisPart shows the constants, what is missing and what may be doubted.
func (l *learning) basisPart(d *report.Document) {
	d.Heading("The constants")
	d.Table(l.constants())
	var lack []string
	for _, s := range l.stages {
		for _, m := range []struct{ what, why string }{{s.key(), s.clumping.Missing}, {"growth", s.growth.Missing}} {
			if m.why != "" {
				lack = append(lack, fmt.Sprintf("%s, no %s: %s.", say.OrThisStage(s.plan.Name), m.what, m.why))
			}
		}
	}
	if len(lack) > 0 {
		d.List(lack...)
	}
	if l.against != nil {
		d.Para("held: the interval lies within what the protocol states; not refuted: it reaches into it and beyond; higher, lower: it lies outside.")
	}
	if l.alike.Known() || l.evenly.Known() {
		d.Para("%s %s", testSentence("Do the stages share one rho? Likelihood ratio %s", l.alike, "no, each has its own below", "nothing speaks against it"),
			testSentence("One growth? Likelihood ratio %s", l.evenly, "no, each has its own below", "nothing speaks against it"))
	}
	l.growthSpread(d)
	d.Note("Visits that ended early need no correction here: whether a scout walks on follows from the counts seen so far, so that the likelihood is that of a fixed number of stops. The share of a single visit that ended early is biased and was not used. Visits count as independent given their levels; where every visit walks the same stops again, they meet the same spots and the intervals are too narrow.")
	for _, s := range l.stages {
		if s.key() != "rho" {
			d.Note("Stage %s: %s", say.OrThisStage(s.plan.Name), s.heldText())
		}
	}
}

// growthSpread says how fields differ in growth.
func (l *learning) growthSpread(d *report.Document) {
	g := l.growth
	if !g.Known() {
		return
	}
	if !differs(g) {
		d.Para("That fields differ in growth is not shown (likelihood ratio %s, P %s).", report.Decimals(g.Same.Statistic, 1), chance(g.Same))
		return
	}
	text := fmt.Sprintf("Fields differ in growth: standard deviation %s from field to field (likelihood ratio %s, P %s); the value above is their mean, with fields that stay at their level in it, and not the fastest. The interval of growth is then too narrow: in made seasons with a standard deviation of 0.04 a 95%% interval held the truth in 86%%.",
		report.Plain(g.Spread), report.Decimals(g.Same.Statistic, 1), chance(g.Same))
	if b := l.statedGrowth(); b > 0 {
		text += fmt.Sprintf(" By a normal distribution %s of the fields grow faster than the protocol's %s a day.", report.Percent(g.Faster(b)), report.Plain(b))
	}
	d.Para("%s", text)
}

func (l *learning) statedGrowth() float64 {
	for _, s := range l.stages {
		if _, growth := s.promise.stated(s); growth != nil {
			return growth.High
		}
	}
	return 0
}

// promisePart shows what the promised risks became.
func (l *learning) promisePart(d *report.Document) {
	if l.against == nil {
		return
	}
	whose := "the plan that " + l.against.file + " gives"
	if l.against.used != "" {
		whose = fmt.Sprintf("the plan %s, by which the season was walked", season.Short(l.against.used))
	}
	if t := l.promiseTable(whose); t != nil {
		d.Heading("What the promises became")
		d.Table(t)
	}
}

// promiseTable is nil where no stage of the plan was visited.
func (l *learning) promiseTable(whose string) *report.Table {
	rows := l.promises()
	if len(rows) == 0 {
		return nil
	}
	t := report.NewTable(fmt.Sprintf("Exact risks of %s: needless at the lower bound, missed at the upper, with the clumping of the season in place of the protocol's range: at the estimate, and the worst over its interval.", whose),
		"stage", "risk", ">promised", ">at the estimate", ">worst in the interval", "promise")
	number := func(x *float64) string {
		if x == nil {
			return report.Unknown
		}
		return report.AtMost(*x)
	}
	for _, r := range rows {
		t.Add(shell.Printable(r.Stage), "needless", report.Share(r.NeedlessPromised), number(r.Needless), number(r.NeedlessWorst), r.NeedlessKept)
		state := r.MissedKept
		if r.Missed == nil {
			state = "not known: it depends on how often the sign is seen"
		}
		t.Add(shell.Printable(r.Stage), "missed", report.Share(r.MissedPromised), number(r.Missed), number(r.MissedWorst), state)
	}
	return t
}

// followedPart tells what became of the fields that were left.
func (l *learning) followedPart(d *report.Document) {
	f := l.followed
	d.Heading("Fields that were left")
	d.Para("%s to leave a field; %s seen again with a verdict within %s, and of these %s then to be treated.",
		report.Count(f.Leaves, "verdict was", "verdicts were"), report.Count(f.Again, "was", "were"), report.Days(season.FollowDays), report.Count(f.Acted, "was", "were"))
	if len(f.Cases) == 0 {
		return
	}
	t := report.NewTable("Left, and within a week to be treated. The pest may have grown meanwhile: such a case is not a miss by itself.",
		"field", "stage", "left", ">found", "to be treated", ">found")
	for _, c := range f.Cases {
		t.Add(shell.Printable(c.Left.Field), shell.Printable(c.Left.Stage), c.Left.Date, seenText(c.Left), c.Acted.Date, seenText(c.Acted))
	}
	d.Table(t)
}

func seenText(v *season.Visit) string { return fmt.Sprintf("%d/%d", v.Told.Total, v.Told.Units) }
