package designing

import (
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
)

func DemoCompare(d *report.Document, c plans.Comparison) {
	d.Heading("4. Stopping early, with and without a promise that holds")
	rows := comparisonOf(c)
	d.Table(promiseTable(c, rows))
	d.Table(effortsTable(c, rows))
	d.Para("The textbook lines look cheap because they break the promise once plants clump: they take plants as independent. %s", comparisonNote(report.UnitsName(c.Stage), []plans.Comparison{c}))
}
