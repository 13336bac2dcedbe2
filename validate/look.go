package validate

import (
	"math"
	"math/rand/v2"

	"stopwise/plans"
)

// A look is what simulated scouts see of a stage's further sign in fields of one
// level.
type look struct {
	met   []float64 // by stop, from 0: the chance that the sign allows a treatment
	blind bool      // it is not known
}

func newLook(s *plans.StagePlan, level float64) look {
	met := s.SignMet(level)
	if met == nil {
		return look{}
	}
	l := look{met: make([]float64, s.Table.Stops())}
	for j := range l.met {
		l.met[j] = met(j + 1)
		l.blind = l.blind || math.IsNaN(l.met[j])
	}
	return l
}

// allows draws whether the sign allows a treatment after so many stops.
func (l look) allows(stops int, r *rand.Rand) bool {
	return l.met == nil || l.blind || r.Float64() < l.met[stops-1]
}

// told says of visits whether their verdicts are those of the whole rule.
func (l look) told(v Visits) Visits {
	v.CountAlone = l.blind
	return v
}
