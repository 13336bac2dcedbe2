package precision

import (
	"stopwise/plans/internal/planfile"
	"stopwise/plans/protocol"
)

// The kind and the version of the files of precision plans.
const (
	kind    = "stopwise precision plan"
	version = 1
)

type file struct {
	Kind    string   `json:"kind"`
	Version int      `json:"version"`
	Program string   `json:"program"`
	Spec    Spec     `json:"specification"`
	D       float64  `json:"standard_error"` // relative to the estimate
	Rows    []Row    `json:"rows"`
	Effort  []Effort `json:"effort"`
	// Checksum is the SHA-256 of the file's own compact JSON without it.
	Checksum string `json:"checksum,omitempty"`
}

// JSON returns the plan as an indented file.
func (p *Plan) JSON() ([]byte, error) {
	f := file{Kind: kind, Version: version, Program: p.Program, Spec: p.Spec, D: p.D(), Rows: p.Rows(), Effort: p.Effort}
	return planfile.Seal(&f, &f.Checksum)
}

// Read reads the file of a precision plan. A file that was damaged or
// edited by hand is refused.
func Read(text []byte) (*Plan, error) {
	var f file
	whole, err := planfile.Read(text, kind, version, version, &f, &f.Checksum)
	if err != nil {
		return nil, err
	}
	changed := &protocol.InputError{Message: "the plan was changed after it was made, so its precision no longer holds; make it again with design"}
	if !whole {
		return nil, changed
	}
	p, err := Design(f.Spec)
	if err != nil {
		return nil, changed
	}
	p.Program, p.Effort = f.Program, f.Effort
	return p, nil
}

// IsFile reports whether a text says of itself that it is the file of
// a precision plan, damaged or not.
func IsFile(text []byte) bool { return planfile.Kind(text) == kind }
