package fitting

import (
	"fmt"
	"strconv"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
)

// A stageRow is what the pilot counts of one growth stage say, as CSV and JSON
// have it.
type stageRow struct {
	Stage    string       `json:"stage"`
	Fields   int          `json:"fields"`
	Stops    int          `json:"stops"`
	Plants   int          `json:"plants"`
	Infested int          `json:"infested"`
	Rho      estimateJSON `json:"rho"`
	K        estimateJSON `json:"k"`
	CountRho estimateJSON `json:"count_rho"`
}

type stagesJSON struct {
	report.Envelope
	Confidence float64    `json:"confidence"`
	Stages     []stageRow `json:"stages"`
	Section    string     `json:"section"` // for a protocol
}

// A stagedFitting is a fit of each growth stage by itself.
type stagedFitting struct {
	whole  *fitting
	stages []*fitting
	names  []string
}

// fitStages fits every stage of pilot counts by itself.
func fitStages(f *fitting, o fit.Options) (*stagedFitting, error) {
	s := &stagedFitting{whole: f}
	parts := map[string]*pilot.Data{}
	for _, field := range f.data.Fields {
		key := strings.ToLower(field.Stage)
		if parts[key] == nil {
			part := *f.data
			part.Fields, part.Notes, part.Ignored = nil, nil, nil
			parts[key] = &part
			s.names = append(s.names, field.Stage)
		}
		parts[key].Fields = append(parts[key].Fields, field)
	}
	if len(s.names) == 1 && s.names[0] == "" {
		return nil, shell.UsageError("--by-stage needs a column stage, and %s has none", f.file)
	}
	for _, name := range s.names {
		one := &fitting{path: f.path, file: f.file, data: parts[strings.ToLower(name)]}
		if err := one.fit(o); err != nil {
			return nil, err
		}
		s.stages = append(s.stages, one)
	}
	return s, nil
}

// section returns the sections of the stages; a stage whose counts carry nothing
// says so in a comment.
func (s *stagedFitting) section() (string, error) {
	w := &sectionWriter{}
	any := false
	for i, f := range s.stages {
		if i > 0 {
			w.line("")
		}
		text, err := f.sectionUnder(fmt.Sprintf("[[stage]]\nname = %s", strconv.Quote(s.names[i])))
		if err != nil {
			w.comment("Stage %s: %v.", s.names[i], err)
			continue
		}
		any = true
		w.WriteString(text)
	}
	if !any {
		return "", shell.Failure("no stage of %s carries a constant", s.whole.file)
	}
	return w.String(), nil
}

func (s *stagedFitting) rows() (rows []stageRow) {
	for i, f := range s.stages {
		rows = append(rows, stageRow{s.names[i], f.Fields, f.Stops, f.Plants, f.Infested, estimateOf(f.Rho.Estimate), estimateOf(f.K.Estimate), estimateOf(f.CountRho.Estimate)})
	}
	return rows
}

func (s *stagedFitting) json() stagesJSON {
	section, _ := s.section()
	return stagesJSON{report.Envelope{Kind: "stopwise fit by stage", Version: 1}, s.whole.Confidence, s.rows(), section}
}

func (s *stagedFitting) document() *report.Document {
	d := &report.Document{}
	d.Heading("Constants of each growth stage from " + s.whole.file)
	var said []string
	for i, f := range s.stages {
		if f.Rho.Estimate.Known() {
			said = append(said, fmt.Sprintf("%s %s", s.names[i], rhoNumber(f.Rho.Estimate.Value)))
		}
	}
	if len(said) > 0 {
		d.Para("rho by stage: %s; all together %s.", strings.Join(said, ", "), rhoNumber(s.whole.Rho.Estimate.Value))
	}
	t := report.NewTable("Each stage by itself.", "stage", ">fields", ">stops", ">infested", ">rho", ">"+report.Share(s.whole.Confidence)+" interval")
	counts := s.whole.Leaves > 0
	if counts {
		t.Head(">k", ">interval", ">count rho", ">interval")
	}
	for i, f := range s.stages {
		row := []string{shell.Printable(s.names[i]), fmt.Sprint(f.Fields), fmt.Sprint(f.Stops), fmt.Sprintf("%d/%d", f.Infested, f.Plants),
			rhoNumber(f.Rho.Estimate.Value), interval(f.Rho.Estimate, rhoNumber)}
		if counts {
			row = append(row, kNumber(f.K.Estimate), interval(f.K.Estimate, number3), rhoNumber(f.CountRho.Estimate.Value), interval(f.CountRho.Estimate, rhoNumber))
		}
		t.Add(row...)
	}
	d.Table(t)
	for i, f := range s.stages {
		for _, w := range f.warnings {
			if w.About == "data" || w.About == "rho" {
				d.Note("%s: %s.", stageNamed(s.names[i]), w.Text)
			}
		}
	}
	if text, err := s.section(); err == nil {
		d.Heading("For the protocol")
		d.Para("Add these lines to the stages of these names.")
		d.Picture(text)
	}
	return d
}

func stageNamed(stage string) string {
	if stage == "" {
		return "without a stage"
	}
	return "stage " + shell.Printable(stage)
}

func writeStages(e shell.Env, f *fitting, o fit.Options, onlyProtocol bool, format string) error {
	s, err := fitStages(f, o)
	if err != nil {
		return err
	}
	if onlyProtocol {
		return writeSection(e)(s.section())
	}
	return report.Write(e.Out, format, report.Output{Doc: s.document(), Records: report.RecordsOf(s.rows()), JSON: s.json()})
}
