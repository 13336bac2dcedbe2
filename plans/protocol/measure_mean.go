package protocol

import (
	"math"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// meanForm is the mean per leaf: insects are counted.
func meanForm() *form {
	return &form{
		unit: "leaf", noun: "insects", top: math.Inf(1),
		perPlant: func(u SampleUnit) int { return u.Leaves },
		law:      Clumping.Counts, lawKey: "k",
		missing:  `k is missing, and stage %q needs it; write k = 0.8 (or taylor = [a, b], or iwao = [a, b])`,
		valid:    func(x float64) bool { return x > 0 && !math.IsInf(x, 1) },
		accepted: "a number above 0",
		gap:      func(level, threshold float64) float64 { return math.Log(threshold / level) },
		lines: func(t Terms) (rule.LinePair, error) {
			return rule.CountLines(t.Lower, t.Upper, t.Clumped(t.Threshold).Clump, t.NeedlessRisk, t.MissedRisk)
		},
		interval: func(t Terms, estimate float64, plants []int, confidence float64) sampling.Interval {
			seen := 0
			for _, m := range plants {
				seen += t.Units(m)
			}
			units, variance := float64(seen), 0.0
			pop := t.Clumped(math.Max(estimate, 1/units)).Population()
			for _, m := range plants { // the leaves of one stop may be alike
				variance += pop.Stop(t.Units(m)).Variance()
			}
			half := sampling.CriticalNormal(confidence) * math.Sqrt(variance) / units
			return sampling.Interval{Lower: math.Max(0, estimate-half), Upper: estimate + half, Confidence: confidence}
		},
		read: func(s *section, key string) float64 { return s.required(key) },
		text: func(x float64) string { return short(x) + " per leaf" },
	}
}
