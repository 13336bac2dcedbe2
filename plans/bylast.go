package plans

import (
	"fmt"
	"slices"
	"strings"

	"stopwise/plans/protocol"
)

// Last is what earlier visits found in a field, as far as that chooses its table.
type Last = protocol.Last

// What earlier visits can have found.
const (
	LastNone   = protocol.LastNone
	LastFound  = protocol.LastFound
	LastLittle = protocol.LastLittle
	LastMore   = protocol.LastMore
)

// Tables returns the plans of a visit in the stage, one for each table: those by what
// earlier visits found, where these have tables of their own, else the plan alone.
func (s *StagePlan) Tables() []*StagePlan {
	if len(s.ByLast) > 0 {
		return s.ByLast
	}
	return []*StagePlan{s}
}

// Tables returns the plans of all tables, stage by stage.
func (p *Plan) Tables() []*StagePlan {
	var all []*StagePlan
	for _, s := range p.Stages {
		all = append(all, s.Tables()...)
	}
	return all
}

// Of returns the plan of the next visit of a field with a history.
func (s *StagePlan) Of(h History) *StagePlan {
	if len(s.ByLast) == 0 {
		return s
	}
	for _, last := range []Last{h.Last, s.ComingBack.Last(h.found(), h.Seen)} {
		if p, err := s.OfLast(last); err == nil {
			return p
		}
	}
	return s.ByLast[0]
}

// OfLast returns the plan of the visit of a field in which earlier visits found so
// much. Of a stage with one table nothing may be said; of one with several something
// must. The error says what is accepted.
func (s *StagePlan) OfLast(last Last) (*StagePlan, error) {
	if len(s.ByLast) == 0 {
		if last != "" {
			return nil, fmt.Errorf("%s", s.at("the plan has one table for all fields, whatever their last visit found"))
		}
		return s, nil
	}
	i := slices.IndexFunc(s.ByLast, func(p *StagePlan) bool { return p.Last == last })
	if i >= 0 {
		return s.ByLast[i], nil
	}
	var known []string
	for _, p := range s.ByLast {
		known = append(known, string(p.Last))
	}
	return nil, fmt.Errorf("%s: %s", s.at("the plan has tables by what the last visit found; accepted"), strings.Join(known, ", "))
}

// lastFile is the table for the fields in which earlier visits found so much, with
// what it does in a visit.
type lastFile struct {
	Last         Last         `json:"last"`
	NeedlessRisk float64      `json:"needless_risk"`
	MissedRisk   float64      `json:"missed_risk"`
	Rows         []Row        `json:"rows"`
	Risks        []riskJSON   `json:"risks"`
	Effort       []effortJSON `json:"effort"`
	Weighted     float64      `json:"weighted_expected_stops"`
}

// byLastFile returns the tables of a stage as a plan file holds them.
func (s *StagePlan) byLastFile() []lastFile {
	var out []lastFile
	for _, p := range s.ByLast {
		out = append(out, lastFile{p.Last, p.NeedlessRisk, p.MissedRisk, p.Rows(), filed(p.Risks, Risk.file), filed(p.Effort, Effort.file), p.Weighted})
	}
	return out
}

// readByLast gives a stage the tables of a plan file.
func (s *StagePlan) readByLast(files []lastFile) error {
	for _, f := range files {
		t, err := tableOf(s.Units(s.Stop.Plants), f.Rows, s.Stop.Plants)
		if err != nil {
			return err
		}
		if f.Last != s.ComingBack.Last(f.Last != LastNone, moreOr(f.Last, s.ComingBack.MoreFrom)) {
			return fmt.Errorf("plans: a table for fields of kind %q", f.Last)
		}
		p := s.withTable(f.Last, t, f.NeedlessRisk, f.MissedRisk)
		p.Risks, p.Effort = filed(f.Risks, riskJSON.risk), filed(f.Effort, effortJSON.effort)
		p.Weighted, p.Weights = f.Weighted, s.Weights
		if len(p.Risks) == 0 || len(p.Effort) == 0 {
			return fmt.Errorf("plans: a table without risks or effort")
		}
		s.ByLast = append(s.ByLast, p)
	}
	return nil
}

// moreOr returns a share or mean of which the kind of fields would be last.
func moreOr(last Last, moreFrom float64) float64 {
	if last == LastMore {
		return moreFrom
	}
	return 0
}

// withTable returns the plan of a visit in the stage with a table of its own, for the
// fields in which earlier visits found so much, still without what it does.
func (s *StagePlan) withTable(last Last, t Table, needless, missed float64) *StagePlan {
	p := *s
	p.ByLast, p.Last, p.Table = nil, last, t
	p.NeedlessRisk, p.MissedRisk = needless, missed
	p.Stop.Minimum = t.First()
	return &p
}
