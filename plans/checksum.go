package plans

import (
	"bytes"
	"encoding/json"
)

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
