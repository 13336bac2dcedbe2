package sampling

import (
	"fmt"
	"math"
)

// ErrNoSpread is returned where an interval rests on the differences between
// stops and there are none: all stops are the same.
var ErrNoSpread = Refusef("all stops show the same, so their differences give no interval; must differ, or use an interval that takes rho")

// ClumpedProportion returns a confidence interval for the share infested from
// stops whose plants are alike: plants[j] examined and infested[j] infested at
// stop j, intraclass correlation rho. Each stop counts as plants/deff
// independent plants, deff being its [DesignEffect], and the interval of the
// given method is taken at that effective size. With unequal stops the estimate
// behind it therefore weights each stop by 1/deff.
//
// Kish, L. (1965) Survey Sampling, 5.4 and 8.2.
func ClumpedProportion(method Method, infested, plants []int, rho, confidence float64) (Interval, error) {
	if err := checkStops(infested, plants, 1); err != nil {
		return Interval{}, err
	}
	if err := CheckRho(rho); err != nil {
		return Interval{}, err
	}
	x := 0.0
	for j, m := range plants {
		x += float64(infested[j]) / DesignEffect(m, rho)
	}
	n := EffectiveSize(plants, rho)
	return Proportion(method, math.Min(x, n), n, confidence)
}

// BetweenStops returns a confidence interval for the share infested from the
// differences between stops alone: no rho is assumed. It is the ratio estimate
// p = sum infested / sum plants plus and minus t standard errors, with
//
//	SE^2 = J/(J-1) sum (infested_j - p plants_j)^2 / (sum plants)^2
//
// and t on J-1 degrees of freedom, cut at 0 and 1. At least 2 stops; with few
// of them it is wide. Stops that are all alike give [ErrNoSpread].
//
// Cochran, W.G. (1977) Sampling Techniques, 3.12.
func BetweenStops(infested, plants []int, confidence float64) (Interval, error) {
	if err := checkStops(infested, plants, 2); err != nil {
		return Interval{}, err
	}
	if err := CheckConfidence(confidence); err != nil {
		return Interval{}, err
	}
	var x, n int
	for j := range plants {
		x += infested[j]
		n += plants[j]
	}
	p := float64(x) / float64(n)
	squares := 0.0
	alike := true
	for j, m := range plants {
		d := float64(infested[j]) - p*float64(m)
		squares += d * d
		alike = alike && infested[j]*n == x*m
	}
	if alike {
		return Interval{}, ErrNoSpread
	}
	J := float64(len(plants))
	half := CriticalStudent(confidence, J-1) * math.Sqrt(J/(J-1)*squares) / float64(n)
	return Interval{math.Max(0, p-half), math.Min(1, p+half), confidence}, nil
}

func checkStops(infested, plants []int, least int) error {
	if len(infested) != len(plants) {
		return Refusef("%d counts of infested plants for %d stops, must be one a stop", len(infested), len(plants))
	}
	if len(plants) < least {
		return Refuse("stops", len(plants), fmt.Sprintf("at least %d", least))
	}
	for j, m := range plants {
		if m < 1 {
			return Refusef("stop %d: %d plants examined, must be at least 1", j+1, m)
		}
		if infested[j] < 0 || infested[j] > m {
			return Refusef("stop %d: %d plants infested of %d examined, must be from 0 to %d", j+1, infested[j], m, m)
		}
	}
	return nil
}
