package card

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
)

// print is the card on paper.
type print struct {
	Steps   []string
	Counted string       // head of the column for what was counted at a stop
	Total   string       // and for what that adds up to
	Units   string       // and for what was examined in all
	Sign    bool         // some stage asks for a sign
	Points  []pointRow   // what a stop counts, where that are points
	Tables  []printTable // one for each sheet that holds some of the stops
	Remarks []string
	Origin  string
	Sheets  string // on how many it prints
	Map     bool   // it shows where the stops are
}

// printTable is the stops on one sheet, for all stages or for some.
type printTable struct {
	Stages []printStage
	Rows   []printRow
	More   bool // a sheet after the first
}

type printStage struct{ Name, Threshold string }

type printRow struct {
	Stop    int
	Plants  string         // in all; by stage where these differ
	Numbers []printNumbers // one for each stage
}

type printNumbers struct{ Leave, Act string }

func (c Card) print() print {
	l := c.Language
	p := print{Counted: l.Say("paper.infested"), Origin: c.origin()}
	counts := 0
	for i, s := range c.Stages {
		p.Sign = p.Sign || s.Sign != nil
		if s.Measure == plans.MeanPerLeaf {
			counts++
		}
		if c.Broken[i] != "" {
			p.Remarks = append(p.Remarks, strings.TrimPrefix(c.tableName(i)+": ", ": ")+c.Broken[i])
		}
	}
	switch {
	case counts == len(c.Stages):
		p.Counted = l.Say("paper.insects")
	case counts > 0:
		p.Counted = l.Say("paper.count")
	}
	p.Total = l.Say("paper.total")
	if points := func(s *plans.StagePlan) bool { return s.Worth.Points != nil }; slices.ContainsFunc(c.Stages, points) {
		p.Total = l.Say("paper.points_or_total")
		if !slices.ContainsFunc(c.Stages, func(s *plans.StagePlan) bool { return !points(s) }) {
			p.Total = l.Say("paper.points_total")
		}
	}
	p.Units = l.Say("paper.in_all", "Units", report.OneOrEach(c.Stages, func(s *plans.StagePlan) string {
		many := l.UnitsName(s.Stage)
		first, size := utf8.DecodeRuneInString(many)
		return string(unicode.ToUpper(first)) + many[size:]
	}))
	p.Points = c.pointRows()
	p.Steps = c.steps()
	return p
}

// mostColumns is how many tables stand beside each other on a sheet: more cannot be read
// on A5.
const mostColumns = 4

// beside returns which of the tables stand beside each other: all, or where they are too
// many as many whole stages as have room.
func (c Card) beside() [][]int {
	var groups [][]int
	of := func(stage string) []int {
		var all []int
		for i, s := range c.Stages {
			if s.Name == stage {
				all = append(all, i)
			}
		}
		return all
	}
	for i, s := range c.Stages {
		if i > 0 && c.Stages[i-1].Name == s.Name {
			continue
		}
		own := of(s.Name)
		if n := len(groups); n > 0 && (len(c.Stages) <= mostColumns || len(groups[n-1])+len(own) <= mostColumns) {
			groups[n-1] = append(groups[n-1], own...)
			continue
		}
		groups = append(groups, own)
	}
	return groups
}

// table sets some of the tables beside each other.
func (c Card) table(of []int) printTable {
	l, t := c.Language, printTable{}
	stages := make([]*plans.StagePlan, len(of))
	stops := 0
	for k, i := range of {
		s := c.Stages[i]
		stages[k], stops = s, max(stops, s.Table.Stops())
		name := c.tableName(i)
		if name == "" {
			name = l.Say("paper.all_stages")
		}
		t.Stages = append(t.Stages, printStage{name, l.Say("paper.threshold", "Threshold", l.Level(s.Measure, s.Threshold))})
	}
	for j := range stops {
		row := printRow{Stop: j + 1, Plants: report.OneOrEach(stages, func(s *plans.StagePlan) string { return fmt.Sprint(s.Plants() * (j + 1)) })}
		for _, s := range stages {
			n := printNumbers{}
			if all := s.Rows(); j < len(all) {
				n = printNumbers{numberOrNever(all[j].Leave), numberOrNever(all[j].Act)}
			}
			row.Numbers = append(row.Numbers, n)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func numberOrNever(n *int) string {
	if n == nil {
		return "–"
	}
	return fmt.Sprint(*n)
}

// steps say how a field is scouted with the card.
func (c Card) steps() []string {
	l := c.Language
	look := c.each(func(s *plans.StagePlan) string {
		units := l.Units(s.Stage, s.Plants())
		if s.Unit.Text != "" {
			return l.Say("paper.look_unit", "Units", units, "Unit", s.Unit.Text)
		}
		return l.Say("paper.look", "Units", units)
	})
	steps := []string{
		strings.TrimSpace(c.Route + " " + l.Say("paper.take_plants")),
		strings.Join(append(look, c.each(func(s *plans.StagePlan) string { return c.infested(s.Stage) })...), " "),
		strings.TrimSpace(strings.Join(c.each(func(s *plans.StagePlan) string { return c.worth(slices.Index(c.Stages, s)) }), " ") + " " + l.Say("paper.rule")),
	}
	if c.Which != "" {
		steps = append(steps, c.Which)
	}
	for _, s := range c.Stages {
		switch {
		case s.Sign == nil, s.Last != "" && s.Last != plans.LastNone:
		case s.Name == "":
			steps = append(steps, l.Say("paper.sign_asked", "At", l.SignAt(*s.Sign), "Sign", s.Sign.Text))
		default:
			steps = append(steps, l.Say("paper.sign_asked_at", "Stage", s.Name, "At", l.SignAt(*s.Sign), "Sign", s.Sign.Text))
		}
	}
	back := c.each(func(s *plans.StagePlan) string {
		b := s.ComingBack
		if b == nil {
			return ""
		}
		until, once, lead := c.days(b.DaysUntilFound), c.days(b.DaysOnceFound), c.days(b.LeadDays)
		if b.MoreFrom > 0 {
			return l.Say("paper.back_by_last", "UntilFound", until, "OnceFound", once, "MoreFound", c.days(b.DaysMoreFound), "MoreFrom", say.In{Language: l}.MoreFrom(s.Stage, s.Worth, b.MoreFrom), "Lead", lead)
		}
		if b.ByIntervals {
			return l.Say("paper.back_by_days", "UntilFound", until, "OnceFound", once, "Lead", lead)
		}
		return l.Say("paper.back", "UntilFound", until, "OnceFound", once, "Lead", lead)
	})
	if back[0] != "" {
		steps = append(steps, strings.Join(back, " "))
	}
	return steps
}

// tableName names a table by its stage and its fields.
func (c Card) tableName(i int) string {
	name := c.Stages[i].Name
	switch {
	case c.Fields[i] == "":
		return name
	case name == "":
		return c.Fields[i]
	}
	return name + ", " + c.Fields[i]
}

// each says something of every stage, once where all say the same.
func (c Card) each(of func(*plans.StagePlan) string) []string {
	var said []string
	same := true
	for i, s := range c.Stages {
		said = append(said, of(s))
		same = same && said[i] == said[0]
	}
	if same {
		return said[:1]
	}
	for i := range c.Stages {
		said[i] = c.Language.Say("unit.stage_says", "Stage", c.tableName(i), "Text", said[i])
	}
	return said
}

// days writes a number of days without digits that were never written.
func (c Card) days(x float64) string {
	return c.Language.CountOf("count.days", report.Plain(math.Round(100*x)/100))
}

// origin names the plan, so that a card can be told from one of another plan.
func (c Card) origin() string {
	short := strings.TrimPrefix(c.Checksum, "sha256:")
	return c.Language.Say("paper.origin", "Plan", short[:min(len(short), 12)], "Program", c.Plan.Program)
}
