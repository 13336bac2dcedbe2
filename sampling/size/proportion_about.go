package size

import (
	"fmt"
	"math"

	"stopwise/sampling"
)

func (r ProportionRequest) assumptions() []string {
	out := []string{
		fmt.Sprintf("the true share infested is %s", percent(r.Share)),
		clumpingWords(r.Rho, r.RhoSource, r.PlantsPerStop),
		stopsWords,
		fmt.Sprintf("the normal route takes the half-width as z = %.4g standard errors at %s confidence", sampling.CriticalNormal(r.Confidence), percent(r.Confidence)),
		fmt.Sprintf("the exact route averages the half-width of the %v interval, at the effective sample size, over all totals the stops can give", r.Interval),
	}
	if r.Relative != 0 {
		out = append(out, fmt.Sprintf("relative precision %s of %s is a half-width of %s", percent(r.Relative), percent(r.Share), percent(r.halfWidth())))
	}
	if r.FieldPlants > 0 {
		out = append(out, fmt.Sprintf("the field has %s, seen without repetition; the totals are spread as in a very large field, their interval is narrowed by the finite-field correction", plural(r.FieldPlants, "plant")))
	} else {
		out = append(out, "the field has many more plants than are examined")
	}
	return out
}

func (r ProportionRequest) warnings(res ProportionResult) []string {
	var out []string
	if res.HalfWidth >= math.Min(r.Share, 1-r.Share) {
		out = append(out, fmt.Sprintf("a half-width of %s at a share of %s reaches past %s: the normal route is rough here, use the exact one", percent(res.HalfWidth), percent(r.Share), edge(r.Share)))
	}
	if res.Exact == nil {
		out = append(out, fmt.Sprintf("the exact route is worked out up to %d plants and is left out", MaxPlants))
	}
	if r.Interval.TeachingOnly() {
		out = append(out, "the Wald interval is for teaching only: its true confidence is often far below the nominal one")
	}
	if r.census(res.Normal.Stops) {
		out = append(out, "this takes every plant of the field: count them all")
	}
	return out
}

func edge(share float64) string {
	if share <= 0.5 {
		return "0%"
	}
	return "100%"
}

// sensitivity shows other values of rho, by the exact route where there is one.
func (r ProportionRequest) sensitivity(res ProportionResult) (Sensitivity, error) {
	s := Sensitivity{Of: "rho"}
	chosen := res.Normal.Stops
	if res.Exact != nil {
		chosen = res.Exact.Stops
	}
	for _, rho := range rhosAround(r.Rho, r.PlantsPerStop) {
		q := r
		q.Rho = rho
		row := SensitivityRow{Value: rho, Assumed: rho == r.Rho, Stops: wholeStops(q.unrounded(), q.PlantsPerStop)}
		row.Reached = q.normalHalfWidth(chosen)
		if res.Exact != nil {
			stops, err := q.exactStops(row.Stops)
			if err != nil {
				return s, err
			}
			row.Stops = stops
			if row.Reached, _, err = q.expected(chosen); err != nil {
				return s, err
			}
		}
		if row.Stops > 0 {
			row.Plants = q.plants(row.Stops)
		}
		s.Rows = append(s.Rows, row)
	}
	return s, nil
}
