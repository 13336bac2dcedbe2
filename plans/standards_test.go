package plans

import (
	"fmt"
	"math"
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Simon, R. (1989) Optimal two-stage designs for phase II clinical trials.
// Controlled Clinical Trials 10: 1-10, tables 1 and 2: leave after n1 when X <= r1,
// after n when X <= r, else act. EN and PET (the chance to end after n1) are for
// p0. Designs and EN from memory; PET computed independently outside the project.
var simonTable = []struct {
	p0, p1, alpha, beta float64
	r1, n1, r, n        int
	en, pet             float64
}{
	// optimal
	{0.05, 0.25, 0.05, 0.20, 0, 9, 2, 17, 12.0, 0.63},
	{0.05, 0.25, 0.10, 0.10, 0, 9, 2, 24, 14.5, 0.63},
	{0.10, 0.30, 0.05, 0.20, 1, 10, 5, 29, 15.0, 0.74},
	{0.10, 0.30, 0.05, 0.10, 2, 18, 6, 35, 22.5, 0.73},
	{0.20, 0.40, 0.05, 0.20, 3, 13, 12, 43, 20.6, 0.75},
	{0.20, 0.40, 0.10, 0.10, 3, 17, 10, 37, 26.0, 0.55},
	{0.30, 0.50, 0.05, 0.20, 5, 15, 18, 46, 23.6, 0.72},
	{0.40, 0.60, 0.05, 0.20, 7, 16, 23, 46, 24.5, 0.72},
	{0.50, 0.70, 0.05, 0.20, 8, 15, 26, 43, 23.5, 0.70},
	{0.05, 0.20, 0.05, 0.20, 0, 10, 3, 29, 17.6, 0.60},
	{0.10, 0.25, 0.05, 0.20, 2, 18, 7, 43, 24.7, 0.73},
	{0.20, 0.35, 0.05, 0.20, 5, 22, 19, 72, 35.4, 0.73},
	{0.40, 0.55, 0.05, 0.10, 19, 45, 49, 104, 64.0, 0.68},
	{0.80, 0.95, 0.05, 0.20, 7, 9, 26, 29, 17.7, 0.56},
	// minimax
	{0.05, 0.25, 0.05, 0.20, 0, 12, 2, 16, 13.8, 0.54},
	{0.05, 0.25, 0.10, 0.10, 0, 13, 2, 20, 16.4, 0.51},
	{0.10, 0.30, 0.05, 0.20, 1, 15, 5, 25, 19.5, 0.55},
	{0.10, 0.30, 0.05, 0.10, 2, 22, 6, 33, 26.2, 0.62},
	{0.20, 0.40, 0.05, 0.20, 4, 18, 10, 33, 22.3, 0.72},
	{0.20, 0.40, 0.10, 0.10, 3, 19, 10, 36, 28.3, 0.46},
	{0.30, 0.50, 0.05, 0.20, 6, 19, 16, 39, 25.7, 0.67},
	{0.40, 0.60, 0.05, 0.20, 17, 34, 20, 39, 34.4, 0.91},
	{0.50, 0.70, 0.05, 0.20, 12, 23, 23, 37, 27.7, 0.66},
	{0.05, 0.20, 0.05, 0.20, 0, 13, 3, 27, 19.8, 0.51},
	{0.10, 0.25, 0.05, 0.20, 2, 22, 7, 40, 28.8, 0.62},
	{0.20, 0.35, 0.05, 0.20, 6, 31, 15, 53, 40.4, 0.57},
	{0.40, 0.55, 0.05, 0.10, 24, 62, 45, 94, 78.9, 0.47},
	{0.80, 0.95, 0.05, 0.20, 7, 9, 26, 29, 17.7, 0.56},
}

// itemByItem writes a two-stage design as a table of single items.
func itemByItem(r1, n1, r, n int) Table {
	table := Table{Units: 1, Leave: make([]int, n), Act: make([]int, n)}
	for j := range n {
		table.Leave[j], table.Act[j] = NeverLeave, NeverAct
		if j >= n1-1 {
			table.Leave[j] = r1
		}
	}
	table.Leave[n-1], table.Act[n-1] = r, r+1
	return table
}

func TestSimonDesigns(t *testing.T) {
	for _, d := range simonTable {
		name := fmt.Sprintf("%g/%g: %d/%d %d/%d", d.p0, d.p1, d.r1, d.n1, d.r, d.n)
		table := itemByItem(d.r1, d.n1, d.r, d.n)
		if err := table.Check(); err != nil {
			t.Fatal(err)
		}
		for route, at := range map[string]func(p float64) Evaluation{
			"item by item": func(p float64) Evaluation { return Evaluate(table, sampling.Infested{P: p}) },
			"two stages": func(p float64) Evaluation {
				return rule.Follow([]rule.Step{{Units: d.n1, Leave: d.r1, Act: NeverAct}, {Units: d.n - d.n1, Leave: d.r, Act: d.r + 1}}, 0, sampling.Infested{P: p})
			},
		} {
			null, other := at(d.p0), at(d.p1)
			pet := null.Stops[0].Leave
			if route == "item by item" {
				pet = null.Stops[d.n1-1].Leave
			}
			if !near(null.ExpectedUnits, d.en, 0.05) || !near(pet, d.pet, 0.005) {
				t.Errorf("%s, %s: EN %.3f, PET %.4f; want %.1f, %.2f", name, route, null.ExpectedUnits, pet, d.en, d.pet)
			}
			if null.Act > d.alpha || other.Leave > d.beta {
				t.Errorf("%s, %s: alpha %.4f, beta %.4f; promised %g, %g", name, route, null.Act, other.Leave, d.alpha, d.beta)
			}
		}
	}
}

// Exact type I error and power: Qin, F. et al. (2020) BMC Med. Res. Methodol. 20:
// 126, for Simon's designs; printed to three digits (the .046 stands for .045499).
func TestSimonRisks(t *testing.T) {
	for _, d := range []struct {
		p0, p1       float64
		r1, n1, r, n int
		alpha, power float64
	}{
		{0.05, 0.25, 0, 9, 2, 17, 0.047, 0.812},
		{0.05, 0.25, 0, 12, 2, 16, 0.043, 0.801},
		{0.10, 0.30, 1, 10, 5, 29, 0.047, 0.805},
		{0.10, 0.30, 1, 15, 5, 25, 0.033, 0.802},
		{0.30, 0.50, 5, 15, 18, 46, 0.050, 0.803},
		{0.30, 0.50, 6, 19, 16, 39, 0.046, 0.804},
		{0.05, 0.25, 0, 9, 2, 24, 0.093, 0.903},
		{0.05, 0.25, 0, 13, 2, 20, 0.074, 0.903},
	} {
		table := itemByItem(d.r1, d.n1, d.r, d.n)
		alpha, power := Evaluate(table, sampling.Infested{P: d.p0}).Act, Evaluate(table, sampling.Infested{P: d.p1}).Act
		if !near(alpha, d.alpha, 0.00051) || !near(power, d.power, 0.00051) {
			t.Errorf("%g/%g %d/%d %d/%d: alpha %.4f, power %.4f; want %g, %g", d.p0, d.p1, d.r1, d.n1, d.r, d.n, alpha, power, d.alpha, d.power)
		}
	}
	for _, d := range sequential(t).Simon.Designs {
		for _, s := range []simonDesign{d.Optimal, d.Minimax} {
			table := itemByItem(s.R1, s.N1, s.R, s.N)
			null, other := Evaluate(table, sampling.Infested{P: d.P0}), Evaluate(table, sampling.Infested{P: d.P1})
			for what, v := range map[string][2]float64{
				"alpha": {null.Act, s.Alpha}, "power": {other.Act, s.Power},
				"PET p0": {null.Stops[s.N1-1].Leave, s.PET0}, "PET p1": {other.Stops[s.N1-1].Leave, s.PET1},
				"EN p0": {null.ExpectedUnits, s.EN0}, "EN p1": {other.ExpectedUnits, s.EN1},
			} {
				if !nearRelative(v[0], v[1], 1e-11) {
					t.Errorf("%g/%g %+v: %s %.15g, want %.15g", d.P0, d.P1, s, what, v[0], v[1])
				}
			}
		}
	}
}

// MIL-STD-105E (1989), tables X: percent nonconforming at which a lot is accepted
// with chance 99, 95, 90, 75, 50, 25, 10, 5 and 1%, single sampling. Rows J 1 and
// J 2 from memory of the printed table, K 3 (a Poisson row, as all with n > 80 are)
// and the others computed independently outside the project. Three digits.
func TestSingleSamplingOC(t *testing.T) {
	chances := []float64{0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01}
	for _, c := range []struct {
		code    string
		n, c    int
		percent []float64
	}{
		{"J", 80, 0, []float64{0.0126, 0.0641, 0.132, 0.359, 0.863, 1.72, 2.84, 3.68, 5.59}},
		{"J", 80, 1, []float64{0.187, 0.446, 0.667, 1.20, 2.09, 3.33, 4.78, 5.80, 8.01}},
		{"J", 80, 2, []float64{0.550, 1.03, 1.38, 2.16, 3.33, 4.84, 6.52, 7.66, 10.1}},
		{"J", 80, 3, []float64{1.04, 1.73, 2.20, 3.18, 4.57, 6.30, 8.16, 9.41, 12.0}},
		{"J", 80, 5, []float64{2.28, 3.32, 3.99, 5.30, 7.06, 9.14, 11.3, 12.7, 15.6}},
		{"J", 80, 7, []float64{3.73, 5.07, 5.91, 7.50, 9.55, 11.9, 14.3, 15.8, 18.9}},
		{"H", 50, 1, []float64{0.300, 0.715, 1.07, 1.92, 3.33, 5.30, 7.56, 9.14, 12.6}},
		{"H", 50, 2, []float64{0.886, 1.65, 2.22, 3.46, 5.31, 7.69, 10.3, 12.1, 15.8}},
		{"H", 50, 3, []float64{1.68, 2.78, 3.53, 5.10, 7.30, 10.0, 12.9, 14.8, 18.7}},
		{"G", 32, 1, []float64{0.471, 1.12, 1.67, 3.01, 5.19, 8.20, 11.6, 14.0, 19.0}},
		{"F", 20, 1, []float64{0.759, 1.81, 2.69, 4.81, 8.25, 12.9, 18.1, 21.6, 28.9}},
		{"D", 8, 1, []float64{1.97, 4.64, 6.86, 12.1, 20.1, 30.3, 40.6, 47.1, 59.0}},
		{"D", 8, 2, []float64{6.08, 11.1, 14.7, 22.1, 32.0, 43.3, 53.8, 60.0, 70.7}},
		{"K", 125, 3, []float64{0.659, 1.09, 1.40, 2.03, 2.94, 4.09, 5.35, 6.20, 8.04}},
	} {
		population := func(p float64) sampling.Population { return sampling.Infested{P: p} }
		if c.n > 80 {
			population = func(p float64) sampling.Population { return sampling.Counts{Mean: p, K: math.Inf(1)} }
		}
		whole := Table{Units: c.n, Leave: []int{c.c}, Act: []int{c.c + 1}}
		items := Table{Units: 1, Leave: make([]int, c.n), Act: make([]int, c.n)} // stops at the reject number
		for j := range c.n {
			items.Leave[j], items.Act[j] = NeverLeave, c.c+1
		}
		items.Leave[c.n-1] = c.c
		for i, chance := range chances {
			// The share at which the table leaves with that chance.
			low, high := 0.0, 1.0
			for range 60 {
				p := (low + high) / 2
				if Evaluate(whole, population(p)).Leave > chance {
					low = p
				} else {
					high = p
				}
			}
			// One unit of the third digit.
			unit := math.Pow(10, math.Floor(math.Log10(c.percent[i]))-2)
			if got := 100 * low; !near(got, c.percent[i], unit) {
				t.Errorf("%s n %d c %d at %g: %.5g%%, want %g%%", c.code, c.n, c.c, chance, got, c.percent[i])
			}
			if got := Evaluate(items, population(low)).Leave; !near(got, chance, 1e-12) {
				t.Errorf("%s n %d c %d, item by item: %.15g, want %g", c.code, c.n, c.c, got, chance)
			}
		}
	}
}

// Exact single-stage designs: smallest n for which some r keeps P(X >= r | p0) at
// most .05 and P(X >= r | p1) at least .80, .90. A'Hern, R.P. (2001) Sample size
// tables for exact single-stage phase II designs. Stat. Med. 20: 859-866. From memory:
// 27, 16, 25 (.10/.30), 35, 47, 39 and 53; the others computed independently outside
// the project.
func TestSingleStageDesigns(t *testing.T) {
	for _, c := range []struct {
		p0, p1, beta float64
		n, r         int
	}{
		{0.05, 0.20, 0.20, 27, 4}, {0.05, 0.20, 0.10, 38, 5},
		{0.05, 0.25, 0.20, 16, 3}, {0.05, 0.25, 0.10, 25, 4},
		{0.10, 0.30, 0.20, 25, 6}, {0.10, 0.30, 0.10, 33, 7},
		{0.20, 0.40, 0.20, 35, 12}, {0.20, 0.40, 0.10, 47, 15},
		{0.30, 0.50, 0.20, 39, 17}, {0.30, 0.50, 0.10, 53, 22},
	} {
		found := [2]int{}
	search:
		for n := 1; n <= 60; n++ {
			for r := 1; r <= n; r++ {
				table := Table{Units: n, Leave: []int{r - 1}, Act: []int{r}}
				if Evaluate(table, sampling.Infested{P: c.p0}).Act <= 0.05 && Evaluate(table, sampling.Infested{P: c.p1}).Act >= 1-c.beta {
					found = [2]int{n, r}
					break search
				}
			}
		}
		if found != [2]int{c.n, c.r} {
			t.Errorf("%g/%g beta %g: found n, r = %v, want %d, %d", c.p0, c.p1, c.beta, found, c.n, c.r)
		}
	}
}
