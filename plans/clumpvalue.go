package plans

import (
	"encoding/json"
	"fmt"
	"math"
)

// A ClumpValue names one degree of clumping: rho for shares, k for counts.
type ClumpValue struct {
	Counts bool
	Value  float64 // +Inf for a Poisson
}

func (w World) value() ClumpValue { return ClumpValue{w.Counts, w.Clump} }

// Name returns "rho" or "k".
func (c ClumpValue) Name() string {
	if c.Counts {
		return "k"
	}
	return "rho"
}

// Number returns the value in figures, "none" for a Poisson.
func (c ClumpValue) Number() string {
	if math.IsInf(c.Value, 1) {
		return "none"
	}
	return formatShort(c.Value)
}

// String returns "rho 0.1" or "k 0.8".
func (c ClumpValue) String() string { return c.Name() + " " + c.Number() }

// MarshalJSON writes {"rho": 0.1} or {"k": 0.8}; k is null for a Poisson.
func (c ClumpValue) MarshalJSON() ([]byte, error) {
	if math.IsInf(c.Value, 1) {
		return []byte(`{"k":null}`), nil
	}
	return json.Marshal(map[string]float64{c.Name(): c.Value})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (c *ClumpValue) UnmarshalJSON(b []byte) error {
	var m map[string]*float64
	if err := json.Unmarshal(b, &m); err != nil {
		return err
	}
	if len(m) != 1 {
		return fmt.Errorf("clumping must be one of rho and k")
	}
	for name, v := range m {
		if name != "rho" && name != "k" {
			return fmt.Errorf("clumping %q; accepted: rho or k", name)
		}
		*c = ClumpValue{Counts: name == "k", Value: math.Inf(1)}
		if v != nil {
			c.Value = *v
		} else if name == "rho" {
			return fmt.Errorf("rho is null; accepted: a number")
		}
	}
	return nil
}
