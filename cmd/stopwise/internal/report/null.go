package report

import "math"

// An Interval is a confidence interval as it stands in JSON.
type Interval struct {
	Lower      float64 `json:"lower"`
	Upper      float64 `json:"upper"`
	Confidence float64 `json:"confidence" csv:"-"`
}

// OrNull returns null where n is the number that stands for none.
func OrNull(n, null int) *int {
	if n == null {
		return nil
	}
	return &n
}

// Finite returns null for what is not a number or has no limit: JSON and CSV
// hold neither.
func Finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// OrNullZero returns null for 0, which stands for what was not computed.
func OrNullZero(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return &x
}
