package tallying

import (
	"fmt"
	"math"

	"stopwise/plans"
	"stopwise/plans/internal/parallel"
	"stopwise/sampling"
	"stopwise/sampling/root"
	"stopwise/sampling/tally"
)

// A Point is a point of the exact curves of a plan for shares infested,
// against the mean per leaf.
type Point struct {
	Mean    float64 `json:"mean"`
	Share   float64 `json:"p"` // share infested; the central one where the relation is uncertain
	Act     float64 `json:"p_act"`
	Leave   float64 `json:"p_leave"` // the operating characteristic
	Stops   float64 `json:"expected_stops"`
	Plants  float64 `json:"expected_plants"`
	Minutes float64 `json:"expected_minutes"`
}

// Curve returns what a plan for shares infested does in fields of given
// means per leaf, whose plants are alike with rho at a stop. Where the relation is
// uncertain, the exact values given the share are integrated over the shares that
// fields of that mean may have (Binns, M.R., Nyrop, J.P. & van der Werf, W. 2000,
// Sampling and Monitoring in Crop Protection, CABI, give the reason; they
// simulate). It returns an error for a plan for means.
func Curve(s *plans.StagePlan, r tally.Relation, means []float64, rho float64) ([]Point, error) {
	if err := ofShares(s); err != nil {
		return nil, err
	}
	points := make([]Point, len(means))
	for i, mean := range means {
		points[i] = pointAt(s, r, mean, rho)
	}
	return points, nil
}

func ofShares(s *plans.StagePlan) error {
	if s.Measure != plans.ShareInfested {
		return sampling.Refusef("a plan for %s has no tally number; its own curve is against the mean", s.Measure)
	}
	return nil
}

// negligible is the chance of a share below which its plan is not evaluated: all
// of them together weigh less than rounding.
const negligible = 1e-16

func pointAt(s *plans.StagePlan, r tally.Relation, mean, rho float64) Point {
	chances := r.Spread(mean)
	evaluations := make([]plans.Evaluation, len(chances))
	parallel.Each(len(chances), func(i int) {
		if chances[i].Chance > negligible {
			evaluations[i] = s.Evaluate(s.World(chances[i].Share, rho))
		}
	})
	d := Point{Mean: mean, Share: r.Share(mean)}
	for i, c := range chances {
		d.Act += c.Chance * evaluations[i].Act
		d.Leave += c.Chance * evaluations[i].Leave
		d.Stops += c.Chance * evaluations[i].ExpectedStops
		d.Plants += c.Chance * evaluations[i].ExpectedUnits
	}
	d.Minutes = s.Minutes(d.Stops, d.Plants)
	return d
}

// A Band is the band of means per leaf over which a plan goes from leaving
// nine fields in ten to leaving one in ten.
type Band struct {
	Leave90 float64 // mean at which P(leave) = 0.9
	Leave10 float64 // mean at which P(leave) = 0.1
}

// Factor returns the width of the band: the larger mean over the smaller.
func (b Band) Factor() float64 { return b.Leave10 / b.Leave90 }

// BandOf returns the band of a plan for shares infested under a relation.
func BandOf(s *plans.StagePlan, r tally.Relation, rho float64) (Band, error) {
	if err := ofShares(s); err != nil {
		return Band{}, err
	}
	var b Band
	var err error
	if b.Leave90, err = meanAtLeave(s, r, rho, 0.9); err != nil {
		return b, err
	}
	b.Leave10, err = meanAtLeave(s, r, rho, 0.1)
	return b, err
}

func meanAtLeave(s *plans.StagePlan, r tally.Relation, rho, leave float64) (float64, error) {
	share, err := root.Brent(func(p float64) float64 { return s.Evaluate(s.World(p, rho)).Leave - leave }, 0, 1)
	if err != nil {
		return math.NaN(), fmt.Errorf("tallying: the plan never leaves a field with chance %g", leave)
	}
	// The mean of that share, where the relation is exact; else near the one
	// looked for.
	mean, err := tally.Mean(r, share)
	if err != nil {
		return math.NaN(), err
	}
	if len(r.Spread(mean)) == 1 {
		return mean, nil
	}
	off := func(lnMean float64) float64 { return pointAt(s, r, math.Exp(lnMean), rho).Leave - leave }
	low, high := math.Log(mean), math.Log(mean)
	for step := 0.25; off(low) < 0 && step < 100; step *= 2 {
		low -= step
	}
	for step := 0.25; off(high) > 0 && step < 100; step *= 2 {
		high += step
	}
	ln, err := root.Brent(off, low, high)
	if err != nil {
		return math.NaN(), fmt.Errorf("tallying: no mean per leaf at which the plan leaves a field with chance %g", leave)
	}
	return math.Exp(ln), nil
}
