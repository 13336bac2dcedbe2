package rule_test

import (
	"testing"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// long is a plan of 20 stops of 20 plants.
func long() rule.Table {
	lines, err := rule.BinomialLines(.10, .25, .1, .05)
	if err != nil {
		panic(err)
	}
	lines.LeaveGap, lines.ActGap = 3*lines.LeaveGap, 3*lines.ActGap // as clumping widens them
	return lines.Table(20, 2, 20, true)
}

func BenchmarkKnown(b *testing.B) {
	v := shares(long().Steps(), .12)
	for b.Loop() {
		if _, err := v.Known(12, 40, .95, .8); err != nil {
			b.Fatal(err)
		}
	}
}

func means(steps []rule.Step, k float64) rule.Visit {
	return rule.Visit{
		Steps: steps, High: inf,
		Family: func(mu float64) sampling.Population { return sampling.Counts{Mean: mu, K: k} },
	}
}

func BenchmarkKnownMeans(b *testing.B) {
	lines, err := rule.CountLines(6, 16, .8, .1, .05)
	if err != nil {
		b.Fatal(err)
	}
	v := means(lines.Table(15, 3, 20, false).Steps(), .8)
	for b.Loop() {
		if _, err := v.Known(8, 8*15*10, .95, .8); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLimits(b *testing.B) {
	v := shares(long().Steps(), .12)
	for b.Loop() {
		if _, err := v.Limits(.8); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLimitsMeans(b *testing.B) {
	lines, err := rule.CountLines(6, 16, .8, .1, .05)
	if err != nil {
		b.Fatal(err)
	}
	v := means(lines.Table(15, 3, 20, false).Steps(), .8)
	for b.Loop() {
		l, err := v.Limits(.8)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(l)), "points")
	}
}

func BenchmarkKnownAlike(b *testing.B) {
	lines, err := rule.CountLines(6, 16, .8, .1, .05)
	if err != nil {
		b.Fatal(err)
	}
	v := means(lines.Table(15, 3, 20, false).Steps(), 0)
	v.Family = func(mu float64) sampling.Population { return alike{mu, 2.5, 1.5} }
	for b.Loop() {
		if _, err := v.Known(8, 8*15*10, .95, .8); err != nil {
			b.Fatal(err)
		}
	}
}
