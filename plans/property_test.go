package plans

import (
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

func drawCounts(t *rapid.T) sampling.Counts {
	return sampling.Counts{
		Mean: rapid.SampledFrom([]float64{0, 0.01, 0.5, 2, 40}).Draw(t, "mean"),
		K:    rapid.SampledFrom([]float64{0.05, 0.8, 5, 1e9}).Draw(t, "k"),
	}
}

// A verdict always comes, whatever the table and the field.
func TestChancesSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 25, 30)
		var pop sampling.Population = drawPopulation(t)
		if rapid.Bool().Draw(t, "insects") {
			pop = drawCounts(t)
		}
		e := Evaluate(table, pop)
		if !near(e.Leave+e.Act, 1, 1e-12) {
			t.Fatalf("P(leave) + P(act) = %.16g", e.Leave+e.Act)
		}
		sum, stops := 0.0, 0.0
		for j, o := range e.Stops {
			if o.Leave < 0 || o.Act < 0 {
				t.Fatalf("stop %d: %+v", j+1, o)
			}
			if table.Leave[j] == NeverLeave && o.Leave != 0 || table.Act[j] == NeverAct && o.Act != 0 {
				t.Fatalf("stop %d: %+v though the table never brings it", j+1, o)
			}
			sum += o.Leave + o.Act
			stops += float64(j+1) * (o.Leave + o.Act)
		}
		if !near(sum, 1, 1e-12) || !near(stops, e.ExpectedStops, 1e-10) {
			t.Fatalf("chances by stop sum to %.16g, stops to %.16g of %.16g", sum, stops, e.ExpectedStops)
		}
		if e.ExpectedStops < float64(table.First())-1e-12 || e.ExpectedStops > float64(table.Stops())+1e-10 {
			t.Fatalf("%g stops, possible %d to %d", e.ExpectedStops, table.First(), table.Stops())
		}
	})
}

// The more plants are infested, the likelier is act: a plan that ever leaves at a
// higher level leaves at a lower one too.
func TestOCFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTable(t, 12, 12)
		rho := rapid.SampledFrom([]float64{0, 0.05, 0.3, 0.7}).Draw(t, "rho")
		k := rapid.SampledFrom([]float64{0.1, 0.8, 5}).Draw(t, "k")
		shares, means := 1.0, 1.0
		for i := 0; i <= 20; i++ {
			e := Evaluate(table, sampling.Infested{P: float64(i) / 20, Rho: rho})
			if e.Leave > shares+1e-12 {
				t.Fatalf("P(leave) rises to %g from %g at p %g", e.Leave, shares, float64(i)/20)
			}
			shares = e.Leave
			e = Evaluate(table, sampling.Counts{Mean: float64(i) / 4, K: k})
			if e.Leave > means+1e-12 {
				t.Fatalf("P(leave) rises to %g from %g at mean %g", e.Leave, means, float64(i)/4)
			}
			means = e.Leave
		}
	})
}

// At the ends nothing is left to chance: a field without the pest is left, one
// where every plant is infested is treated, if the table can do both.
func TestCertainFields(t *testing.T) {
	for _, rho := range []float64{0, 0.1} {
		table := workedTable(t, 2)
		if e := Evaluate(table, sampling.Infested{P: 0, Rho: rho}); e.Leave != 1 || e.Act != 0 || e.ExpectedStops != 2 {
			t.Errorf("p 0: %+v", e)
		}
		if e := Evaluate(table, sampling.Infested{P: 1, Rho: rho}); e.Leave != 0 || e.Act != 1 || e.ExpectedStops != 2 {
			t.Errorf("p 1: %+v", e)
		}
	}
}

// With more stops allowed, lines never bring a verdict more often by an earlier
// stop.
func TestTruncatingLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lower := rapid.Float64Range(0.02, 0.4).Draw(t, "lower")
		upper := rapid.Float64Range(lower+0.05, 0.9).Draw(t, "upper")
		alpha := rapid.Float64Range(0.01, 0.3).Draw(t, "alpha")
		beta := rapid.Float64Range(0.01, 0.3).Draw(t, "beta")
		l, err := BinomialLines(lower, upper, alpha, beta)
		if err != nil {
			t.Fatal(err)
		}
		units := rapid.IntRange(1, 20).Draw(t, "units")
		stops := rapid.IntRange(2, 15).Draw(t, "stops")
		minimum := rapid.IntRange(1, stops).Draw(t, "minimum")
		pop := drawPopulation(t)
		short, long := Evaluate(l.Table(units, minimum, stops, true), pop), Evaluate(l.Table(units, minimum, stops+1, true), pop)
		byShort, byLong := 0.0, 0.0
		for j := range stops {
			byShort += short.Stops[j].Leave + short.Stops[j].Act
			byLong += long.Stops[j].Leave + long.Stops[j].Act
			if byLong > byShort+1e-12 {
				t.Fatalf("a verdict by stop %d with chance %g, %g where one more stop is allowed", j+1, byShort, byLong)
			}
		}
	})
}

// Lines always make a valid table, never with a verdict before the minimum.
func TestLinesMakeTables(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := LinePair{
			Slope:    rapid.Float64Range(0, 3).Draw(t, "slope"),
			LeaveGap: rapid.Float64Range(0.001, 50).Draw(t, "leaveGap"),
			ActGap:   rapid.Float64Range(0.001, 50).Draw(t, "actGap"),
		}
		units := rapid.IntRange(1, 50).Draw(t, "units")
		maximum := rapid.IntRange(1, 40).Draw(t, "maximum")
		minimum := rapid.IntRange(1, maximum).Draw(t, "minimum")
		bounded := rapid.Bool().Draw(t, "bounded")
		table := l.Table(units, minimum, maximum, bounded)
		if err := table.Check(); err != nil {
			t.Fatalf("%+v: %v", table, err)
		}
		if table.Stops() != maximum || table.First() < minimum {
			t.Fatalf("%d stops from %d, want %d from %d", table.Stops(), table.First(), maximum, minimum)
		}
	})
}

// StopsWithin is the quantile of the number of stops.
func TestStopsWithin(t *testing.T) {
	e := Evaluation{Stops: []Outcome{{}, {Leave: 0.25, Act: 0.25}, {Leave: 0.3, Act: 0}, {Leave: 0, Act: 0.2}}}
	for _, c := range []struct {
		q    float64
		want int
	}{{0, 1}, {0.1, 2}, {0.5, 2}, {0.51, 3}, {0.8, 3}, {0.9, 4}, {1, 4}} {
		if got := e.StopsWithin(c.q); got != c.want {
			t.Errorf("StopsWithin(%g) = %d, want %d", c.q, got, c.want)
		}
	}
}

func TestTableCheck(t *testing.T) {
	for _, c := range []struct {
		table Table
		want  string
	}{
		{Table{}, "rule: a decision table needs at least one stop"},
		{Table{Units: 1, Leave: []int{0}, Act: []int{1, 2}}, "rule: 1 leave numbers but 2 act numbers"},
		{Table{Units: 0, Leave: []int{0}, Act: []int{1}}, "rule: 0 units per stop, must be at least 1"},
		{Table{Units: 1, Leave: []int{-2}, Act: []int{1}}, "rule: stop 1: negative number"},
		{Table{Units: 1, Leave: []int{-1}, Act: []int{-1}}, "rule: stop 1: negative number"},
		{Table{Units: 1, Leave: []int{2, 2}, Act: []int{2, 3}}, "rule: stop 1: leave number 2 is not below act number 2"},
		{Table{Units: 1, Leave: []int{1, 0}, Act: []int{3, 1}}, "rule: stop 2: leave number 0 is below that of the stop before"},
		{Table{Units: 1, Leave: []int{0, 1}, Act: []int{3, 2}}, "rule: stop 2: act number 2 is below that of the stop before"},
		{Table{Units: 1, Leave: []int{0, 0, 1}, Act: []int{3, NeverAct, 2}}, "rule: stop 2: no act number though the stop before has one"},
		{Table{Units: 1, Leave: []int{0, 1}, Act: []int{3, 3}}, "rule: last stop: act number must follow the leave number, so that a verdict comes"},
		{Table{Units: 1, Leave: []int{0, 1}, Act: []int{NeverAct, NeverAct}}, "rule: last stop: act number must follow the leave number, so that a verdict comes"},
		{Table{Units: 1, Leave: []int{-1, 1}, Act: []int{NeverAct, 2}}, ""},
		{Table{Units: 1, Leave: []int{-1}, Act: []int{0}}, ""},
	} {
		got := ""
		if err := c.table.Check(); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%+v: %q, want %q", c.table, got, c.want)
		}
	}
}

func TestTableEqual(t *testing.T) {
	a := Table{Units: 2, Leave: []int{-1, 1}, Act: []int{3, 2}}
	for _, c := range []struct {
		b    Table
		want bool
	}{
		{Table{Units: 2, Leave: []int{-1, 1}, Act: []int{3, 2}}, true},
		{Table{Units: 3, Leave: []int{-1, 1}, Act: []int{3, 2}}, false},
		{Table{Units: 2, Leave: []int{0, 1}, Act: []int{3, 2}}, false},
		{Table{Units: 2, Leave: []int{-1, 1}, Act: []int{4, 2}}, false},
		{Table{Units: 2, Leave: []int{-1}, Act: []int{3}}, false},
	} {
		if got := a.Equal(c.b); got != c.want {
			t.Errorf("Equal(%+v) = %v", c.b, got)
		}
	}
}
