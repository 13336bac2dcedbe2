package report

import (
	"math"
	"strconv"
	"strings"
)

// Unknown stands where there is no number.
const Unknown = "n/a"

// Percent returns a chance or a share, given in [0, 1], as a percentage that
// was computed or measured: "14.9%", and with two decimals below 1% ("0.03%").
// Exactly 0 and 1 are "0%" and "100%"; nothing else is rounded to them: it is
// "<0.01%" or ">99.9%". Values outside [0, 1], such as differences, keep their
// sign. NaN is "n/a".
func Percent(p float64) string {
	switch {
	case math.IsNaN(p) || math.IsInf(p, 0):
		return Unknown
	case p < 0:
		s := Percent(-p)
		if rest, small := strings.CutPrefix(s, "<"); small {
			return ">-" + rest
		}
		if rest, large := strings.CutPrefix(s, ">"); large {
			return "<-" + rest
		}
		return "-" + s
	case p == 0:
		return "0%"
	case p == 1:
		return "100%"
	case p < 0.0001:
		return "<0.01%"
	}
	if s := fixed(100*p, 2); p < 0.01 && s != "1.00" {
		return s + "%"
	}
	s := fixed(100*p, 1)
	if p < 1 && s == "100.0" {
		return ">99.9%"
	}
	return s + "%"
}

// Share returns a share that somebody chose, such as a threshold, without
// digits that were never written: 0.15 is "15%", 0.125 is "12.5%".
func Share(p float64) string {
	if math.IsNaN(p) || math.IsInf(p, 0) {
		return Unknown
	}
	// Ten digits hide what the multiplication adds to 0.07 and the like.
	return strconv.FormatFloat(round(100*p, 10), 'f', -1, 64) + "%"
}

// Number returns x with at least the given number of significant digits: 12.3
// and 0.0123 for three. The digits before the point are never rounded off.
func Number(x float64, digits int) string {
	switch {
	case math.IsNaN(x):
		return Unknown
	case math.IsInf(x, 1):
		return "infinite"
	case math.IsInf(x, -1):
		return "-infinite"
	case x == 0:
		return "0"
	}
	r := round(x, digits) // 9.996 has one digit before the point, 10.0 has two
	decimals := max(0, digits-1-exponent(r))
	if decimals > digits+6 {
		return strconv.FormatFloat(x, 'e', digits-1, 64)
	}
	return fixed(x, decimals)
}

// Minutes returns a time given in minutes: "15 s", "3.5 min", "47 min", and from
// two hours on "2 h 05 min".
func Minutes(x float64) string {
	switch whole := math.Round(x); {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return Unknown
	case x < 0:
		return "-" + Minutes(-x)
	case x > 0 && x < 0.5/60:
		return "<1 s"
	case x > 0 && math.Round(60*x) < 60:
		return fixed(60*x, 0) + " s"
	case round(x, 2) < 10 && x != whole:
		return fixed(x, 1) + " min"
	case whole < 120:
		return fixed(x, 0) + " min"
	default:
		m := strconv.Itoa(int(math.Mod(whole, 60)))
		return fixed(math.Floor(whole/60), 0) + " h " + strings.Repeat("0", 2-len(m)) + m + " min"
	}
}

// Count returns a number of things with their name: "1 stop", "12 stops",
// "12,000 plants".
func Count(n int, one, many string) string {
	name := many
	if n == 1 {
		name = one
	}
	return thousands(strconv.Itoa(n)) + " " + name
}

func thousands(s string) string {
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return sign + s
}

// fixed never returns a negative zero.
func fixed(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// round returns x to so many significant digits.
func round(x float64, digits int) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
	return r
}

func exponent(x float64) int {
	_, e, _ := strings.Cut(strconv.FormatFloat(x, 'e', -1, 64), "e")
	n, _ := strconv.Atoi(e)
	return n
}
