package explain

import (
	"math"
	"slices"

	"stopwise/plans"
	"stopwise/plans/precision"
	"stopwise/sampling"
	"stopwise/sampling/fit"
	"stopwise/sampling/size"
	"stopwise/sampling/tally"
	"stopwise/validate"
)

func clumping() (any, error) {
	const stops = 4
	clumped, free := sampling.Infested{P: lower, Rho: rho}.Stop(plants), sampling.Infested{P: lower}.Stop(plants)
	low, high := ninety(clumped.Probs(plants))
	lowFree, highFree := ninety(free.Probs(plants))
	return struct {
		Rho, Deff, Effective, P, None, NoneIndependent float64
		Stops, Plants, Total                           int
		Low, High, LowIndependent, HighIndependent     int
	}{
		rho, sampling.DesignEffect(plants, rho), sampling.EffectiveSize(repeat(plants, stops), rho), lower, clumped.Probs(0)[0], free.Probs(0)[0],
		stops, plants, stops * plants, low, high, lowFree, highFree,
	}, nil
}

// ninety returns the values between which nine in ten lie, one in twenty at most
// on each side.
func ninety(probs []float64) (low, high int) {
	sum := 0.0
	low = -1
	for x, p := range probs {
		sum += p
		if low < 0 && sum >= 0.05 {
			low = x
		}
		if sum >= 0.95 {
			return low, x
		}
	}
	return low, len(probs) - 1
}

func repeat(x, n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = x
	}
	return out
}

func counts() (any, error) {
	const mean, many, leaves = 4.0, 10, 20
	leaf, random := sampling.Counts{Mean: mean, K: leafK}.Stop(1), sampling.Counts{Mean: mean, K: math.Inf(1)}.Stop(1)
	total := sampling.Counts{Mean: mean, K: leafK}.Stop(leaves).(sampling.NegBinomial)
	return struct {
		K, Mean, Variance, Zero, ZeroPoisson, Many, ManyPoisson, TotalMean, TotalK float64
		T, Leaves                                                                  int
	}{
		leafK, mean, leaf.Variance(), leaf.Probs(0)[0], random.Probs(0)[0], leaf.Tails(many)[many], random.Tails(many)[many], total.Mu, total.K,
		many, leaves,
	}, nil
}

func taylor() (any, error) {
	const low, high, d = 2.0, 40.0, 0.25
	law := sampling.Taylor{A: taylorA, B: taylorB}
	units := func(mean float64) (float64, error) { return meanUnits(law, mean, d, size.StandardError, 0) }
	lowUnits, err := units(low)
	if err != nil {
		return nil, err
	}
	highUnits, err := units(high)
	return struct{ A, B, LowMean, HighMean, Low, High, LowK, HighK, D, LowUnits, HighUnits float64 }{
		law.A, law.B, low, high, law.Variance(low), law.Variance(high), tally.K(law, low), tally.K(law, high), d, lowUnits, highUnits,
	}, err
}

// meanUnits returns the units that a mean takes, before rounding.
func meanUnits(law sampling.VarianceLaw, mean, d float64, as size.Convention, confidence float64) (float64, error) {
	r, err := size.Mean(size.MeanRequest{Mean: mean, Precision: d, Convention: as, Confidence: confidence, Law: law, UnitsPerStop: plants})
	return r.Unrounded, err
}

func iwao() (any, error) {
	const mean, stop = 40.0, 8
	law := sampling.Iwao{A: iwaoA, B: iwaoB}
	s, err := designed(plans.IwaoCurves, false)
	if err != nil {
		return nil, err
	}
	looks, err := validate.Looks(threshold, rho, plants, minimum, maximum, risk)
	if err != nil {
		return nil, err
	}
	last := looks[len(looks)-1]
	return struct {
		A, B, Mean, Variance, Rho, Threshold, Risk, Lower, Upper, Needless, Missed, Alone, ByNow float64
		Plants, Stop, Minimum, Maximum, Leave, Act                                               int
	}{
		law.A, law.B, mean, law.Variance(mean), rho, threshold, risk, lower, upper, s.WorstNeedless().Needless, s.WorstMissed().Missed, last.Alone, last.ByNow,
		plants, stop, minimum, maximum, s.Table.Leave[stop-1], s.Table.Act[stop-1],
	}, nil
}

func fitted() (any, error) {
	const confidence = 0.95
	seen := []int{3, 0, 7, 2, 5, 1, 9, 2, 4, 0, 6, 3}
	leaves := []int{0, 3, 12, 1, 0, 27, 5, 2, 0, 8, 41, 0, 1, 6, 0, 19, 3, 0, 2, 10}
	var stops []fit.StopCount
	for _, x := range seen {
		stops = append(stops, fit.StopCount{Plants: plants, Infested: x})
	}
	r, err := fit.FitRho(stops, confidence)
	if err != nil {
		return nil, err
	}
	units := make([]int, slices.Max(leaves)+1)
	for _, x := range leaves {
		units[x]++
	}
	c, err := fit.CountsOf(units...)
	if err != nil {
		return nil, err
	}
	k, err := fit.FitK(c, confidence)
	return struct {
		Stops, Plants                                                                     int
		Counts, Leaves                                                                    []int
		C, Rho, RhoLower, RhoUpper, RhoANOVA, Mean, Variance, K, KLower, KUpper, KMoments float64
	}{
		len(seen), plants, seen, leaves, confidence, r.ML.Value, r.ML.Lower, r.ML.Upper, r.ANOVA.Value,
		k.Mean, k.Variance, k.ML.Value, k.ML.Lower, k.ML.Upper, k.Moments.Value,
	}, err
}

func tallyNumber() (any, error) {
	const mean, t, asked = 75.0, 50, 0.25
	at := func(t int) tally.Theory { return tally.Theory{T: t, Leaves: 1, Law: sampling.CommonK{K: leafK}} }
	meanOf, err := tally.Mean(at(t), asked)
	if err != nil {
		return nil, err
	}
	meanOfOne, err := tally.Mean(at(1), asked)
	return struct {
		K, Mean, Share, ShareOne, Asked, MeanOfAsked, MeanOfOne float64
		T                                                       int
	}{leafK, mean, at(t).Share(mean), at(1).Share(mean), asked, meanOf, meanOfOne, t}, err
}

func precisionLines() (any, error) {
	const d, seen = 0.25, 160
	type row struct {
		Units       int
		Green, Kuno float64
	}
	green, kuno := sampling.Taylor{A: taylorA, B: taylorB}, sampling.Iwao{A: iwaoA, B: iwaoB}
	var rows []row
	for _, n := range []int{10, 50} {
		g, _ := precision.GreenLine(green, d, float64(n))
		k, _ := precision.KunoLine(kuno, d, float64(n))
		rows = append(rows, row{n, g, k})
	}
	return struct {
		D, TaylorA, TaylorB, IwaoA, IwaoB, Rho, Share float64
		Plants, Seen                                  int
		Rows                                          []row
	}{d, green.A, green.B, kuno.A, kuno.B, rho, precision.ShareLine(sampling.DesignEffect(plants, rho), d, seen), plants, seen, rows}, nil
}
