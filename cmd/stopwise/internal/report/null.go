package report

import (
	"math"
)

type Interval struct {
	Lower      float64 `json:"lower"`
	Upper      float64 `json:"upper"`
	Confidence float64 `json:"confidence"`
}

func OrNull(n, null int) *int {
	if n == null {
		return nil
	}
	return &n
}

// Finite returns null for what is not a number or has no limit.
func Finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func FiniteOrNull(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return &x
}

// Known returns nil for what has no value: JSON and CSV hold neither NaN nor
// infinities.
func Known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func OrNullZero(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return &x
}
