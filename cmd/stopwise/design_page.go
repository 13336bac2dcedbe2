package main

import (
	"errors"
	"fmt"

	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// writePage writes a document as an HTML page.
func writePage(file string, d *report.Document, title string) error {
	data, err := report.Page(d, title)
	if err != nil {
		return err
	}
	return writeFile("--page", file, data, outfile.IsPage, "a page that stopwise made")
}

// writeDesignPage writes all tables and pictures of a plan as one page, for
// colleagues to review.
func writeDesignPage(file string, plan *plans.Plan, trials []plans.PlantsTrial, balanced []plans.Balance) error {
	var faults []error
	n := 0
	d := designWith(plan, trials, balanced, "", func(d *report.Document, s *plans.StagePlan) {
		stageDocument(d, s)
		n++
		faults = append(faults,
			addFigure(d, fmt.Sprintf("table-%d", n), func() (figure.Picture, error) {
				return staircasesFigure(plan, []*plans.StagePlan{s}, nil)
			}),
			addFigure(d, fmt.Sprintf("curves-%d", n), func() (figure.Picture, error) { return curvesFigure(s, nil) }))
	})
	if err := errors.Join(faults...); err != nil {
		return err
	}
	head := d.Blocks[:1:1]
	page := &report.Document{Blocks: head}
	page.Table(protocolTable(plan))
	page.Blocks = append(page.Blocks, d.Blocks[1:]...)
	return writePage(file, page, "Plan"+titled(plan.Protocol))
}

func addFigure(d *report.Document, id string, picture func() (figure.Picture, error)) error {
	p, err := picture()
	if err != nil {
		return err
	}
	svg, err := figure.Inline(p, id)
	if err != nil {
		return err
	}
	d.Figure(svg)
	return nil
}

// protocolTable lists what the protocol lays down beside the stages.
func protocolTable(plan *plans.Plan) *report.Table {
	p := plan.Protocol
	t := &report.Table{Caption: "What the protocol lays down for all stages.", Columns: []report.Column{{Head: "what", Key: "what"}, {Head: "value", Key: "value"}}}
	add := func(what, value string) {
		if value != "" {
			t.Add(what, value)
		}
	}
	add("region", p.Region)
	add("season", p.Season)
	add("crop", p.Crop)
	add("pest", p.Pest)
	add("sample unit", p.Unit.Text)
	if p.Unit.Tally > 0 {
		add("tally number", fmt.Sprintf("%d insects on a leaf", p.Unit.Tally))
	}
	add("plants at a stop", fmt.Sprint(plan.Stages[0].Plants()))
	add("stops", fmt.Sprintf("%d to %d", p.Stop.Minimum, p.Stop.Maximum))
	add("walk to a stop", report.Minutes(p.Stop.WalkMinutes))
	add("a plant", report.Minutes(p.Stop.PlantMinutes))
	if c := p.ComingBack; c != nil {
		add("come back until found", "after "+days(c.DaysUntilFound))
		add("come back once found", "after "+days(c.DaysOnceFound))
		add("from decision to treatment", days(c.LeadDays))
		add("growth of the pest", plainNumber(c.GrowthPerDay)+" a day")
	}
	if c := p.Costs; c != nil {
		add("value of the crop", fmt.Sprintf("%s %s per ha", plainNumber(c.CropPerHa), c.Currency))
		add("treatment", fmt.Sprintf("%s %s per ha", plainNumber(c.TreatmentPerHa), c.Currency))
		add("scout", fmt.Sprintf("%s %s per hour", plainNumber(c.ScoutPerHour), c.Currency))
		add("field", fmt.Sprintf("%s ha", plainNumber(c.FieldHa)))
	}
	add("plan made by", "stopwise "+plan.Program)
	return t
}
