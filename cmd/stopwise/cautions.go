package main

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// cautions are printed wherever output can lead to a treatment. A protocol may
// add to them, never replace them. Common practice, no source.
const cautions = "Cautions: a sampling plan informs a decision and does not make it, and it recommends no product. " +
	"Follow the product label and the local rules and thresholds; have treatments done by licensed applicators; " +
	"mind bees and other pollinators, re-entry and pre-harvest intervals; ask the local adviser when in doubt."

func addCautions(d *report.Document, p plans.About) {
	d.Para("%s", cautions)
	if p.Cautions != "" {
		d.Para("%s", p.Cautions)
	}
}
