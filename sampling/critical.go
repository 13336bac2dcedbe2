package sampling

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// CriticalNormal returns z with P(|Z| <= z) = confidence for a standard normal
// Z: 1.96 at 0.95.
func CriticalNormal(confidence float64) float64 {
	return -distuv.UnitNormal.Quantile((1 - confidence) / 2)
}

// CriticalStudent returns t with P(|T| <= t) = confidence for Student's T with
// the given degrees of freedom, above 0: 2.776 at 0.95 and 4.
//
// Gonum's quantile is right to about eight digits; Newton steps on its exact
// tail, I_{df/(df+t^2)}(df/2, 1/2) = 1-confidence, give the rest.
func CriticalStudent(confidence, df float64) float64 {
	dist := distuv.StudentsT{Sigma: 1, Nu: df}
	tails := 1 - confidence
	t := -dist.Quantile(tails / 2)
	for range 4 {
		excess := mathext.RegIncBeta(df/2, 0.5, df/(df+t*t)) - tails
		step := excess / (2 * dist.Prob(t))
		t += step
		if math.Abs(step) <= 1e-15*t {
			break
		}
	}
	return t
}
