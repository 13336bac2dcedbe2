package plans

import (
	"encoding/json"
	"math"

	"stopwise/plans/internal/planfile"
	"stopwise/sampling"
)

// Evaluate returns what the plan does in a world: its whole rule, count and
// further sign.
func (s *StagePlan) Evaluate(w World) Evaluation { return s.EvaluateIn(w.Level, w.Population()) }

// EvaluateIn returns what the whole rule does in fields of a level whose stops are
// distributed in a way of their own. The chances of the verdicts are NaN where they
// are not known, for want of a chance of the sign. The sign is taken as independent
// of the counts and from stop to stop, given the field.
func (s *StagePlan) EvaluateIn(level float64, pop sampling.Population) Evaluation {
	return s.Count(pop).WithSign(s.SignMet(level))
}

// Count returns what the count alone does in fields whose stops are distributed in a
// way of their own: before any stop counts as [StagePlan.Worth] says.
func (s *StagePlan) Count(pop sampling.Population) Evaluation {
	return Evaluate(s.Table, s.Worth.Of(pop))
}

// NeedlessIn returns the chance that the whole rule acts in such a field at the
// lower bound. Where the chance of the sign there is not known it is that of the
// count alone, which the sign can only lower.
func (s *StagePlan) NeedlessIn(pop sampling.Population) float64 {
	return s.needless(s.Count(pop))
}

func (s *StagePlan) needless(count Evaluation) float64 {
	if !s.NeedlessKnown() {
		return count.Act
	}
	return count.WithSign(s.SignMet(s.Lower)).Act
}

// MissedIn returns the chance that the whole rule leaves such a field at the upper
// bound; NaN where it is not known, for want of a chance of the sign.
func (s *StagePlan) MissedIn(pop sampling.Population) float64 {
	return s.missed(s.Count(pop))
}

func (s *StagePlan) missed(count Evaluation) float64 {
	if !s.MissedKnown() {
		return math.NaN()
	}
	return count.WithSign(s.SignMet(s.Upper)).Leave
}

// designSigns returns the chances that the sign allows a treatment at the two
// bounds, as a design counts with them: nil where they are not known, so that the
// table is made for the count alone.
func (s *StagePlan) designSigns() (needless, missed func(stop int) float64) {
	if s.NeedlessKnown() {
		needless = s.SignMet(s.Lower)
	}
	if s.MissedKnown() {
		missed = s.SignMet(s.Upper)
	}
	return needless, missed
}

// SignAlone returns the smallest chance of missing a field at the upper bound
// that the sign alone leaves to any table of these stop rules, even one whose
// count always says act: 0 where there is no sign, or its chance is not known.
func (s *StagePlan) SignAlone() float64 {
	_, met := s.designSigns()
	if met == nil {
		return 0
	}
	most := 0.0
	for j := s.Stop.Minimum; j <= s.Stop.Maximum; j++ {
		most = math.Max(most, met(j))
	}
	return 1 - most
}

// riskJSON is a risk in a file: null is not known.
type riskJSON struct {
	Clump    ClumpValue `json:"clump"`
	Needless float64    `json:"needless"`
	Missed   *float64   `json:"missed"`
}

func (r Risk) file() riskJSON { return riskJSON{r.Clump, r.Needless, orNull(r.Missed)} }

func (j riskJSON) risk() Risk { return Risk{j.Clump, j.Needless, orNaN(j.Missed)} }

// MarshalJSON writes what is not known as null.
func (r Risk) MarshalJSON() ([]byte, error) { return json.Marshal(r.file()) }

// UnmarshalJSON reads what [Risk.MarshalJSON] writes.
func (r *Risk) UnmarshalJSON(text []byte) error {
	var j riskJSON
	err := planfile.Strictly(text, &j)
	*r = j.risk()
	return err
}

// The chance to act of a plainEffort stands before its own one, which is NaN where
// it is not known.
type plainEffort Effort

type effortJSON struct {
	At    string     `json:"at"`
	Level float64    `json:"level"`
	Clump ClumpValue `json:"clump"`
	Act   *float64   `json:"p_act"`
	plainEffort
}

func (e Effort) file() effortJSON {
	return effortJSON{e.At, e.Level, e.Clump, orNull(e.Act), plainEffort(e)}
}

func (j effortJSON) effort() Effort {
	e := Effort(j.plainEffort)
	e.At, e.Level, e.Clump, e.Act = j.At, j.Level, j.Clump, orNaN(j.Act)
	return e
}

// MarshalJSON writes what is not known as null.
func (e Effort) MarshalJSON() ([]byte, error) { return json.Marshal(e.file()) }

// UnmarshalJSON reads what [Effort.MarshalJSON] writes.
func (e *Effort) UnmarshalJSON(text []byte) error {
	var j effortJSON
	err := planfile.Strictly(text, &j)
	*e = j.effort()
	return err
}

func orNull(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}

func orNaN(x *float64) float64 {
	if x == nil {
		return math.NaN()
	}
	return *x
}
