package card

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// print is the card on paper.
type print struct {
	Steps   []string
	Counted string // head of the column for what was counted at a stop
	Sign    bool   // some stage asks for a sign
	Stages  []printStage
	Rows    []printRow
	Remarks []string
	Origin  string
}

type printStage struct{ Name, Threshold string }

type printRow struct {
	Stop, Plants int
	Numbers      []printNumbers // one for each stage
}

type printNumbers struct{ Leave, Act string }

func (c Card) print() print {
	p := print{Counted: "Infested", Origin: c.origin()}
	counts := 0
	for i, s := range c.Stages {
		name := s.Name
		if name == "" {
			name = "All stages"
		}
		p.Stages = append(p.Stages, printStage{name, plans.FormatLevel(s.Measure, s.Threshold)})
		p.Sign = p.Sign || s.Sign != nil
		if s.Measure == plans.MeanPerLeaf {
			counts++
		}
		if c.Broken[i] != "" {
			p.Remarks = append(p.Remarks, strings.TrimPrefix(s.Name+": ", ": ")+c.Broken[i])
		}
	}
	switch {
	case counts == len(c.Stages):
		p.Counted = "Insects"
	case counts > 0:
		p.Counted = "Count"
	}
	p.Rows = c.rows()
	p.Steps = c.steps()
	return p
}

func (c Card) rows() []printRow {
	rows := make([]printRow, c.longest())
	for j := range rows {
		rows[j] = printRow{Stop: j + 1, Plants: c.Stages[0].Plants() * (j + 1)}
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
	p := c.Plan.Protocol
	look := fmt.Sprintf("At each stop look at %s", report.Count(c.Stages[0].Plants(), "plant", "plants"))
	if p.Unit.Text != "" {
		look += " (" + p.Unit.Text + ")"
	}
	steps := []string{
		"Walk the route that the protocol gives, with the stops spread over the whole field, and take the plants as they come.",
		look + ". " + strings.Join(c.infested(), " "),
		"Add the stop to the running total and compare it with the two numbers of the growth stage: at or below the first leave the field, at or above the second act, between them walk on. A dash means never.",
	}
	for _, s := range c.Stages {
		if s.Sign != nil {
			when := "Act"
			if s.Name != "" {
				when = "At " + s.Name + " act"
			}
			steps = append(steps, fmt.Sprintf("%s only where this was seen at %s or more: %s.", when, report.Count(s.Sign.Stops, "stop", "stops"), s.Sign.Text))
		}
	}
	if b := p.ComingBack; b != nil {
		steps = append(steps, fmt.Sprintf("After leave come back in %s days while the pest is not found, in %s days once it is, and sooner where it could reach the threshold before; a treatment takes %s days to get done.",
			days(b.DaysUntilFound), days(b.DaysOnceFound), days(b.LeadDays)))
	}
	return steps
}

// infested says what makes a plant infested, once where all stages agree.
func (c Card) infested() []string {
	var said []string
	same := true
	for i, s := range c.Stages {
		said = append(said, infested(c.Plan.Protocol, s.Stage))
		same = same && said[i] == said[0]
	}
	if same {
		return said[:1]
	}
	for i, s := range c.Stages {
		said[i] = "Stage " + s.Name + ": " + said[i]
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
