package say

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

// Cautions are printed wherever output can lead to a treatment. A protocol may
// add to them, never replace them. Common practice, no source.
func (l In) Cautions() string { return l.Say("scout.cautions_head") + l.Say("scout.cautions") }

// AddCautions adds the cautions, and those of the protocol as they are written.
func (l In) AddCautions(d *report.Document, p plans.About) {
	d.Para("%s", l.Cautions())
	d.Para("%s", p.Cautions)
}
