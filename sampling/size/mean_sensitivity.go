package size

import (
	"math"

	"stopwise/sampling"
)

// besides adds to a sensitivity what becomes of the answer in another situation,
// unless there is none such.
func (r MeanRequest) besides(s *Sensitivity, stops int, value, assumed float64, other MeanRequest) {
	if other.checkVariance() != nil {
		return
	}
	row := SensitivityRow{Value: value, Assumed: value == assumed, Reached: other.reached(stops)}
	if n := other.unrounded(); n <= math.MaxInt32-MaxPlants {
		row.Stops = wholeStops(n, other.UnitsPerStop)
		row.Plants = row.Stops * other.UnitsPerStop
	}
	s.Rows = append(s.Rows, row)
}

// alike varies the correlation of the counts of a stop, as far as there can be one.
func (r MeanRequest) alike(stops int) Sensitivity {
	s := Sensitivity{Of: "count_rho"}
	if r.Components != nil || r.UnitsPerStop == 1 || sampling.MaxCountRho(r.Mean, r.k()) == 0 {
		return s
	}
	for _, rho := range rhosAround(r.CountRho, r.UnitsPerStop) {
		q := r
		q.CountRho = rho
		r.besides(&s, stops, rho, r.CountRho, q)
	}
	return s
}

// sensitivity varies what the variance hangs on most.
func (r MeanRequest) sensitivity(stops int) Sensitivity {
	var s Sensitivity
	add := func(value, assumed float64, q MeanRequest) { r.besides(&s, stops, value, assumed, q) }
	switch law := r.Law.(type) {
	case sampling.CommonK:
		s.Of = "k"
		values := []float64{law.K / 4, law.K / 2, law.K, 2 * law.K, 4 * law.K}
		if math.IsInf(law.K, 1) {
			values = []float64{0.5, 1, 2, 5, law.K}
		}
		for _, k := range values {
			q := r
			q.Law = sampling.CommonK{K: k}
			add(k, law.K, q)
		}
	case sampling.Taylor:
		s.Of = "b"
		for _, d := range []float64{-0.2, -0.1, 0, 0.1, 0.2} {
			q := r
			q.Law = sampling.Taylor{A: law.A, B: law.B + d}
			add(law.B+d, law.B, q)
		}
	case sampling.Iwao:
		s.Of = "B"
		for _, d := range []float64{-0.2, -0.1, 0, 0.1, 0.2} {
			q := r
			q.Law = sampling.Iwao{A: law.A, B: law.B + d}
			add(law.B+d, law.B, q)
		}
	default:
		if r.Components == nil {
			return s
		}
		s.Of = "variance between stops"
		for _, f := range []float64{0.25, 0.5, 1, 2, 4} {
			q := r
			q.Components = &Components{Between: f * r.Components.Between, Within: r.Components.Within}
			add(f*r.Components.Between, r.Components.Between, q)
		}
	}
	return s
}
