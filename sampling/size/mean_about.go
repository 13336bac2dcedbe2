package size

import (
	"fmt"
	"math"

	"stopwise/sampling"
)

func (r MeanRequest) assumptions() []string {
	out := []string{fmt.Sprintf("the true mean is %s per unit", trimmed(r.Mean))}
	source := ""
	if r.Source != "" {
		source = " (" + r.Source + ")"
	}
	if c := r.Components; c != nil {
		out = append(out, fmt.Sprintf("variance %s between stops and %s within a stop%s, which is an intraclass correlation of %s",
			trimmed(c.Between), trimmed(c.Within), source, trimmed(c.Between/(c.Between+c.Within))))
	} else {
		out = append(out, fmt.Sprintf("%v%s: variance %s per unit", r.Law, source, trimmed(r.unitVariance())))
		if r.CountRho == 0 {
			out = append(out, "units of one stop are no more alike than units of different stops (count_rho = 0)")
		} else {
			out = append(out, fmt.Sprintf("the counts of two units of one stop have the correlation %s (count_rho): each stop has a mean of its own, gamma distributed", trimmed(r.CountRho)))
		}
	}
	out = append(out, stopsWords, "the field has many more units than are examined")
	if r.Convention == StandardError {
		return append(out, fmt.Sprintf("precision %s is the standard error over the mean (no z)", percent(r.Precision)))
	}
	return append(out, fmt.Sprintf("precision %s is the half-width of the %s confidence interval over the mean (z = %.4g)", percent(r.Precision), percent(r.Confidence), r.z()))
}

func (r MeanRequest) warnings(res MeanResult) []string {
	var out []string
	if r.Convention == HalfWidth && res.Stops == 1 {
		out = append(out, "one stop shows nothing of how stops differ: the precision rests on the assumed variance alone")
	}
	if res.ReachedStudent > 1.1*r.Precision {
		out = append(out, fmt.Sprintf("if the variance is judged from these %s alone, t instead of z makes the half-width %s of the mean", plural(res.Stops, "stop"), computed(res.ReachedStudent)))
	}
	if res.Within < r.Confidence-0.01 {
		out = append(out, fmt.Sprintf("counts are skewed: the exact chance of an estimate within %s of the mean is %s, not %s", percent(r.Precision), computed(res.Within), percent(r.Confidence)))
	}
	return out
}

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
