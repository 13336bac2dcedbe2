package figure

import (
	"image/color"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/plot"
)

// contrast is the contrast ratio of two colours (W3C, Web Content Accessibility
// Guidelines 2.2, 2023, definitions of contrast ratio and relative luminance).
func contrast(a, b color.NRGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func luminance(c color.NRGBA) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

func TestContrastOfBlackAndWhite(t *testing.T) {
	if got := contrast(color.NRGBA{0, 0, 0, 255}, white); math.Abs(got-21) > 1e-9 {
		t.Errorf("%g, want 21 (the largest, by definition)", got)
	}
}

// 4.5 is what the guidelines ask of text (1.4.3, level AA).
func TestTextIsReadable(t *testing.T) {
	for _, c := range []struct {
		name         string
		text, behind color.NRGBA
	}{
		{"ink on white", ink, white}, {"grey on white", grey, white}, {"grey on the ruled out", grey, wall},
		{"leave on its area", strokes[0].color, leaveHue}, {"act on its area", strokes[1].color, actHue},
	} {
		if r := contrast(c.text, c.behind); r < 4.5 {
			t.Errorf("%s: contrast %.2f, want at least 4.5", c.name, r)
		}
	}
	for i, s := range strokes {
		for _, behind := range []color.NRGBA{white, wall} {
			if r := contrast(s.color, behind); r < 4.5 {
				t.Errorf("stroke %d on %v: contrast %.2f, want at least 4.5", i, behind, r)
			}
		}
	}
}

// Without colour, curves differ in their dashes.
func TestStrokesDifferInBlackAndWhite(t *testing.T) {
	for i := range strokes {
		for j := range i {
			if slices.Equal(strokes[i].dashes, strokes[j].dashes) {
				t.Errorf("strokes %d and %d have the same dashes", j, i)
			}
		}
	}
}

func labels(ticks []plot.Tick) []string {
	var out []string
	for _, t := range ticks {
		if t.Label != "" {
			out = append(out, t.Label)
		}
	}
	return out
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		ticker    plot.Ticker
		low, high float64
		want      []string
	}{
		{plainTicks{unit: "%"}, 0, 50, []string{"0%", "10%", "20%", "30%", "40%", "50%"}},
		{plainTicks{unit: "%"}, 0, 3, []string{"0%", "1%", "2%", "3%"}},
		{plainTicks{}, 0, 0.9, []string{"0", "0.2", "0.4", "0.6", "0.8"}},
		{plainTicks{whole: true}, -0.5, 3.5, []string{"0", "1", "2", "3"}},
		{logTicks{}, 0.9, 30, []string{"1", "2", "5", "10", "20"}},
		{logTicks{}, 1, 1e4, []string{"1", "10", "100", "1000", "10000"}},
		{stopTicks{stops: 4}, 0, 0, []string{"1", "2", "3", "4"}},
		{stopTicks{stops: 12, small: true}, 0, 0, []string{"2", "4", "6", "8", "10", "12"}},
		{stopTicks{stops: 100}, 0, 0, []string{"1", "5", "10", "15", "20", "25", "30", "35", "40", "45", "50", "55", "60", "65", "70", "75", "80", "85", "90", "95", "100"}},
	} {
		if got := labels(c.ticker.Ticks(c.low, c.high)); !slices.Equal(got, c.want) {
			t.Errorf("%#v from %g to %g: %q, want %q", c.ticker, c.low, c.high, got, c.want)
		}
	}
}
