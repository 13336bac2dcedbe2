package trying

import (
	"errors"
	"fmt"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/pilot"
	"stopwise/validate"
)

// fieldData is what --data holds, parted into what may be used and what may not.
type fieldData struct {
	file    string
	fitted  bool // --fitted-on was given; otherwise no field was fitted to
	ignored []string
	notes   []string // what may be a slip in the table
	split   validate.Split
}

func (v *validation) readData(e shell.Env, s *plans.StagePlan) (*fieldData, error) {
	data, err := shell.ReadPilot(e, v.data.Value)
	if err != nil {
		return nil, err
	}
	if data, err = inMeasure(s, data); err != nil {
		return nil, shell.InputError(v.data.Value, err)
	}
	d := &fieldData{file: v.data.Value, fitted: v.fitted.Set, ignored: data.Ignored, notes: data.Notes}
	var fitted []string
	if v.fitted.Set {
		if fitted, err = v.fittedNames(e, data); err != nil {
			return nil, err
		}
	}
	d.split = validate.SplitFields(data.Fields, fitted, s.Name)
	if len(d.split.Fields) == 0 {
		return nil, shell.InputError(v.data.Value, errors.New("no field is left to validate with; "+d.leftOut()))
	}
	return d, nil
}

// inMeasure returns the data as the plan counts: at the protocol's tally number
// where insects were counted leaf by leaf.
func inMeasure(s *plans.StagePlan, data *pilot.Data) (*pilot.Data, error) {
	switch {
	case s.Measure == plans.MeanPerLeaf && data.Layout != pilot.PerLeaf:
		return nil, fmt.Errorf("the table has %s; a plan for a mean per leaf needs one row a leaf, with its count", data.Layout)
	case s.Measure == plans.MeanPerLeaf || data.Layout != pilot.PerLeaf:
		return data, nil
	}
	tally := s.Unit.Tally
	if tally == 0 {
		return nil, errors.New("the table has counts per leaf, and the plan's protocol does not say from which count on a plant is infested (tally)")
	}
	return data.AtTally(tally)
}

// fittedNames returns the names of the fields that --fitted-on gives: as they
// stand there, or as they stand in a file.
func (v *validation) fittedNames(e shell.Env, data *pilot.Data) ([]string, error) {
	list := v.fitted.Value
	if len(list) == 1 && strings.HasSuffix(strings.ToLower(list[0]), ".csv") {
		other, err := shell.ReadPilot(e, list[0])
		if err != nil {
			return nil, err
		}
		var names []string
		for _, f := range other.Fields {
			names = append(names, f.Name)
		}
		return names, nil
	}
	if err := validate.CheckFitted(data.Fields, list); err != nil {
		return nil, shell.UsageError("--fitted-on: %w", err)
	}
	return list, nil
}

// leftOut says which fields were left out, and why.
func (d *fieldData) leftOut() string {
	var parts []string
	if n := d.split.Fitted; len(n) > 0 {
		parts = append(parts, "left out because the plan's constants were fitted to them: "+strings.Join(n, ", "))
	}
	if n := d.split.OtherStage; len(n) > 0 {
		parts = append(parts, "left out because they were seen at another growth stage: "+strings.Join(n, ", "))
	}
	return strings.Join(parts, "; ")
}

// splitSentence says what kept the fields apart.
func (d *fieldData) splitSentence() string {
	s := "Taken as independent on the user's word (--all-fields-independent): no field was used to fit the plan's constants."
	if d.fitted {
		s = "Fields that the plan's constants were fitted to are not used to validate it."
		if len(d.split.Fitted) == 0 {
			s += " None of these is one."
		}
	}
	if out := d.leftOut(); out != "" {
		s += " " + strings.ToUpper(out[:1]) + out[1:] + "."
	}
	return s
}

func (r *validationResult) fieldsDocument(d *report.Document) {
	s := r.stage
	d.Heading("Seen fields: " + r.data.file)
	d.Para("%s", r.data.splitSentence())
	if len(r.data.ignored) > 0 {
		d.Para("Columns not used: %s.", strings.Join(r.data.ignored, ", "))
	}
	for _, note := range r.data.notes {
		d.Note("%s.", say.Capital(shell.Printable(note)))
	}
	t := report.NewTable(fmt.Sprintf("Each field walked %s, every stop drawn from its own stops. Wrong is act at or below %s, and leave at or above %s; between them either verdict may come. ± is one Monte Carlo standard error.",
		report.Count(r.visits, "time", "times"), report.Level(s.Measure, s.Lower), report.Level(s.Measure, s.Upper)),
		"field", ">stops seen", ">"+report.UnitsName(s.Stage)+" seen", ">"+levelHead(s), "lies", ">act", ">leave", ">wrong", ">mean stops")
	for _, f := range r.fields {
		t.Add(f.Name, fmt.Sprint(f.Stops), fmt.Sprint(f.Plants), measuredLevel(s, f.Level), f.Zone.String(),
			say.Chance(f.Visits.ActChance().Value), say.Chance(f.Visits.LeaveChance().Value), wrongText(f), meanText(f.Visits.MeanStops()))
	}
	d.Table(t)
	d.List(r.poolSentences()...)
	if short := r.shortFields(); len(short) > 0 {
		d.Note("stops with fewer %s than the plan's %d were taken whole, and the table read at the %s really seen: %s.", report.UnitsName(s.Stage), s.Plants(), report.UnitsName(s.Stage), strings.Join(short, ", "))
	}
	d.Note("the promise is for fields at the bounds: further out a plan risks less. A field's own level over its stops is itself an estimate: one that lies close to a bound may truly lie on the other side of it.")
}

// poolSentences say what came of the fields of each zone together.
func (r *validationResult) poolSentences() []string {
	s := r.stage
	level := func(x float64) string { return report.Level(s.Measure, x) }
	var out []string
	for _, p := range validate.Pools(r.fields) {
		if p.Fields == 0 {
			switch p.Zone {
			case validate.Low:
				out = append(out, fmt.Sprintf("No field is at or below %s: the data say nothing of needless treatments.", level(s.Lower)))
			case validate.High:
				out = append(out, fmt.Sprintf("No field is at or above %s: the data say nothing of missed treatments.", level(s.Upper)))
			}
			continue
		}
		n := report.Count(p.Fields, "field", "fields")
		switch p.Zone {
		case validate.Low:
			out = append(out, fmt.Sprintf("In %s at or below %s, %s of the visits acted needlessly; promised: at most %s.", n, level(s.Lower), say.ChanceText(p.Wrong), report.Share(s.NeedlessRisk)))
		case validate.Between:
			out = append(out, fmt.Sprintf("In %s between the bounds, %s of the visits acted; nothing is promised there, either verdict may come.", n, say.ChanceText(p.Act)))
		case validate.High:
			out = append(out, fmt.Sprintf("In %s at or above %s, %s of the visits missed the treatment; promised: at most %s.", n, level(s.Upper), say.ChanceText(p.Wrong), report.Share(s.MissedRisk)))
		}
	}
	return out
}

func wrongText(f validate.FieldResult) string {
	if f.Zone == validate.Between {
		return "either verdict"
	}
	return say.ChanceText(f.Wrong)
}

// shortFields names the fields that have stops with fewer plants than planned.
func (r *validationResult) shortFields() []string {
	var names []string
	for _, f := range r.data.split.Fields {
		for _, x := range f.Stops {
			if x.Plants < r.stage.Plants() {
				names = append(names, f.Label())
				break
			}
		}
	}
	return names
}

func levelHead(s *plans.StagePlan) string {
	if s.Measure == plans.MeanPerLeaf {
		return "mean per leaf"
	}
	return "infested"
}

// measuredLevel writes a level that was measured.
func measuredLevel(s *plans.StagePlan, x float64) string {
	if s.Measure == plans.MeanPerLeaf {
		return report.Number(x, 3)
	}
	return report.Percent(x)
}
