package report

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func logistic(at, scale float64) (xs, ys []float64) {
	for x := 0.0; x <= 50; x++ {
		xs = append(xs, x)
		ys = append(ys, 100/(1+math.Exp((at-x)/scale)))
	}
	return xs, ys
}

func TestChartGolden(t *testing.T) {
	x, steep := logistic(22, 2)
	_, flat := logistic(22, 5)
	golden(t, "chart-two.text", Chart{
		Title: "How often the plan says act", XLabel: "plants infested, %", YLabel: "chance, %",
		X: x, Series: []Series{{"rho 0.05", 'o', steep}, {"rho 0.3", 'x', flat}}, YMax: 100,
		Marks: []VMark{{15, "lower 15%"}, {22, "threshold"}, {30, "upper 30%"}},
	}.In(TextWidth)+"\n")
	golden(t, "chart-one.text", Chart{
		Title: "Expected stops", XLabel: "thrips per leaf",
		X: []float64{0, 5, 10, 20, 40}, Series: []Series{{"", '*', []float64{2, 6.2, 9.8, 5, 2.4}}},
	}.In(TextWidth)+"\n")
	golden(t, "chart-steps.text", Chart{
		X: []float64{0, 1, 2, 3, 4}, Series: []Series{{"all at once", 'o', []float64{0, 0, 1, math.NaN(), 1}}}, YMax: 1,
	}.In(TextWidth)+"\n")
}

func TestChartOfNothing(t *testing.T) {
	for _, c := range []Chart{{}, {X: []float64{1}}, {X: []float64{1, 1}}, {X: []float64{0, 1}}, {X: []float64{0, 1}, YMin: 2, YMax: 1}} {
		if s := c.In(TextWidth); s != "" {
			t.Errorf("%v is drawn as\n%s", c, s)
		}
	}
}

// The picture keeps its size and its marks stand at the right height, whatever
// the data are.
func TestChartShape(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 80).Draw(t, "points")
		c := Chart{YMin: -1, YMax: 1}
		x := rapid.Float64Range(-1e6, 1e6).Draw(t, "x0")
		for range n {
			c.X = append(c.X, x)
			x += rapid.Float64Range(0.001, 100).Draw(t, "step")
		}
		level := rapid.Float64Range(-1, 1).Draw(t, "level")
		y := make([]float64, n)
		for i := range y {
			y[i] = level
		}
		c.Series = []Series{{Mark: 'o', Y: y}}
		c.Marks = []VMark{{rapid.Float64().Draw(t, "mark"), "label"}}
		lines := strings.Split(c.In(TextWidth), "\n")
		drawn := 0
		for _, l := range lines {
			if utf8.RuneCountInString(l) > 2*chartColumns+10 {
				t.Fatalf("too wide: %q", l)
			}
			if strings.Count(l, "o") == chartColumns {
				drawn++
			}
		}
		if drawn != 1 {
			t.Fatalf("a level line is drawn %d times:\n%s", drawn, c.In(TextWidth))
		}
	})
}

// A picture follows the columns that there are: whatever they are, no line is wider,
// and all of the series is there.
func TestChartFollowsColumns(t *testing.T) {
	x, y := logistic(22, 5)
	c := Chart{Title: "How often the plan says leave", XLabel: "plants infested, %", X: x, YMax: 100, Rows: 7,
		Series: []Series{{"rho 0.05", 'o', y}, {"the level line at the top", '-', make([]float64, len(x))}},
		Marks:  []VMark{{15, "lower bound 15%"}, {22, "threshold"}, {30, "upper bound 30%"}}}
	plotted := map[int]int{}
	for columns := 30; columns <= 110; columns++ {
		rows := 0
		for _, line := range strings.Split(c.In(columns), "\n") {
			if n := utf8.RuneCountInString(line); n > columns {
				t.Errorf("%d columns in %d: %q", n, columns, line)
			}
			if strings.Contains(line, "┤") || strings.Contains(line, "│") {
				rows++
			}
			if _, axis, ok := strings.Cut(line, "└"); ok {
				plotted[columns] = utf8.RuneCountInString(axis)
			}
		}
		if rows != c.Rows {
			t.Errorf("%d rows, want %d", rows, c.Rows)
		}
	}
	for columns, want := range map[int]int{30: 25, 80: 61, 81: 73, 110: 85} {
		if plotted[columns] != want {
			t.Errorf("%d columns are plotted in %d, want %d", plotted[columns], columns, want)
		}
	}
}

// Points stand where they are, the later ones on top, and what lies outside is left out.
func TestChartPoints(t *testing.T) {
	c := Chart{X: []float64{0, 60}, YMax: 6, Rows: 7, Signs: []Sign{{'a', "first"}, {'b', "second"}},
		Points: []Point{{0, 0, 'a'}, {60, 6, 'a'}, {30, 3, 'a'}, {30, 3, 'b'}, {30, 7, 'a'}, {61, 3, 'a'}}}
	lines := strings.Split(c.In(TextWidth), "\n")
	for i, want := range map[int]string{0: "6 ┤" + strings.Repeat(" ", 60) + "a", 3: "  │" + strings.Repeat(" ", 30) + "b", 6: "0 ┤a"} {
		if strings.TrimLeft(lines[i], " 0123456789") != strings.TrimLeft(want, " 0123456789") {
			t.Errorf("row %d is %q, want %q", i, lines[i], want)
		}
	}
	if n := strings.Count(strings.Join(lines[:7], ""), "a"); n != 2 {
		t.Errorf("%d first signs are drawn, want 2", n)
	}
	if last := lines[len(lines)-1]; last != "a first    b second" {
		t.Errorf("the signs are told as %q", last)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		about     int
		want      []float64
	}{
		{0, 100, 4, []float64{0, 25, 50, 75, 100}},
		{0, 1, 4, []float64{0, 0.25, 0.5, 0.75, 1}},
		{3, 21, 4, []float64{5, 10, 15, 20}},
		{0, 50, 6, []float64{0, 10, 20, 30, 40, 50}},
		{-1, 1, 4, []float64{-1, -0.5, 0, 0.5, 1}},
	} {
		got := ticks(c.low, c.high, c.about)
		if len(got) != len(c.want) {
			t.Errorf("ticks(%g, %g) = %v, want %v", c.low, c.high, got, c.want)
			continue
		}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-12 {
				t.Errorf("ticks(%g, %g) = %v, want %v", c.low, c.high, got, c.want)
			}
		}
	}
}
