package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// Regression is a straight line y = Intercept + Slope x fitted by least
// squares, one point a field.
type Regression struct {
	Fields           int // points
	Intercept, Slope Estimate
	MSE              float64 // residual mean square, on Fields-2 degrees of freedom
	R2               float64
	MeanX            float64
	MinX, MaxX       float64 // range in which the line was fitted
}

// MinFields is the least number of fields for a line with standard errors.
const MinFields = 3

// regress fits the line. Standard errors are the usual ones; the intervals have
// Student's t on Fields-2 degrees of freedom.
func regress(x, y []float64, confidence float64) Regression {
	n := len(x)
	r := Regression{Fields: n, MSE: math.NaN(), R2: math.NaN(), MeanX: math.NaN(), MinX: math.NaN(), MaxX: math.NaN()}
	why := ""
	if n < MinFields {
		why = fmt.Sprintf("%d of the fields can be used; at least %d are needed", n, MinFields)
	} else if floats.Min(x) == floats.Max(x) {
		why = "all fields are at the same level"
	}
	if why != "" {
		r.Intercept, r.Slope = missing("%s", why), missing("%s", why)
		return r
	}
	a, b := stat.LinearRegression(x, y, nil, false)
	r.MinX, r.MaxX, r.MeanX = floats.Min(x), floats.Max(x), stat.Mean(x, nil)
	rss, sxx := 0.0, 0.0
	for i := range x {
		e := y[i] - a - b*x[i]
		rss += e * e
		sxx += (x[i] - r.MeanX) * (x[i] - r.MeanX)
	}
	r.R2 = stat.RSquared(x, y, nil, a, b)
	r.MSE = rss / float64(n-2)
	t := tQuantile(confidence, n-2)
	line := func(v, se float64) Estimate { return Estimate{Value: v, SE: se, Lower: v - t*se, Upper: v + t*se} }
	r.Intercept = line(a, math.Sqrt(r.MSE*(1/float64(n)+r.MeanX*r.MeanX/sxx)))
	r.Slope = line(b, math.Sqrt(r.MSE/sxx))
	return r
}

// exp returns the estimate of e to the power of what e estimates: the interval
// is carried over, the standard error by the delta method.
func (e Estimate) exp() Estimate {
	if !e.Known() {
		return e
	}
	v := math.Exp(e.Value)
	return Estimate{Value: v, SE: v * e.SE, Lower: math.Exp(e.Lower), Upper: math.Exp(e.Upper)}
}
