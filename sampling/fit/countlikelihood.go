package fit

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"

	"stopwise/sampling"
)

// A countField is what the likelihood of counts alike at a stop needs of a
// field: its counts, and the leaves and insects of each stop.
type countField struct {
	all   Counts
	stops []Counts
	logs  float64 // sum of ln x! over all leaves
}

func newCountField(stops []Counts) countField {
	f := countField{stops: stops, all: merged(stops)}
	for _, c := range f.all.classes {
		lg, _ := math.Lgamma(float64(c.Count) + 1)
		f.logs += float64(c.Leaves) * lg
	}
	return f
}

// The integral over a stop's mean is taken in so many nodes between where its
// logarithm has fallen by about 25. Against the recurrence of
// [sampling.AlikeCounts] the error of the logarithm is below 1e-7.
// (Not 26: one of gonum 0.17's weights for that is wrong.)
const (
	stopNodes = 20
	stopReach = 7
)

var stopNode, stopWeight = func() (x, w []float64) {
	x, w = make([]float64, stopNodes), make([]float64, stopNodes)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}()

// Shapes beyond these are taken at them: what is lost is less than the digits
// that larger ones would cost.
const (
	largestShape  = 1e7
	smallestShape = 1e-9
)

// logLik returns the log-likelihood of the field at a mean, a k over the field
// and a correlation of two leaves of a stop, which is lowered to the largest that
// they allow. Given a stop's total, how it is shared out over the leaves does not
// depend on the stop's mean, so that the integral is one over totals:
//
//	prod over leaves of Gamma(w+x)/(Gamma(w) x!) scale^g/Gamma(g) int t^(S+g-1) (1+t)^-(S+m w) e^(-scale t) dt
func (f countField) logLik(mean, k, rho float64) float64 {
	rho = math.Min(rho, sampling.MaxCountRho(mean, k))
	pop := sampling.AlikeCounts{Mean: mean, K: k, Rho: rho}
	g := math.Max(smallestShape, math.Min(largestShape, pop.StopShape()))
	w := math.Min(largestShape, pop.WithinK())
	scale := g * w / mean
	ll := -f.logs
	lw, _ := math.Lgamma(w)
	for _, c := range f.all.classes {
		if c.Count > 0 {
			l, _ := math.Lgamma(w + float64(c.Count))
			ll += float64(c.Leaves) * (l - lw)
		}
	}
	lg, _ := math.Lgamma(g)
	for _, s := range f.stops {
		ll += g*math.Log(scale) - lg + logIntegral(s.sum, float64(s.units)*w, g, scale)
	}
	return ll
}

// logIntegral returns ln of int t^(total+g-1) (1+t)^-(total+size) e^(-scale t) dt.
// In ln t the logarithm of what is integrated is concave.
func logIntegral(total, size, g, scale float64) float64 {
	b := scale + size - g
	root := math.Sqrt(b*b + 4*scale*(total+g))
	t := (root - b) / (2 * scale)
	if b > 0 {
		t = 2 * (total + g) / (b + root)
	}
	at := func(s float64) float64 {
		t := math.Exp(s)
		return (total+g)*s - (total+size)*math.Log1p(t) - scale*t
	}
	mode := math.Log(t)
	sd := 1 / math.Sqrt((total+size)*t/((1+t)*(1+t))+scale*t)
	left := stopReach*sd + 25/(total+g)
	right := stopReach * sd
	if size > g {
		right += math.Min(25/(size-g), math.Max(0, math.Log(25/scale)-mode))
	}
	peak, sum := at(mode), 0.0
	for _, half := range [2]float64{-left, right} {
		part := 0.0
		for i, x := range stopNode {
			part += stopWeight[i] * math.Exp(at(mode+half*(x+1)/2)-peak)
		}
		sum += part * math.Abs(half) / 2
	}
	return peak + math.Log(sum)
}

// profiled returns the highest log-likelihood over the field's mean, and half
// the logarithm of the information on it (see [adjusted]). The mean count is so
// near to the best mean that a parabola through three values finds the rest.
func (f countField) profiled(k func(mean float64) float64, rho float64) (ll, adjustment float64) {
	const h = 0.05
	at := func(d float64) float64 {
		m := f.all.Mean() * math.Exp(d)
		return f.logLik(m, k(m), rho)
	}
	below, here, above := at(-h), at(0), at(h)
	slope, info := (above-below)/(2*h), (2*here-above-below)/(h*h)
	if !(info > 0) {
		return here, 0
	}
	step := math.Max(-0.3, math.Min(0.3, slope/info))
	return here + step*slope - step*step*info/2, math.Log(info) / 2
}
