package card

import (
	"fmt"
	"math"
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
	Counted string // head of the column for what was counted at a stop
	Units   string // and for what was examined in all
	Sign    bool   // some stage asks for a sign
	Stages  []printStage
	Rows    []printRow
	Remarks []string
	Origin  string
}

type printStage struct{ Name, Threshold string }

type printRow struct {
	Stop    int
	Plants  string         // in all; by stage where these differ
	Numbers []printNumbers // one for each stage
}

type printNumbers struct{ Leave, Act string }

func (c Card) print() print {
	p := print{Counted: "Infested", Origin: c.origin()}
	counts := 0
	for i, s := range c.Stages {
		name := say.TableName(s)
		if name == "" {
			name = "All stages"
		}
		p.Stages = append(p.Stages, printStage{name, report.Level(s.Measure, s.Threshold)})
		p.Sign = p.Sign || s.Sign != nil
		if s.Measure == plans.MeanPerLeaf {
			counts++
		}
		if c.Broken[i] != "" {
			p.Remarks = append(p.Remarks, strings.TrimPrefix(say.TableName(s)+": ", ": ")+c.Broken[i])
		}
	}
	switch {
	case counts == len(c.Stages):
		p.Counted = "Insects"
	case counts > 0:
		p.Counted = "Count"
	}
	p.Units = report.OneOrEach(c.Stages, func(s *plans.StagePlan) string {
		many := report.UnitsName(s.Stage)
		first, size := utf8.DecodeRuneInString(many)
		return string(unicode.ToUpper(first)) + many[size:]
	})
	p.Rows = c.rows()
	p.Steps = c.steps()
	return p
}

func (c Card) rows() []printRow {
	rows := make([]printRow, c.longest())
	for j := range rows {
		rows[j] = printRow{Stop: j + 1, Plants: report.OneOrEach(c.Stages, func(s *plans.StagePlan) string { return fmt.Sprint(s.Plants() * (j + 1)) })}
		for _, s := range c.Stages {
			n := printNumbers{}
			if all := s.Rows(); j < len(all) {
				n = printNumbers{numberOrNever(all[j].Leave), numberOrNever(all[j].Act)}
			}
			rows[j].Numbers = append(rows[j].Numbers, n)
		}
	}
	return rows
}

func numberOrNever(n *int) string {
	if n == nil {
		return "–"
	}
	return fmt.Sprint(*n)
}

// steps say how a field is scouted with the card.
func (c Card) steps() []string {
	look := c.each(func(s *plans.StagePlan) string {
		look := fmt.Sprintf("At each stop look at %s", report.Units(s.Stage, s.Plants()))
		if s.Unit.Text != "" {
			look += " (" + s.Unit.Text + ")"
		}
		return look + "."
	})
	steps := []string{
		strings.TrimSpace(c.Route + " Take the plants as they come."),
		strings.Join(append(look, c.each(func(s *plans.StagePlan) string { return infested(s.Stage) })...), " "),
		"Add the stop to the running total and compare it with the two numbers of the growth stage: at or below the first leave the field, at or above the second act, between them walk on. A dash means never.",
	}
	if s := c.Stages[0]; s.Last != "" {
		steps = append(steps, say.WhichTable(s))
	}
	for _, s := range c.Stages {
		if s.Sign != nil && (s.Last == "" || s.Last == plans.LastNone) {
			when := "Act"
			if s.Name != "" {
				when = "At " + s.Name + " act"
			}
			steps = append(steps, fmt.Sprintf("%s only where this was seen at %s: %s.", when, report.SignAt(*s.Sign), s.Sign.Text))
		}
	}
	back := c.each(func(s *plans.StagePlan) string {
		b := s.ComingBack
		if b == nil {
			return ""
		}
		if b.MoreFrom > 0 {
			return fmt.Sprintf("After leave come back in %s days while the pest is not found, in %s days once it is, and in %s days where this visit saw %s or more; a treatment takes %s days to get done.",
				days(b.DaysUntilFound), days(b.DaysOnceFound), days(b.DaysMoreFound), report.Level(s.Measure, b.MoreFrom), days(b.LeadDays))
		}
		if b.ByIntervals {
			return fmt.Sprintf("After leave come back in %s days while the pest is not found, in %s days once it is; a treatment takes %s days to get done.",
				days(b.DaysUntilFound), days(b.DaysOnceFound), days(b.LeadDays))
		}
		return fmt.Sprintf("After leave come back in %s days while the pest is not found, in %s days once it is, and sooner where it could reach the threshold before; a treatment takes %s days to get done.",
			days(b.DaysUntilFound), days(b.DaysOnceFound), days(b.LeadDays))
	})
	if back[0] != "" {
		steps = append(steps, strings.Join(back, " "))
	}
	return steps
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
	for i, s := range c.Stages {
		said[i] = "Stage " + say.TableName(s) + ": " + said[i]
	}
	return said
}

// days writes a number of days without digits that were never written.
func days(x float64) string {
	return report.Plain(math.Round(100*x) / 100)
}

// origin names the plan, so that a card can be told from one of another plan.
func (c Card) origin() string {
	short := strings.TrimPrefix(c.Checksum, "sha256:")
	return fmt.Sprintf("Plan %s, made with stopwise %s.", short[:min(len(short), 12)], c.Plan.Program)
}
