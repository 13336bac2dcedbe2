package fitting

import (
	"bytes"
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
	marrowvale "stopwise/testdata/marrow-vale"
)

func DemoFit() (*fitting, error) {
	const file = "pilot.csv"
	f := &fitting{path: file, file: file}
	var err error
	if f.data, err = pilot.Read(bytes.NewReader(marrowvale.Pilot)); err != nil {
		return nil, err
	}
	return f, f.fit(fit.Options{})
}

// DemoPilot shows one field, in which the stops differ, and what all say.
func DemoPilot(d *report.Document, f *fitting) {
	d.Heading("1. The pilot counts")
	one := f.data.Fields[0]
	var seen []string
	for _, s := range one.Stops {
		seen = append(seen, fmt.Sprint(s.Infested))
	}
	d.Para("Scouts first counted in %s (pilot.csv). In %s the %s of %d plants each had %s infested plants: the thrips sit in spots.",
		fieldsText(f.Fields), one.Name, report.Count(len(one.Stops), "stop", "stops"), f.plantsPerStop(), strings.Join(seen, ", "))
	d.Para("%s %s", f.alikeSentence(), f.worthSentence())
	d.Para("The plan must keep its risks over the whole interval, rounded outwards, and is built for its upper end: who takes the clumping for smaller than it is breaks the promise. `stopwise fit pilot.csv` shows the fit, with --protocol the lines for the protocol.")
}
