package protocol

import (
	"encoding/json"
	"fmt"
	"math"
)

// A ClumpValue names one degree of clumping: rho for shares, k for counts.
type ClumpValue struct {
	Counts bool
	Value  float64 // +Inf for a Poisson
	// CountRho is the correlation of two units' counts at one stop, for counts.
	CountRho float64
}

// Name returns "rho" or "k".
func (c ClumpValue) Name() string {
	if c.Counts {
		return "k"
	}
	return "rho"
}

// MarshalJSON writes {"rho": 0.1}, {"k": 0.8} or {"count_rho": 0.1, "k": 0.8}; k is
// null for a Poisson.
func (c ClumpValue) MarshalJSON() ([]byte, error) {
	m := map[string]*float64{c.Name(): &c.Value}
	if math.IsInf(c.Value, 1) {
		m[c.Name()] = nil
	}
	if c.CountRho > 0 {
		m["count_rho"] = &c.CountRho
	}
	return json.Marshal(m)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (c *ClumpValue) UnmarshalJSON(b []byte) error {
	var m map[string]*float64
	if err := json.Unmarshal(b, &m); err != nil {
		return err
	}
	var read ClumpValue
	if rho := m["count_rho"]; rho != nil && m["rho"] == nil {
		read.CountRho = *rho
		delete(m, "count_rho")
	}
	if len(m) != 1 {
		return fmt.Errorf("clumping must be one of rho and k")
	}
	for name, v := range m {
		if name != "rho" && name != "k" {
			return fmt.Errorf("clumping %q; accepted: rho or k", name)
		}
		read.Counts, read.Value = name == "k", math.Inf(1)
		if v != nil {
			read.Value = *v
		} else if name == "rho" {
			return fmt.Errorf("rho is null; accepted: a number")
		}
	}
	*c = read
	return nil
}
