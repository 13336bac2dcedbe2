package report

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Percent(0), "0%"},
		{Constant(0.012345), "0.01235"},
		{Constant(0.1), "0.1"},
		{Constant(12345.6), "12346"},
		{Constant(1e-7), "1e-07"},
		{Constant(math.Inf(1)), "infinite"},
		{Plain(1000000), "1000000"},
		{Plain(0.125), "0.125"},
		{Decimals(0.114, 3), "0.114"},
		{Decimals(0.00012, 3), "0.0001"},
		{Decimals(0, 3), "0"},
		{Decimals(math.NaN(), 3), "n/a"},
		{AtLeast(4.8857, 3), "4.88"},
		{AtLeast(4.89, 3), "4.89"},
		{AtLeast(0.3, 1), "0.3"},
		{AtLeast(12.999, 3), "12.9"},
		{AtLeast(1234.9, 3), "1234"},
		{AtLeast(0, 3), "0"},
		{OfHundred(0.051), "6"},
		{OfHundred(0.05), "5"},
		{Days(1), "1 day"},
		{Days(7), "7 days"},
		{Days(2.5), "2.5 days"},
		{Percent(1e-9), "<0.01%"},
		{Percent(math.Nextafter(0.0001, 0)), "<0.01%"},
		{Percent(0.0001), "0.01%"},
		{Percent(0.0003), "0.03%"},
		{Percent(0.0096), "0.96%"},
		{Percent(0.00999), "1.0%"},
		{Percent(0.01), "1.0%"},
		{Percent(0.1489), "14.9%"},
		{Percent(0.5), "50.0%"},
		{Percent(0.9994), "99.9%"},
		{Percent(0.9996), ">99.9%"},
		{Percent(math.Nextafter(1, 0)), ">99.9%"},
		{Percent(1), "100%"},
		{Percent(1.25), "125.0%"},
		{Percent(-0.031), "-3.1%"},
		{Percent(-1e-9), ">-0.01%"},
		{Percent(-0.9999), "<-99.9%"},
		{Percent(math.NaN()), "n/a"},
		{Share(0.15), "15%"},
		{Share(0.07), "7%"},
		{Share(0.125), "12.5%"},
		{Share(0.0005), "0.05%"},
		{Share(0), "0%"},
		{Share(1), "100%"},
		{Share(math.NaN()), "n/a"},
		{Number(12.345, 3), "12.3"},
		{Number(0.0123456, 3), "0.0123"},
		{Number(1234.56, 3), "1235"},
		{Number(9.996, 3), "10.0"},
		{Number(2, 3), "2.00"},
		{Number(-0.5, 2), "-0.50"},
		{Number(0, 3), "0"},
		{Number(1.23456e-12, 3), "1.23e-12"},
		{Number(math.Inf(1), 3), "infinite"},
		{Number(math.Inf(-1), 3), "-infinite"},
		{Number(math.NaN(), 3), "n/a"},
		{Minutes(0), "0 min"},
		{Minutes(0.001), "<1 s"},
		{Minutes(0.25), "15 s"},
		{Minutes(0.999), "1.0 min"},
		{Minutes(1), "1 min"},
		{Minutes(3.46), "3.5 min"},
		{Minutes(9.94), "9.9 min"},
		{Minutes(9.96), "10 min"},
		{Minutes(47.4), "47 min"},
		{Minutes(119.4), "119 min"},
		{Minutes(119.6), "2 h 00 min"},
		{Minutes(125), "2 h 05 min"},
		{Minutes(-3.5), "-3.5 min"},
		{Minutes(math.Inf(1)), "n/a"},
		{Count(0, "stop", "stops"), "0 stops"},
		{Count(1, "stop", "stops"), "1 stop"},
		{Count(999, "stop", "stops"), "999 stops"},
		{Count(12000, "plant", "plants"), "12,000 plants"},
		{Count(-1234567, "plant", "plants"), "-1,234,567 plants"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// A percentage never claims certainty, and is right to half of its last digit.
func TestPercentIsNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := math.Exp(-rapid.Float64Range(0, 30).Draw(t, "-ln p"))
		if rapid.Bool().Draw(t, "near 1") {
			p = 1 - p
		}
		s := Percent(p)
		if (s == "0%" && p != 0) || (s == "100%" && p != 1) {
			t.Fatalf("%v is printed as %s", p, s)
		}
		x, err := strconv.ParseFloat(strings.Trim(s, "<>%"), 64)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case s[0] == '<' && !(100*p < x), s[0] == '>' && !(100*p > x):
			t.Fatalf("%v is printed as %s", p, s)
		case s[0] != '<' && s[0] != '>' && math.Abs(100*p-x) > 0.0500001:
			t.Fatalf("%v is printed as %s", p, s)
		}
	})
}

// A lower bound is never written above what was proved, nor a digit below it.
func TestAtLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-3, 1e6).Draw(t, "x")
		text := AtLeast(x, 3)
		got, err := strconv.ParseFloat(text, 64)
		if err != nil || got > x*(1+1e-15) || got < x*0.99 {
			t.Errorf("%g is at least %s", x, text)
		}
	})
}
