package fit

import (
	"math"
)

// CommonK is one k for several fields, each with its own mean.
type CommonK struct {
	Fields    int      // fields used: those with insects
	ML        Estimate // maximum likelihood, with profile-likelihood interval
	BlissOwen Estimate // weighted regression of Bliss and Owen (1958)
	LogLik    float64
	Same      Test // hypothesis: the fields share one k. Likelihood ratio on Fields-1
}

// FitCommonK estimates one k for all fields. By maximum likelihood the mean of
// each field is its mean count, and k solves
//
//	sum over fields, x of (units with count > x)/(k+x) = sum over fields of units ln(1+mean/k)
//
// with the interval from the profile likelihood. Units are taken as
// independent; where the leaves of one stop are alike the interval is too
// narrow. Where the likelihood is highest at k = infinity, the value is missing
// for no clumping, and Lower says how small k can at most be.
//
// Bliss, C.I. & Fisher, R.A. (1953) Fitting the negative binomial distribution
// to biological data. Biometrics 9: 176-200. Bliss, C.I. & Owen, A.R.G. (1958)
// Negative binomial distributions with a common k. Biometrika 45: 37-58.
func FitCommonK(fields []Counts, confidence float64) (CommonK, error) {
	if err := checkConfidence(confidence); err != nil {
		return CommonK{}, err
	}
	var used []Counts
	for _, c := range fields {
		if noCounts(c).Known() {
			used = append(used, c)
		}
	}
	out := CommonK{Fields: len(used), LogLik: math.NaN()}
	if len(used) == 0 {
		out.ML = missing("all counts are 0")
		if len(fields) == 1 {
			out.ML = noCounts(fields[0])
		}
		out.BlissOwen, out.Same = out.ML, noTest("%s", out.ML.Missing)
		return out, nil
	}
	out.ML, out.LogLik = commonCurve(used).estimate(confidence)
	out.BlissOwen = blissOwen(used, confidence)
	out.Same = sameK(used, out.LogLik)
	return out, nil
}

// A kCurve is the profile likelihood of a common k, in u = s/(s+k), s being the
// mean count: u = 0 is no clumping.
type kCurve struct {
	curve
	fields []Counts
	scale  float64
}

func commonCurve(fields []Counts) kCurve {
	scale := 0.0
	for _, c := range fields {
		scale += c.Mean() / float64(len(fields))
	}
	out := kCurve{fields: fields, scale: scale}
	over := func(f func(Counts, float64) float64) func(float64) float64 {
		return func(u float64) float64 {
			sum := 0.0
			for _, c := range fields {
				sum += f(c, 1/out.k(u))
			}
			return sum
		}
	}
	out.curve = curve{value: over(logLik), slope: over(slope)}
	return out
}

func (c kCurve) k(u float64) float64 { return c.scale * (1 - u) / u }

func (c kCurve) estimate(confidence float64) (Estimate, float64) {
	at := c.maximum()
	lower, upper := c.interval(at, confidence)
	e := Estimate{Lower: c.k(upper), Upper: c.k(lower)}
	if upper == top {
		e.Lower = 0
	}
	if at == 0 {
		e.Value, e.SE, e.Upper, e.Missing = math.NaN(), math.NaN(), math.Inf(1), underdispersed
		return e, c.value(0)
	}
	e.Value = c.k(at)
	info := 0.0
	for _, f := range c.fields {
		info += information(f, e.Value)
	}
	e.SE = 1 / math.Sqrt(info)
	return e, c.value(at)
}

// blissOwen regresses y = variance - mean on x = mean^2 - variance/units
// through the origin: the slope is 1/k. The weights
//
//	0.5 (n-1) k^4 / (mean^2 (mean+k)^2 (k(k+1) - (2k-1)/n - 3/n^2))
//
// depend on k, so it is repeated until k stands still. The interval is that of
// the slope.
func blissOwen(fields []Counts, confidence float64) Estimate {
	invK, sxx := 0.0, 0.0
	for range 500 {
		sxy, last := 0.0, invK
		sxx = 0
		for _, c := range fields {
			m, v, n := c.Mean(), c.Variance(), float64(c.units)
			x, y, w := m*m-v/n, v-m, blissOwenWeight(m, n, last)
			if w > 0 {
				sxy += w * x * y
				sxx += w * x * x
			}
		}
		invK = sxy / sxx
		if !(invK > 0) {
			return missing(underdispersed)
		}
		if math.Abs(invK-last) <= 1e-14*invK {
			break
		}
	}
	se := 1 / math.Sqrt(sxx)
	z := normalQuantile(confidence)
	e := Estimate{Value: 1 / invK, SE: se / (invK * invK), Lower: 1 / (invK + z*se), Upper: math.Inf(1)}
	if invK > z*se {
		e.Upper = 1 / (invK - z*se)
	}
	return e
}

// blissOwenWeight is written in 1/k, so that the first round, with 1/k = 0, has
// the weights of the Poisson.
func blissOwenWeight(m, n, invK float64) float64 {
	spread := 1 + invK - (2*invK-invK*invK)/n - 3*invK*invK/(n*n)
	return 0.5 * (n - 1) / (m * m * (1 + m*invK) * (1 + m*invK) * spread)
}

func sameK(fields []Counts, common float64) Test {
	if len(fields) < 2 {
		return noTest("there is one field with insects")
	}
	sum := 0.0
	for _, c := range fields {
		one := commonCurve([]Counts{c})
		sum += one.value(one.maximum())
	}
	return chiSquareTest(2*(sum-common), len(fields)-1)
}
