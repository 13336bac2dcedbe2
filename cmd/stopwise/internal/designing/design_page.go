package designing

import (
	"errors"
	"fmt"

	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// writePage writes a document as an HTML page.
func writePage(file string, d *report.Document, title string) error {
	data, err := report.Page(d, title)
	if err != nil {
		return err
	}
	return shell.WriteFile("--page", file, data, outfile.IsPage, reviewPage)
}

const reviewPage = "a page that stopwise made"

// writeDesignPage writes all tables and pictures of a plan as one page, for
// colleagues to review, and what behind adds to it.
func writeDesignPage(file string, plan *plans.Plan, trials []plans.PlantsTrial, balanced say.Balanced, behind func(*report.Document) error) error {
	var faults []error
	n := 0
	d := say.DesignWith(plan, trials, balanced, nil, func(d *report.Document, s *plans.StagePlan) {
		say.StageDocument(d, s)
		n++
		faults = append(faults,
			addFigure(d, fmt.Sprintf("table-%d", n), func() (figure.Picture, error) {
				return drawing.StaircasesFigure(plan, []*plans.StagePlan{s}, nil)
			}),
			addFigure(d, fmt.Sprintf("curves-%d", n), func() (figure.Picture, error) { return drawing.CurvesFigure(s, nil) }))
	})
	if err := errors.Join(faults...); err != nil {
		return err
	}
	head := d.Blocks[:1:1]
	page := &report.Document{Blocks: head}
	page.Table(protocolTable(plan))
	page.Blocks = append(page.Blocks, d.Blocks[1:]...)
	if err := behind(page); err != nil {
		return err
	}
	return writePage(file, page, "Plan"+say.Titled(plan.Protocol.About()))
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
	t := report.NewTable("What the protocol lays down for all stages.", "what", "value")
	add := func(what, value string) {
		if value != "" {
			t.Add(what, value)
		}
	}
	add("region", p.Region)
	add("season", p.Season)
	add("crop", p.Crop)
	add("pest", p.Pest)
	each := func(what string, of func(plans.Stage) string) { add(what, say.English().SameOrEach(p.Stages, of)) }
	each("sample unit", func(s plans.Stage) string { return s.Unit.Text })
	each("tally number", func(s plans.Stage) string {
		if s.Unit.Tally == 0 {
			return ""
		}
		return fmt.Sprintf("%d insects on a leaf", s.Unit.Tally)
	})
	each("plants at a stop", func(s plans.Stage) string { return fmt.Sprint(s.Stop.Plants) })
	each("stops", func(s plans.Stage) string { return fmt.Sprintf("%d to %d", s.Stop.Minimum, s.Stop.Maximum) })
	each("the promise holds besides", func(s plans.Stage) string { return say.English().HeldUnder(s.HoldUnder, s) })
	each("walk to a stop", func(s plans.Stage) string { return report.Minutes(s.Stop.WalkMinutes) })
	each("a plant", func(s plans.Stage) string { return report.Minutes(s.Stop.PlantMinutes) })
	back := func(what string, of func(plans.ComingBack) string) {
		each(what, func(s plans.Stage) string {
			if s.ComingBack == nil {
				return ""
			}
			return of(*s.ComingBack)
		})
	}
	back("come back until found", func(c plans.ComingBack) string { return "after " + report.Days(c.DaysUntilFound) })
	back("come back once found", func(c plans.ComingBack) string { return "after " + report.Days(c.DaysOnceFound) })
	back("come back after more", func(c plans.ComingBack) string {
		if c.MoreFrom == 0 {
			return ""
		}
		return "after " + report.Days(c.DaysMoreFound)
	})
	back("from decision to treatment", func(c plans.ComingBack) string { return report.Days(c.LeadDays) })
	back("growth of the pest", func(c plans.ComingBack) string { return report.Plain(c.GrowthPerDay) + " a day" })
	if c := p.Costs; c != nil {
		add("value of the crop", fmt.Sprintf("%s %s per ha", report.Plain(c.CropPerHa), c.Currency))
		add("treatment", fmt.Sprintf("%s %s per ha", report.Plain(c.TreatmentPerHa), c.Currency))
		add("scout", fmt.Sprintf("%s %s per hour", report.Plain(c.ScoutPerHour), c.Currency))
		add("field", fmt.Sprintf("%s ha", report.Plain(c.FieldHa)))
	}
	add("plan made by", "stopwise "+plan.Program)
	return t
}
