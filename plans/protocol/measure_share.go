package protocol

import (
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// shareForm is the share of plants infested: plants are counted, as alike at a
// stop as rho says.
func shareForm() *form {
	return &form{
		unit: "plant", noun: "infested plants", bounded: true, top: 1,
		perPlant: func(SampleUnit) int { return 1 },
		law:      Clumping.shares, lawKey: "rho",
		missing:  `rho is missing, and stage %q needs it; write rho = 0.1, or a range such as rho = "0.05..0.2"`,
		valid:    func(p float64) bool { return p > 0 && p < 1 },
		accepted: "a share above 0% and below 100%",
		gap:      func(level, threshold float64) float64 { return logit(threshold) - logit(level) },
		lines: func(t Terms) (rule.LinePair, error) {
			return rule.BinomialLines(t.Lower, t.Upper, t.NeedlessRisk, t.MissedRisk)
		},
		interval: func(t Terms, estimate float64, plants []int, confidence float64) sampling.Interval {
			n := sampling.PooledEffectiveSize(plants, t.Clumped(t.Threshold).Clump)
			return sampling.Wilson(estimate*n, n, confidence)
		},
		read: func(s *section, key string) float64 { return s.share(key) },
		text: func(p float64) string { return short(100*p) + "%" },
	}
}
