package studying

import (
	"fmt"

	"stopwise/cmd/stopwise/internal/report"
)

// question ends a document with what its picture can answer.
func question(d *report.Document, format string, args ...any) {
	d.Para("Question: %s", fmt.Sprintf(format, args...))
}
