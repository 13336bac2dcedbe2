package plans

import "encoding/json"

// The kind and the version of the files of precision plans.
const (
	precisionKind    = "stopwise precision plan"
	precisionVersion = 1
)

type precisionFile struct {
	Kind    string            `json:"kind"`
	Version int               `json:"version"`
	Program string            `json:"program"`
	Spec    PrecisionSpec     `json:"specification"`
	D       float64           `json:"standard_error"` // relative to the estimate
	Rows    []PrecisionRow    `json:"rows"`
	Effort  []PrecisionEffort `json:"effort"`
	// Checksum is the SHA-256 of the file's own compact JSON without it.
	Checksum string `json:"checksum,omitempty"`
}

func (f precisionFile) sum() (string, error) {
	f.Checksum = ""
	return checksum(f)
}

// JSON returns the plan as an indented file.
func (p *PrecisionPlan) JSON() ([]byte, error) {
	f := precisionFile{Kind: precisionKind, Version: precisionVersion, Program: p.Program, Spec: p.PrecisionSpec, D: p.D(), Rows: p.Rows(), Effort: p.Effort}
	sum, err := f.sum()
	if err != nil {
		return nil, err
	}
	f.Checksum = sum
	b, err := json.MarshalIndent(f, "", "  ")
	return append(b, '\n'), err
}

// ReadPrecisionPlan reads the file of a precision plan. A file that was damaged or
// edited by hand is refused.
func ReadPrecisionPlan(text []byte) (*PrecisionPlan, error) {
	var f precisionFile
	if err := decodeFile(text, precisionKind, precisionVersion, precisionVersion, &f); err != nil {
		return nil, err
	}
	changed := &InputError{Message: "the plan was changed after it was made, so its precision no longer holds; make it again with design"}
	if sum, err := f.sum(); err != nil || sum != f.Checksum {
		return nil, changed
	}
	p, err := DesignPrecision(f.Spec)
	if err != nil {
		return nil, changed
	}
	p.Program, p.Effort = f.Program, f.Effort
	return p, nil
}

// IsPrecisionPlanFile reports whether a text says of itself that it is the file of
// a precision plan, damaged or not.
func IsPrecisionPlanFile(text []byte) bool { return kindOf(text) == precisionKind }
