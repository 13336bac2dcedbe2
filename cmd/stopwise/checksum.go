package main

import (
	"encoding/json"

	"stopwise/plans"
)

// checksumOf returns the checksum that a plan's file states. It names the plan
// by its content.
func checksumOf(p *plans.Plan) (string, error) {
	text, err := p.JSON()
	if err != nil {
		return "", err
	}
	var head struct {
		Checksum string `json:"checksum"`
	}
	err = json.Unmarshal(text, &head)
	return head.Checksum, err
}
