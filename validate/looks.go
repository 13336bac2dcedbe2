package validate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Look is what one look at the running total, and all looks so far, say of a field.
type Look struct {
	Stop  int     `json:"stop"`
	Alone float64 `json:"p_outside_now"`    // chance that the total after this stop lies outside the band
	ByNow float64 `json:"p_outside_so_far"` // chance that it did so after this or an earlier looked-at stop
}

// Looks returns the exact chances that the running total of infested plants leaves a
// band around the expected one, in a field at share, where it is looked at after every
// stop from first to last. outside is the chance in each tail that the band is drawn
// for, by the normal distribution, in (0, 0.5): the band is n share plus and minus
// z sqrt(n v) with v = share (1-share) times the design effect, which is the band of
// Iwao (1975) with the field at the threshold. It errs on a share or a rho outside
// their ranges, and unless 1 <= first <= last <= 200 and plants >= 1.
//
// Armitage, P., McPherson, C.K. & Rowe, B.C. (1969) Repeated significance tests on
// accumulating data. J. R. Stat. Soc. A 132: 235-244.
func Looks(share, rho float64, plants, first, last int, outside float64) ([]Look, error) {
	field, err := sampling.NewInfested(share, rho)
	if err != nil {
		return nil, err
	}
	if plants < 1 || first < 1 || last < first || last > 200 || !(outside > 0 && outside < 0.5) {
		return nil, fmt.Errorf("validate: looks after stops %d to %d of %d plants at %v outside a side; accepted are stops 1 to 200, plants from 1, and a chance between 0 and 0.5", first, last, plants, outside)
	}
	z := distuv.UnitNormal.Quantile(1 - outside)
	v := share * (1 - share) * sampling.DesignEffect(plants, rho)
	steps := make([]rule.Step, last)
	for j := range steps {
		n := float64((j + 1) * plants)
		steps[j] = rule.Step{Units: plants, Leave: rule.NeverLeave, Act: rule.NeverAct}
		if j+1 >= first {
			steps[j].Leave = int(math.Ceil(n*share-z*math.Sqrt(n*v))) - 1
			steps[j].Act = int(math.Floor(n*share+z*math.Sqrt(n*v))) + 1
		}
	}
	out := make([]Look, 0, last-first+1)
	byNow := make([]float64, last+1)
	for _, e := range rule.Ends(steps, field) {
		if e.Verdict != rule.Continue {
			byNow[e.Stop] += e.Chance
		}
	}
	sum := 0.0
	for j := first; j <= last; j++ {
		sum += byNow[j]
		l := Look{Stop: j, ByNow: sum}
		for x, c := range sampling.Total(field.Stop(plants), j) {
			if x <= steps[j-1].Leave || x >= steps[j-1].Act {
				l.Alone += c
			}
		}
		out = append(out, l)
	}
	return out, nil
}
