package report

import (
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/floats/scalar"
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
	if s := Fixed(100*p, 2); p < 0.01 && s != "1.00" {
		return s + "%"
	}
	s := Fixed(100*p, 1)
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
	return strconv.FormatFloat(Significant(100*p, 10), 'f', -1, 64) + "%"
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
	r := Significant(x, digits) // 9.996 has one digit before the point, 10.0 has two
	decimals := max(0, digits-1-exponent(r))
	if decimals > digits+6 {
		return strconv.FormatFloat(x, 'e', digits-1, 64)
	}
	return Fixed(x, decimals)
}

// Constant returns a constant that was chosen or fitted, such as rho or k, to
// four significant digits without zeros at the end: "0.1", "0.01235". The digits
// before the point are never rounded off.
func Constant(x float64) string {
	switch a := math.Abs(x); {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return Number(x, 4)
	case a >= 1000:
		return Fixed(x, 0)
	case a > 0 && a < 0.0001:
		return strconv.FormatFloat(x, 'g', 4, 64)
	}
	return Plain(Significant(x, 4))
}

// Plain returns a number that somebody chose, as it was written.
func Plain(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Whole returns x without decimals. Two sums of the same terms must not read
// differently because the last bit of one is below a half.
func Whole(x float64) string { return Fixed(steady(x), 0) }

// steady drops digits that are rounding.
func steady(x float64) float64 { return Significant(x, 12) }

// Decimals returns x with so many decimals, and with a digit that says something
// where they would all be zeros.
func Decimals(x float64, decimals int) string {
	if math.IsInf(x, 0) || math.Abs(x) < 0.5*math.Pow10(-decimals) || math.IsNaN(x) {
		return Number(x, 1)
	}
	return Fixed(x, decimals)
}

// AtLeast returns a lower bound as [Number] does, but rounded down: what is
// written is no more than what was proved.
func AtLeast(x float64, digits int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) || x == 0 {
		return Number(x, digits)
	}
	decimals := max(0, digits-1-exponent(x))
	scale := math.Pow10(decimals)
	// A number that has no more digits than are written stays as it is.
	down := math.Floor(x * scale)
	if next := down + 1; scalar.EqualWithinULP(x, next/scale, 1) {
		down = next
	}
	return Fixed(down/scale, decimals)
}

// OfHundred returns a chance as a number of cases in 100, rounded up: "6".
func OfHundred(chance float64) string { return Fixed(math.Ceil(100*chance-1e-9), 0) }

// Days returns a number of days without digits that were never written.
func Days(x float64) string {
	switch {
	case x == 1:
		return "1 day"
	case x == math.Trunc(x):
		return Fixed(x, 0) + " days"
	}
	return Fixed(x, 1) + " days"
}

// Minutes returns a time given in minutes: "15 s", "3.5 min", "47 min", and from
// two hours on "2 h 05 min".
func Minutes(x float64) string {
	x = steady(x)
	switch whole := math.Round(x); {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return Unknown
	case x < 0:
		return "-" + Minutes(-x)
	case x > 0 && x < 0.5/60:
		return "<1 s"
	case x > 0 && math.Round(60*x) < 60:
		return Fixed(60*x, 0) + " s"
	case Significant(x, 2) < 10 && x != whole:
		return Fixed(x, 1) + " min"
	case whole < 120:
		return Fixed(x, 0) + " min"
	default:
		m := strconv.Itoa(int(math.Mod(whole, 60)))
		return Fixed(math.Floor(whole/60), 0) + " h " + strings.Repeat("0", 2-len(m)) + m + " min"
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

// Fixed returns x with so many decimals, never as a negative zero.
func Fixed(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// Significant returns x to so many significant digits.
func Significant(x float64, digits int) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
	return r
}

func exponent(x float64) int {
	_, e, _ := strings.Cut(strconv.FormatFloat(x, 'e', -1, 64), "e")
	n, _ := strconv.Atoi(e)
	return n
}
