package report

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestHistogramGolden(t *testing.T) {
	golden(t, "histogram.text", Histogram{
		Label: "share seen", Panels: []string{"plants independent", "plants alike"},
		Rows: []HistogramRow{
			{Label: "0% to 5%", Bars: []Bar{{Count: 0, Expected: 0.2}, {Count: 11, Expected: 12}}},
			{Label: "5% to 10%", Bars: []Bar{{Count: 120, Expected: 110}, {Count: 60, Expected: 66.6}}, Note: "< the truth"},
			{Label: "10% to 15%", Bars: []Bar{{Count: 40, Expected: 44, Dark: true}, {Count: 70, Expected: 61, Dark: true}}, Above: "act from here on"},
		},
	}.In(TextWidth)+"\n")
}

func TestHistogramOfNothing(t *testing.T) {
	for _, h := range []Histogram{{}, {Rows: []HistogramRow{{Label: "0%", Bars: []Bar{{}}}}}} {
		if s := h.In(TextWidth); s != "" {
			t.Errorf("%+v is drawn as\n%s", h, s)
		}
	}
}

// Bars are as long as their counts, to half a column, and panels stay in line.
func TestHistogramBars(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		counts := rapid.SliceOfN(rapid.IntRange(0, 5000), 1, 12).Draw(t, "counts")
		h, top := Histogram{Panels: []string{"one"}}, 0
		for _, n := range counts {
			h.Rows = append(h.Rows, HistogramRow{Bars: []Bar{{Count: n, Expected: -1}}})
			top = max(top, n)
		}
		if top == 0 {
			return
		}
		for i, line := range strings.Split(h.In(TextWidth), "\n")[1:] {
			drawn := strings.Count(line, "░")
			if d := float64(drawn) - float64(counts[i])/float64(top)*mostBar; d > 1 || d < -0.5 || drawn == 0 && counts[i] > 0 {
				t.Fatalf("%d of %d is drawn with %d columns", counts[i], top, drawn)
			}
			if utf8.RuneCountInString(line) > mostBar+10 {
				t.Fatalf("too wide: %q", line)
			}
		}
	})
}

// Bars give way where there are few columns, and to what is noted beside them.
func TestHistogramFollowsColumns(t *testing.T) {
	h := Histogram{Label: "share seen", Panels: []string{"one", "two"}, Rows: []HistogramRow{
		{Label: "0% to 5%", Bars: []Bar{{Count: 120, Expected: 110}, {Count: 60, Expected: 66.6}}, Note: "< the truth"}}}
	for columns := 47; columns <= 110; columns++ {
		longest := 0
		for line := range strings.SplitSeq(h.In(columns), "\n") {
			longest = max(longest, utf8.RuneCountInString(line))
		}
		if longest > columns {
			t.Errorf("%d columns in %d:\n%s", longest, columns, h.In(columns))
		}
		if bar := strings.Count(h.In(columns), "░"); columns == 110 && bar != mostBar*3/2-1 { // one is under the mark
			t.Errorf("bars of %d columns in all, want %d", bar, mostBar*3/2-1)
		}
	}
}
