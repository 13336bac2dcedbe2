package report

import "math"

// An Interval is a confidence interval as it stands in JSON.
type Interval struct {
	Lower      float64 `json:"lower"`
	Upper      float64 `json:"upper"`
	Confidence float64 `json:"confidence" csv:"-"`
}

// OrNull returns null where x is what stands for none.
func OrNull[T comparable](x, null T) *T {
	if x == null {
		return nil
	}
	return &x
}

// Finite returns null for what is not a number or has no limit: JSON and CSV
// hold neither.
func Finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
