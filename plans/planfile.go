package plans

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"stopwise/plans/internal/planfile"
	"stopwise/plans/rule"
)

// The kind and the version of plan files.
const (
	planKind    = "stopwise plan"
	planVersion = 3
	// countedVersion is that of plans whose stops count something else than what was
	// found: an older program would read their numbers wrongly.
	countedVersion = 4
)

type planFile struct {
	Kind     string        `json:"kind"`
	Version  int           `json:"version"`
	Program  string        `json:"program"`
	Protocol Protocol      `json:"protocol"`
	Stages   []stageFile   `json:"stages"`
	Season   *SeasonResult `json:"season,omitempty"`
	// Checksum is the SHA-256 of the file's own compact JSON without it.
	Checksum string `json:"checksum,omitempty"`
}

type stageFile struct {
	Stage         string       `json:"stage"`
	Method        Method       `json:"method"`
	PlantsPerStop int          `json:"plants_per_stop"`
	Lines         *LinePair    `json:"lines,omitempty"`
	Counted       *rule.Worth  `json:"counted,omitempty"`
	Worth         []int        `json:"worth,omitempty"`
	WorthFrom     []int        `json:"worth_from,omitempty"`
	Rows          []Row        `json:"rows"`
	ByLast        []lastFile   `json:"by_last,omitempty"`
	Risks         []riskJSON   `json:"risks"`
	Held          []heldJSON   `json:"held_under,omitempty"`
	Unheld        float64      `json:"weighted_without_hold_under,omitempty"`
	Effort        []effortJSON `json:"effort"`
	Weighted      float64      `json:"weighted_expected_stops"`
	Weights       [3]float64   `json:"weights"`
	NoPlanBelow   float64      `json:"no_plan_below,omitempty"`
	BreaksAt      *float64     `json:"broken_from_count_rho,omitempty"`
	Rivals        []Rival      `json:"could_be_had,omitempty"`
}

// counted returns what the stops of a plan count, as a file says it.
func counted(w rule.Worth) *rule.Worth {
	if w.Plain() {
		return nil
	}
	return &w
}

// WorthMap returns what a full stop counts with 0, 1, ... infested; nil where that is
// what was found, and where insects are counted.
func (s *StagePlan) WorthMap() []int {
	if s.Worth.Plain() || !s.bounded() {
		return nil
	}
	return s.Worth.Map(s.Table.Units)
}

// WorthFrom returns the least count of insects at a full stop that is worth 1, 2, ...
// points; nil for other plans.
func (s *StagePlan) WorthFrom() []int { return s.Worth.Edges(s.Table.Units) }

// PointRuns returns what a full stop counts by what is found there, in runs; nil where
// that is no points.
func (s *StagePlan) PointRuns() []rule.Run {
	if s.Worth.Points == nil {
		return nil
	}
	return s.Worth.Runs(s.Table.Units)
}

// A Row is one stop of a decision table; a nil number means never.
type Row struct {
	Stop   int  `json:"stop"`
	Plants int  `json:"plants"` // in all, up to this stop
	Leave  *int `json:"leave"`
	Act    *int `json:"act"`
}

// Rows returns the stage's decision table row by row.
func (s *StagePlan) Rows() []Row {
	rows := make([]Row, s.Table.Stops())
	for j := range rows {
		rows[j] = Row{Stop: j + 1, Plants: s.Plants() * (j + 1)}
		if a := s.Table.Leave[j]; a != NeverLeave {
			rows[j].Leave = &a
		}
		if r := s.Table.Act[j]; r != NeverAct {
			rows[j].Act = &r
		}
	}
	return rows
}

// JSON returns the plan as an indented plan file.
func (p *Plan) JSON() ([]byte, error) {
	f := planFile{Kind: planKind, Version: planVersion, Program: p.Program, Protocol: p.Protocol, Season: p.Season}
	for _, s := range p.Stages {
		if !s.Worth.Plain() {
			f.Version = countedVersion
		}
		f.Stages = append(f.Stages, stageFile{
			Counted: counted(s.Worth), Worth: s.WorthMap(), WorthFrom: s.WorthFrom(),
			Stage: s.Name, Method: s.Method, PlantsPerStop: s.Plants(), Lines: s.Lines,
			Rows: s.Rows(), ByLast: s.byLastFile(), Risks: filed(s.Risks, Risk.file), Held: filed(s.Held, HeldRisk.file), Unheld: s.Unheld, Effort: filed(s.Effort, Effort.file), Weighted: s.Weighted, Weights: s.Weights, NoPlanBelow: s.NoPlanBelow, BreaksAt: s.BreaksAt, Rivals: s.Rivals,
		})
	}
	return planfile.Seal(&f, &f.Checksum)
}

// ReadPlan reads a plan file. A file that was damaged or edited by hand is
// refused: its risks would no longer be those it states.
func ReadPlan(text []byte) (*Plan, error) {
	f, whole, err := decodePlan(text)
	if err != nil {
		return nil, err
	}
	changed := &InputError{Message: "the plan was changed after it was made, so its risks no longer hold; make it again with design"}
	if !whole {
		return nil, changed
	}
	if err := f.Protocol.Check(); err != nil {
		if f.Protocol.Each(func(s *Stage) { s.Clumping.CountRho = &Range{} }).Check() == nil { // an earlier program did not ask
			return nil, &InputError{Message: fmt.Sprintf("the plan does not say how alike the counts of a stop are (%v); make it again with design", err)}
		}
		return nil, changed
	}
	if len(f.Stages) != len(f.Protocol.Stages) {
		return nil, changed
	}
	plan := &Plan{Program: f.Program, Protocol: f.Protocol, Season: f.Season}
	for i, sf := range f.Stages {
		s, err := sf.stage(plan, i)
		if err != nil {
			return nil, changed
		}
		plan.Stages = append(plan.Stages, s)
	}
	return plan, nil
}

func decodePlan(text []byte) (f planFile, whole bool, err error) {
	whole, err = planfile.Read(text, planKind, planVersion, countedVersion, &f, &f.Checksum)
	return f, whole, err
}

// filed turns a list into that of a plan file, or back; none stays none.
func filed[A, B any](list []A, as func(A) B) []B {
	if list == nil {
		return nil
	}
	out := make([]B, len(list))
	for i, x := range list {
		out[i] = as(x)
	}
	return out
}

func (f stageFile) stage(plan *Plan, i int) (*StagePlan, error) {
	s := stagePlan(plan.Protocol, i)
	s.Method, s.Lines = f.Method, f.Lines
	s.Risks, s.Effort = filed(f.Risks, riskJSON.risk), filed(f.Effort, effortJSON.effort)
	s.Weights = f.Weights
	s.Held, s.Unheld = filed(f.Held, heldJSON.risk), f.Unheld
	s.BreaksAt = f.BreaksAt
	s.Weighted, s.NoPlanBelow, s.Rivals = f.Weighted, f.NoPlanBelow, f.Rivals
	if f.Counted != nil {
		s.Worth = *f.Counted
	}
	if err := s.Worth.Check(); err != nil {
		return nil, err
	}
	if f.Stage != s.Name || f.PlantsPerStop != s.Stop.Plants {
		return nil, errors.New("plans: stage of another protocol")
	}
	var err error
	if s.Table, err = tableOf(s.Units(f.PlantsPerStop), f.Rows, f.PlantsPerStop); err != nil {
		return nil, err
	}
	if s.Worth.Plain() != s.Stop.Plain() || !slices.Equal(f.Worth, s.WorthMap()) || !slices.Equal(f.WorthFrom, s.WorthFrom()) {
		return nil, errors.New("plans: stops that count another thing than their map says")
	}
	if len(s.Risks) == 0 || len(s.Effort) == 0 {
		return nil, errors.New("plans: stage without risks or effort")
	}
	return s, s.readByLast(f.ByLast)
}

// tableOf returns the table of rows of a stage with so many units and plants at a stop.
func tableOf(units int, rows []Row, plants int) (Table, error) {
	t := Table{Units: units}
	for j, r := range rows {
		if r.Stop != j+1 || r.Plants != (j+1)*plants {
			return t, errors.New("plans: rows out of order")
		}
		a, act := NeverLeave, NeverAct
		if r.Leave != nil {
			a = *r.Leave
		}
		if r.Act != nil {
			act = *r.Act
		}
		t.Leave = append(t.Leave, a)
		t.Act = append(t.Act, act)
	}
	return t, t.Check()
}

// IsPlanFile reports whether a text says of itself that it is a plan file,
// damaged or not.
func IsPlanFile(text []byte) bool { return planfile.Kind(text) == planKind }

// Checksum returns the plan's checksum, "sha256:" and 64 hexadecimal digits, as
// its file states it. It names the plan by its content: another program version,
// protocol or table has another one.
func (p *Plan) Checksum() (string, error) {
	_, sum, err := p.Compact()
	return sum, err
}

// Compact returns the plan file on one line, and its checksum.
func (p *Plan) Compact() (text []byte, checksum string, err error) {
	indented, err := p.JSON()
	if err != nil {
		return nil, "", err
	}
	var head struct {
		Checksum string `json:"checksum"`
	}
	if err := json.Unmarshal(indented, &head); err != nil {
		return nil, "", err
	}
	var b bytes.Buffer
	err = json.Compact(&b, indented)
	return b.Bytes(), head.Checksum, err
}
