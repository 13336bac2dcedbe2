package protocol

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/floats"
)

// A Range is a quantity known between two values; Low = High where it is one.
type Range struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Single reports whether the range is one value.
func (r Range) Single() bool { return r.Low == r.High }

// Grid returns n evenly spaced values from Low to High, or the one value.
func (r Range) Grid(n int) []float64 {
	if r.Single() {
		return []float64{r.Low}
	}
	g := make([]float64, n)
	for i := range g {
		g[i] = r.Low + (r.High-r.Low)*float64(i)/float64(n-1)
	}
	g[n-1] = r.High
	return g
}

// Ratios returns n values from Low to High that grow by the same factor, or the
// one value. Low must be above 0.
func (r Range) Ratios(n int) []float64 {
	if r.Single() {
		return []float64{r.Low}
	}
	g := floats.LogSpan(make([]float64, n), r.Low, r.High)
	g[0], g[n-1] = r.Low, r.High
	return g
}

// String returns "0.1" or "0.05..0.15".
func (r Range) String() string {
	if r.Single() {
		return formatNumber(r.Low)
	}
	return formatNumber(r.Low) + ".." + formatNumber(r.High)
}

func formatNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// ParseShare reads a share written "25%" or "0.25". A bare "25" is refused: it
// could be either.
func ParseShare(s string) (float64, error) {
	t := strings.TrimSpace(s)
	number, percent := strings.CutSuffix(t, "%")
	x, err := parseFinite(number)
	if err != nil {
		return 0, fmt.Errorf("%q is not a share; write it as 25%% or 0.25", s)
	}
	if percent {
		// Divide the decimal, not the binary number: 7% is 0.07, not 0.07000000000000001.
		if y, err := strconv.ParseFloat(strings.TrimSpace(number)+"e-2", 64); err == nil {
			x = y
		} else {
			x /= 100
		}
	}
	switch {
	case x >= 0 && x <= 1:
		return x, nil
	case !percent && x > 1 && x <= 100:
		return 0, fmt.Errorf("%q is not a share; write %s%% or %s", s, t, formatNumber(x/100))
	}
	return 0, fmt.Errorf("%q is not a share; it must lie between 0%% and 100%%", s)
}

// ParseRange reads a value ("0.1") or a range ("0.05..0.15").
func ParseRange(s string) (Range, error) {
	low, high, isRange := strings.Cut(s, "..")
	if !isRange {
		high = low
	}
	a, errA := parseFinite(low)
	b, errB := parseFinite(high)
	if errA != nil || errB != nil {
		return Range{}, fmt.Errorf("%q is not a number or a range; write 0.1 or 0.05..0.15", s)
	}
	if a > b {
		return Range{}, fmt.Errorf("%q runs downwards; write %s..%s", s, strings.TrimSpace(high), strings.TrimSpace(low))
	}
	return Range{a, b}, nil
}

func parseFinite(s string) (float64, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
		err = strconv.ErrRange
	}
	return x, err
}

// A share is a share that is written as a percentage.
type share float64

func (s share) String() string { return short(100*float64(s)) + "%" }

// short writes a number to four decimals, as errors and defaults show it.
func short(x float64) string {
	if x != 0 && math.Abs(x) < 0.0001 {
		return strconv.FormatFloat(x, 'g', 4, 64)
	}
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.4f", x), "0"), ".")
}

// Middle returns the middle of two bounds, to the digits a person would write.
func Middle(lower, upper float64) float64 {
	m, err := strconv.ParseFloat(strconv.FormatFloat((lower+upper)/2, 'g', 12, 64), 64)
	if err != nil {
		return (lower + upper) / 2
	}
	return m
}
