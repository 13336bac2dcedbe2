package fit

import (
	"math"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/stat/distuv"
)

// Rho is what the stops of one field say about rho, the correlation of two
// plants at one stop.
type Rho struct {
	Stops, Plants, Infested int

	// Share is the share of plants infested by maximum likelihood. Its
	// interval is that of the standard error, cut at 0 and 1.
	Share Estimate

	// ML is rho by maximum likelihood, with profile-likelihood interval. It is
	// 0, with a lower end of 0 and no standard error, where the stops vary no
	// more than independent plants would make them.
	ML Estimate

	// ANOVA is the analysis-of-variance estimate, without interval. It may be
	// negative, which says the same.
	ANOVA Estimate

	Tarone         Test // hypothesis: rho = 0, against rho > 0
	LogLik         float64
	BinomialLogLik float64
}

// FitRho fits the beta-binomial distribution to the stops of one field. The
// parameter theta = rho/(1-rho) is also in use in the literature.
//
// Skellam, J.G. (1948) A probability distribution derived from the binomial
// distribution by regarding the probability of success as variable between the
// sets of trials. J. R. Stat. Soc. B 10: 257-261. Ridout, M.S., Demetrio,
// C.G.B. & Firth, D. (1999) Estimating intraclass correlation for binary data.
// Biometrics 55: 137-148.
func FitRho(stops []StopCount, confidence float64) (Rho, error) {
	if err := checkConfidence(confidence); err != nil {
		return Rho{}, err
	}
	f, err := newClump(stops)
	if err != nil {
		return Rho{}, err
	}
	out := Rho{Stops: f.stops, Plants: f.plants, Infested: f.infested}
	out.LogLik, out.BinomialLogLik = math.NaN(), math.NaN()
	if why := f.lack(); why != "" {
		out.ML, out.ANOVA = missing("%s", why), missing("%s", why)
		out.Share, out.Tarone = missing("%s", why), noTest("%s", why)
		if f.plants > 0 {
			out.Share = point(float64(f.infested) / float64(f.plants))
		}
		return out, nil
	}
	c := profile([]clump{f})
	out.ML = rhoEstimate(c, confidence)
	theta := thetaOf(out.ML.Value)
	out.Share = f.shareEstimate(theta, confidence)
	out.LogLik, out.BinomialLogLik = c.value(out.ML.Value), c.value(0)
	out.ANOVA = anovaRho([][]StopCount{stops})
	out.Tarone = tarone(stops)
	return out, nil
}

// rhoEstimate returns the maximum of a curve of rho with its interval, and the
// standard error from its curvature.
func rhoEstimate(c curve, confidence float64) Estimate {
	e := Estimate{Value: c.maximum(), SE: math.NaN()}
	e.Lower, e.Upper = c.interval(e.Value, confidence)
	if e.Upper == top {
		e.Upper = 1
	}
	if e.Value == top {
		e.Value = 1
		return e
	}
	if e.Value == 0 {
		return e
	}
	// The slope is one to theta; at the maximum, where it is 0, its derivative
	// to rho is (1-rho)^-2 times that to theta twice over.
	theta := thetaOf(e.Value)
	curvature := fd.Derivative(func(t float64) float64 { return c.slope(rhoOf(t)) }, theta,
		&fd.Settings{Formula: fd.Central, Step: 1e-4 * theta})
	if curvature < 0 {
		e.SE = (1 - e.Value) * (1 - e.Value) / math.Sqrt(-curvature)
	}
	return e
}

func (f clump) shareEstimate(theta, confidence float64) Estimate {
	e := Estimate{Value: f.share(theta)}
	s := f.slopes(e.Value, theta)
	info := -s.pp
	if theta > 0 {
		info += s.pt * s.pt / s.tt
	}
	e.SE = 1 / math.Sqrt(info)
	half := normalQuantile(confidence) * e.SE
	e.Lower, e.Upper = math.Max(0, e.Value-half), math.Min(1, e.Value+half)
	return e
}

// PooledRho is one rho for several fields, each with its own share infested.
type PooledRho struct {
	Fields int // fields used: at least 2 stops, and both infested and other plants
	Stops  int // stops in them

	// ML is by maximum likelihood over rho and all the shares. With few stops
	// a field it is too small, see [FitPooledRho].
	ML Estimate

	// Adjusted allows for the shares having been fitted. It is the one to
	// plan with, unless the fields are sparse.
	Adjusted Estimate

	// Sparse is for sparse fields, with fewer infested plants a stop than
	// [SparseBelow], where Adjusted is too large; missing for others. It is by
	// the likelihood with the fields' shares integrated out, their logits being
	// normal with fitted mean and deviation; fields where nothing was found
	// count as well. Its bias is taken off by the jackknife, up to a hundred
	// fields, and its interval goes by t on one degree of freedom less than
	// fields.
	Sparse Estimate

	ANOVA Estimate // analysis of variance within fields, without interval

	// Tarone tests rho = 0 against rho > 0, on the statistics of all fields,
	// each centred on what it is expected to be given the field's total.
	Tarone Test

	// Same tests the hypothesis that the fields share one rho, by the
	// likelihood ratio on Fields-1 degrees of freedom. It is approximate: with
	// fewer than ten stops in each of many fields it rejects too often.
	Same Test

	LogLik         float64
	BinomialLogLik float64
}

// FitPooledRho fits the beta-binomial distribution with one rho to the stops of
// several fields. Fields with one stop, or with no plant or every plant
// infested, say nothing of rho and are left out. Both estimates have
// profile-likelihood intervals; that of Adjusted is from the adjusted profile
// likelihood.
//
// With J stops a field, maximum likelihood finds about (J-1)/J of the design
// effect 1 + (m-1) rho, however many fields there are, since each field's share
// is fitted to its own few stops. Cox & Reid (1987) take this out.
//
// Cox, D.R. & Reid, N. (1987) Parameter orthogonality and approximate
// conditional inference. J. R. Stat. Soc. B 49: 1-39.
func FitPooledRho(fields [][]StopCount, confidence float64) (PooledRho, error) {
	return fitPooledRho(fields, nil, confidence)
}

// fitPooledRho takes the highest log-likelihood of each field where that is
// known already; own is nil otherwise.
func fitPooledRho(fields [][]StopCount, own []float64, confidence float64) (PooledRho, error) {
	if err := checkConfidence(confidence); err != nil {
		return PooledRho{}, err
	}
	var used, able []clump
	var stops [][]StopCount
	out := PooledRho{LogLik: math.NaN(), BinomialLogLik: math.NaN()}
	why := "there are no fields"
	apart := 0.0
	for i, s := range fields {
		f, err := newClump(s)
		if err != nil {
			return PooledRho{}, err
		}
		if f.stops > 1 && len(f.c) > 1 {
			able = append(able, f)
		}
		if !f.informative() {
			why = f.lack()
			continue
		}
		used, stops = append(used, f), append(stops, s)
		if own != nil {
			apart += own[i]
		} else if len(fields) > 1 {
			c := profile([]clump{f})
			apart += c.value(c.maximum())
		}
		out.Stops += f.stops
	}
	out.Fields = len(used)
	if len(used) == 0 {
		if len(fields) > 1 {
			why = "no field has 2 stops with infested and other plants among them"
		}
		out.ML, out.Adjusted, out.Sparse, out.ANOVA = missing("%s", why), missing("%s", why), missing("%s", why), missing("%s", why)
		out.Tarone, out.Same = noTest("%s", why), noTest("%s", why)
		return out, nil
	}
	c := profile(used)
	out.ML = rhoEstimate(c, confidence)
	out.Adjusted = rhoEstimate(adjusted(used), confidence)
	out.Sparse = sparseRho(able, confidence)
	out.LogLik, out.BinomialLogLik = c.value(math.Min(out.ML.Value, top)), c.value(0)
	out.ANOVA = anovaRho(stops)
	out.Tarone = pooledTarone(stops)
	out.Same = noTest("there is one field that says anything of rho")
	if len(used) > 1 {
		out.Same = chiSquareTest(2*(apart-out.LogLik), len(used)-1)
	}
	return out, nil
}

// tarone returns the C(alpha) test of rho = 0 against rho > 0:
//
//	Z = (sum (x - m p)^2/(p(1-p)) - sum m) / sqrt(2 sum m(m-1))
//
// which is standard normal where there are many stops.
//
// Tarone, R.E. (1979) Testing the goodness of fit of the binomial distribution.
// Biometrika 66: 585-590.
func tarone(stops []StopCount) Test {
	s := score(stops)
	return oneSided((s.sum - s.plants) / math.Sqrt(2*s.pairs))
}

// pooledTarone adds the statistics of the fields. Given the field's total, the
// infested plants at its stops are a random draw (multivariate hypergeometric),
// so that with N plants the sum is m(N-m)/(N-1) a stop and not m. This is
// little in one field, but adds up over many. The variance is less by one stop
// in J accordingly.
func pooledTarone(fields [][]StopCount) Test {
	excess, variance := 0.0, 0.0
	for _, stops := range fields {
		s := score(stops)
		excess += s.sum - s.expected
		variance += 2 * s.pairs * (1 - 1/float64(len(stops)))
	}
	return oneSided(excess / math.Sqrt(variance))
}

type scoreParts struct{ sum, plants, pairs, expected float64 }

func score(stops []StopCount) scoreParts {
	var s scoreParts
	x := 0.0
	for _, one := range stops {
		s.plants += float64(one.Plants)
		x += float64(one.Infested)
	}
	p := x / s.plants
	for _, one := range stops {
		m := float64(one.Plants)
		d := float64(one.Infested) - m*p
		s.sum += d * d / (p * (1 - p))
		s.pairs += m * (m - 1)
		s.expected += m * (s.plants - m) / (s.plants - 1)
	}
	return s
}

func oneSided(z float64) Test {
	if math.IsNaN(z) || math.IsInf(z, 0) {
		return noTest("there is one plant a stop; at least 2 are needed")
	}
	return Test{Statistic: z, P: distuv.UnitNormal.CDF(-z)}
}
