package plans

import (
	"math"
	"slices"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/protocol"
	"stopwise/sampling"
)

// breakSteps is how many correlations a first look takes, and breakDigits how
// finely the smallest that breaks a promise is then found.
const (
	breakSteps  = 10
	breakDigits = 2e-4
)

// Independent reports whether a plan that adds up counts takes the leaves of a stop
// as independent of each other.
func (s *StagePlan) Independent() bool {
	return !s.bounded() && s.Clumping.CountRho != nil && s.Clumping.CountRho.High == 0
}

// MostCountRho returns the largest correlation of the counts of a stop that any
// world of the stage can have; 0 where insects fall at random, or where no counts
// are added up.
func (s *StagePlan) MostCountRho() float64 {
	if s.bounded() {
		return 0
	}
	most := 0.0
	for _, w := range s.Worlds(s.Upper) {
		most = math.Max(most, sampling.MaxCountRho(w.Level, w.Clump))
	}
	return math.Min(most, protocol.MostCountRho)
}

// CountRhoBreaks returns the smallest correlation of the counts of a stop, from the
// upper end of what the stage takes it to be, at which a risk is larger than the
// one allowed, exactly evaluated over the range of k and found to 0.0002. It is
// +Inf where no correlation that there can be does, or where no counts are added
// up. The plan must keep its promise.
func (s *StagePlan) CountRhoBreaks() float64 {
	_, breaks := s.CountRhoSlack()
	return breaks
}

// CountRhoSlack returns the same, and the last correlation found before it that
// keeps both risks.
func (s *StagePlan) CountRhoSlack() (kept, breaks float64) {
	law := s.Law()
	low, high := law.CountRho.High, s.MostCountRho()
	if high <= low {
		return low, math.Inf(1)
	}
	broken := func(rho float64) bool {
		law := law.With(nil, &rho)
		lower, upper := law.Worlds(s.Lower), law.Worlds(s.Upper)
		broken := make([]bool, len(lower))
		parallel.Each(len(lower), func(i int) {
			broken[i] = s.NeedlessIn(lower[i].Population()) > s.NeedlessRisk+Slack || s.MissedIn(upper[i].Population()) > s.MissedRisk+Slack
		})
		return slices.Contains(broken, true)
	}
	step := (high - low) / breakSteps
	for i := range breakSteps {
		next := low + float64(i+1)*step
		if !broken(next) {
			continue
		}
		kept := next - step
		for next-kept > breakDigits {
			if middle := (kept + next) / 2; broken(middle) {
				next = middle
			} else {
				kept = middle
			}
		}
		return kept, next
	}
	return high, math.Inf(1)
}

// seekBreak sets BreaksAt.
func (s *StagePlan) seekBreak() {
	s.BreaksAt = nil
	if !s.Independent() || !s.Keeps() {
		return
	}
	if at := s.CountRhoBreaks(); !math.IsInf(at, 1) {
		s.BreaksAt = &at
	}
}
