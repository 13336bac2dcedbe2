package say

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// Cautions are printed wherever output can lead to a treatment. A protocol may
// add to them, never replace them. Common practice, no source.
const Cautions = "Cautions: a sampling plan informs a decision and does not make it, and it recommends no product. " +
	"Follow the product label and the local rules and thresholds; have treatments done by licensed applicators; " +
	"mind bees and other pollinators, re-entry and pre-harvest intervals; ask the local adviser when in doubt."

func AddCautions(d *report.Document, p plans.About) {
	d.Para("%s", Cautions)
	if p.Cautions != "" {
		d.Para("%s", p.Cautions)
	}
}
