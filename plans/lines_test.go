package plans

import (
	"math"
	"strings"
	"testing"

	"stopwise/sampling"
)

// The lines of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.6:
// p1 = .01, p2 = .10, alpha = .05, beta = .10, one item at a time.
func nistLines(t testing.TB) LinePair {
	t.Helper()
	l, err := BinomialLines(0.01, 0.10, 0.05, 0.10)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestNISTLines(t *testing.T) {
	l := nistLines(t)
	// The Handbook prints .939, 1.205 and .0397; the further digits follow from
	// its formulas.
	if !near(l.LeaveGap, 0.9389, 5e-5) || !near(l.ActGap, 1.2054, 5e-5) || !near(l.Slope, 0.0397, 5e-5) {
		t.Errorf("got %+v, want gaps .9389 and 1.2054, slope .0397", l)
	}
	const no = -9
	// Accept and reject numbers of the Handbook's table; "no" is its x.
	for _, c := range []struct{ from, to, leave, act int }{
		{1, 1, no, no}, {2, 19, no, 2}, {20, 23, no, 3}, {24, 45, 0, 3}, {46, 48, 0, 4}, {49, 70, 1, 4},
		{71, 73, 1, 5}, {74, 95, 2, 5}, {96, 99, 2, 6}, {100, 100, 3, 6},
	} {
		table := l.Table(1, 1, 200, true)
		for n := c.from; n <= c.to; n++ {
			wantLeave, wantAct := c.leave, c.act
			if wantLeave == no {
				wantLeave = NeverLeave
			}
			if wantAct == no {
				wantAct = NeverAct
			}
			if table.Leave[n-1] != wantLeave || table.Act[n-1] != wantAct {
				t.Errorf("n = %d: leave %d, act %d; want %d, %d", n, table.Leave[n-1], table.Act[n-1], wantLeave, wantAct)
			}
		}
	}
}

func TestBinomialLines(t *testing.T) {
	for _, c := range []struct {
		name                          string
		p0, p1, alpha, beta           float64
		h1, h2, slope, hTol, slopeTol float64
	}{
		// Wald (1947) Sequential Analysis, 5.3; inputs and printed values from memory.
		{"Wald 5.3, as printed", 0.1, 0.3, 0.02, 0.03, 2.58, 2.88, 0.186, 0.005, 0.0005},
		// The same, computed independently outside the project.
		{"Wald 5.3", 0.1, 0.3, 0.02, 0.03, 2.582626, 2.875389, 0.186169, 5e-7, 5e-7},
		{"15-30%", 0.15, 0.30, 0.10, 0.10, 2.4762951263057085, 2.4762951263057085, 0.21881586309486908, 1e-13, 1e-14},
	} {
		l, err := BinomialLines(c.p0, c.p1, c.alpha, c.beta)
		if err != nil {
			t.Fatal(err)
		}
		if !near(l.LeaveGap, c.h1, c.hTol) || !near(l.ActGap, c.h2, c.hTol) || !near(l.Slope, c.slope, c.slopeTol) {
			t.Errorf("%s: got %+v", c.name, l)
		}
	}
}

// Computed independently outside the project, alpha = beta = .1.
func TestCountLines(t *testing.T) {
	for _, c := range []struct{ lower, upper, k, gap, slope float64 }{
		{1, 2, 0.8, 8.742930, 1.406470},
		{2, 4, 1.2, 10.581927, 2.805872},
		{1, 3, 0.5, 8.742930, 1.685733},
		{1, 1.5, 2, 8.742930, 1.226756},
		{1, 2, math.Inf(1), 3.169925, 1.442695}, // Poisson
		{1, 2, 1e15, 3.169925, 1.442695},
	} {
		l, err := CountLines(c.lower, c.upper, c.k, 0.1, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		if !near(l.LeaveGap, c.gap, 5e-7) || !near(l.ActGap, c.gap, 5e-7) || !near(l.Slope, c.slope, 5e-7) {
			t.Errorf("%+v: got %+v", c, l)
		}
	}
}

// The Poisson's lines are the limit as k grows, and are approached smoothly.
func TestCountLinesNearPoisson(t *testing.T) {
	poisson, err := CountLines(2, 5, math.Inf(1), 0.05, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []float64{1e3, 1e6, 1e9, 1e12, 1e15, 1e300} {
		l, err := CountLines(2, 5, k, 0.05, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		tolerance := 20/k + 1e-14
		if !nearRelative(l.Slope, poisson.Slope, tolerance) || !nearRelative(l.LeaveGap, poisson.LeaveGap, tolerance) || !nearRelative(l.ActGap, poisson.ActGap, tolerance) {
			t.Errorf("k %g: %+v, Poisson %+v", k, l, poisson)
		}
	}
}

// As k falls to 0, g tends to k (1/lower - 1/upper).
func TestCountLinesSmallK(t *testing.T) {
	for _, k := range []float64{1e-3, 1e-6, 1e-12} {
		l, err := CountLines(2, 4, k, 0.1, 0.1)
		if err != nil {
			t.Fatal(err)
		}
		if want := math.Log(9) / (k * (1./2 - 1./4)); !nearRelative(l.LeaveGap, want, k+1e-13) {
			t.Errorf("k %g: gap %g, want %g", k, l.LeaveGap, want)
		}
		if want := math.Log(2) / (1./2 - 1./4); !nearRelative(l.Slope, want, k+1e-13) {
			t.Errorf("k %g: slope %g, want %g", k, l.Slope, want)
		}
	}
}

// Wald's textbook approximations (Wald 1947, 3.4 and 3.6), computed independently
// outside the project.
func TestWaldPoints(t *testing.T) {
	shares := func(p float64) sampling.Population { return sampling.Infested{P: p} }
	counts := func(mean float64) sampling.Population { return sampling.Counts{Mean: mean, K: 1.2} }
	binomial := func(p0, p1, alpha, beta float64) LinePair {
		l, err := BinomialLines(p0, p1, alpha, beta)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	negative, err := CountLines(2, 4, 1.2, 0.1, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name                       string
		lines                      LinePair
		lower, upper, alpha, beta  float64
		pop                        func(float64) sampling.Population
		leave, units               [3]float64
		leaveTolerance, unitsDigit float64
	}{
		{
			"NIST 6.2.6", binomial(0.01, 0.10, 0.05, 0.10), 0.01, 0.10, 0.05, 0.10, shares,
			[3]float64{0.95, 0.56215, 0.10}, [3]float64{27.957, 29.650, 16.447}, 5e-6, 5e-4,
		},
		{
			"Wald 5.3", binomial(0.1, 0.3, 0.02, 0.03), 0.1, 0.3, 0.02, 0.03, shares,
			[3]float64{0.98, 2.875389 / (2.875389 + 2.582626), 0.03}, [3]float64{28.705, 49.014, 23.822}, 1e-6, 5e-4,
		},
		{
			"negative binomial", negative, 2, 4, 0.1, 0.1, counts,
			[3]float64{0.9, 0.5, 0.1}, [3]float64{10.505, 10.581927 * 10.581927 / (2.805872 + 2.805872*2.805872/1.2), 7.089}, 1e-9, 5e-4,
		},
	} {
		points := c.lines.WaldPoints(c.lower, c.upper, c.alpha, c.beta, c.pop)
		levels := [3]float64{c.lower, c.lines.Slope, c.upper}
		for i, p := range points {
			if p.Level != levels[i] || !near(p.Leave, c.leave[i], c.leaveTolerance) || !near(p.Units, c.units[i], c.unitsDigit) {
				t.Errorf("%s: got %+v, want level %g, leave %g, units %g", c.name, p, levels[i], c.leave[i], c.units[i])
			}
		}
	}
}

// A line that meets a whole number decides there, whatever the last bit of its
// value is: tenths are compared with whole arithmetic.
func TestOnTheLine(t *testing.T) {
	below, above := 0, 0
	for slope := 1; slope < 30; slope++ {
		for gap := 1; gap < 40; gap++ {
			l := LinePair{Slope: float64(slope) / 10, LeaveGap: float64(gap) / 10, ActGap: float64(gap) / 10}
			for n := 1; n < 60; n++ {
				if l.Slope*float64(n)-l.LeaveGap < math.Round(l.Slope*float64(n)-l.LeaveGap) && (slope*n-gap)%10 == 0 {
					below++
				}
				if l.Slope*float64(n)+l.ActGap > math.Round(l.Slope*float64(n)+l.ActGap) && (slope*n+gap)%10 == 0 {
					above++
				}
				leave := NeverLeave
				if slope*n >= gap {
					leave = (slope*n - gap) / 10
				}
				if got := l.LeaveAt(n); got != leave {
					t.Fatalf("%+v: LeaveAt(%d) = %d, want %d", l, n, got, leave)
				}
				if got, want := l.ActAt(n), (slope*n+gap+9)/10; got != want {
					t.Fatalf("%+v: ActAt(%d) = %d, want %d", l, n, got, want)
				}
			}
		}
	}
	if below == 0 || above == 0 {
		t.Errorf("%d and %d lines fall short of a whole number", below, above)
	}
}

func TestLinesTable(t *testing.T) {
	table := workedTable(t, 2)
	// Computed independently outside the project.
	for _, c := range []struct{ stop, leave, act int }{
		{1, NeverLeave, NeverAct}, {2, 6, 12}, {3, 10, 16}, {4, 15, 20}, {5, 19, 25}, {20, 87, 88},
	} {
		if a, r := table.Leave[c.stop-1], table.Act[c.stop-1]; a != c.leave || r != c.act {
			t.Errorf("stop %d: leave %d, act %d; want %d, %d", c.stop, a, r, c.leave, c.act)
		}
	}
	if got := table.First(); got != 2 {
		t.Errorf("First() = %d, want 2", got)
	}
	if table := workedTable(t, 20); table.First() != 20 || table.Leave[19] != 87 || table.Act[19] != 88 {
		t.Errorf("one look at stop 20: %+v", table)
	}
}

// An act number that no number of plants can reach is never, but for insects no
// number is out of reach.
func TestLinesTableOutOfReach(t *testing.T) {
	l := LinePair{Slope: 0.2, LeaveGap: 2, ActGap: 2}
	if got := l.Table(2, 1, 10, true).Act[0]; got != NeverAct {
		t.Errorf("act number %d of 2 plants, want never", got)
	}
	if got := l.Table(2, 1, 10, false).Act[0]; got != 3 {
		t.Errorf("act number %d, want 3", got)
	}
	if got := l.Table(3, 1, 10, true).Act[0]; got != 3 {
		t.Errorf("act number %d of 3 plants, want 3", got)
	}
}

func TestLinesRefuse(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name string
		make func() (LinePair, error)
		want string
	}{
		{"lower 0", func() (LinePair, error) { return BinomialLines(0, 0.1, 0.1, 0.1) }, "0 < lower < upper < 1"},
		{"upper 1", func() (LinePair, error) { return BinomialLines(0.1, 1, 0.1, 0.1) }, "0 < lower < upper < 1"},
		{"equal", func() (LinePair, error) { return BinomialLines(0.1, 0.1, 0.1, 0.1) }, "0 < lower < upper < 1"},
		{"not a number", func() (LinePair, error) { return BinomialLines(nan, 0.1, 0.1, 0.1) }, "0 < lower < upper < 1"},
		{"no risk", func() (LinePair, error) { return BinomialLines(0.1, 0.2, 0, 0.1) }, "risks 0 and 0.1"},
		{"no missed risk", func() (LinePair, error) { return BinomialLines(0.1, 0.2, 0.1, 0) }, "risks 0.1 and 0"},
		{"too much risk", func() (LinePair, error) { return BinomialLines(0.1, 0.2, 0.5, 0.5) }, "sum to less than 1"},
		{"mean 0", func() (LinePair, error) { return CountLines(0, 2, 1, 0.1, 0.1) }, "0 < lower < upper"},
		{"downwards", func() (LinePair, error) { return CountLines(2, 1, 1, 0.1, 0.1) }, "0 < lower < upper"},
		{"infinite", func() (LinePair, error) { return CountLines(2, inf, 1, 0.1, 0.1) }, "0 < lower < upper"},
		{"k 0", func() (LinePair, error) { return CountLines(1, 2, 0, 0.1, 0.1) }, "k 0, must be above 0"},
		{"k not a number", func() (LinePair, error) { return CountLines(1, 2, nan, 0.1, 0.1) }, "must be above 0"},
		{"too close", func() (LinePair, error) { return BinomialLines(0.5, math.Nextafter(0.5, 1), 0.1, 0.1) }, ""},
		{"too far", func() (LinePair, error) { return CountLines(5e-324, 1e300, 1, 0.1, 0.1) }, "too far apart"},
	} {
		l, err := c.make()
		if err == nil {
			if c.want != "" || !(l.LeaveGap > 1e9) || math.IsInf(l.LeaveGap, 1) {
				t.Errorf("%s: no error, got %+v", c.name, l)
			}
			continue
		}
		if !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %q, want %q in it", c.name, err, c.want)
		}
	}
}

// Numbers that no int can hold are out of reach, not wrapped round to 0.
func TestLinesFarAway(t *testing.T) {
	l := LinePair{Slope: 0.5, LeaveGap: 1e30, ActGap: 1e30}
	if got := l.ActAt(10); got < 1<<50 {
		t.Errorf("ActAt = %d", got)
	}
	if got := l.LeaveAt(10); got != NeverLeave {
		t.Errorf("LeaveAt = %d", got)
	}
}
