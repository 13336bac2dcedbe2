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

func clumping() (numbers, error) {
	const stops = 4
	clumped, free := sampling.Infested{P: lower, Rho: rho}.Stop(plants), sampling.Infested{P: lower}.Stop(plants)
	low, high := ninety(clumped.Probs(plants))
	lowFree, highFree := ninety(free.Probs(plants))
	return numbers{
		"Deff": sampling.DesignEffect(plants, rho), "Effective": sampling.EffectiveSize(repeat(plants, stops), rho), "P": lower,
		"None": clumped.Probs(0)[0], "NoneIndependent": free.Probs(0)[0], "Stops": stops, "Total": stops * plants, "Low": low,
		"High": high, "LowIndependent": lowFree, "HighIndependent": highFree,
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

func counts() (numbers, error) {
	const mean, many, leaves = 4.0, 10, 20
	leaf, random := sampling.Counts{Mean: mean, K: leafK}.Stop(1), sampling.Counts{Mean: mean, K: math.Inf(1)}.Stop(1)
	total := sampling.Counts{Mean: mean, K: leafK}.Stop(leaves).(sampling.NegBinomial)
	return numbers{
		"K": leafK, "Mean": mean, "Variance": leaf.Variance(), "Zero": leaf.Probs(0)[0], "ZeroPoisson": random.Probs(0)[0],
		"Many": leaf.Tails(many)[many], "ManyPoisson": random.Tails(many)[many], "TotalMean": total.Mu, "TotalK": total.K,
		"T": many, "Leaves": leaves,
	}, nil
}

func taylor() (numbers, error) {
	const low, high, d = 2.0, 40.0, 0.25
	law := sampling.Taylor{A: taylorA, B: taylorB}
	units := func(mean float64) (float64, error) { return meanUnits(law, mean, d, size.StandardError, 0) }
	lowUnits, err := units(low)
	if err != nil {
		return nil, err
	}
	highUnits, err := units(high)
	return numbers{
		"A": law.A, "B": law.B, "LowMean": low, "HighMean": high, "Low": law.Variance(low), "High": law.Variance(high),
		"LowK": tally.K(law, low), "HighK": tally.K(law, high), "D": d, "LowUnits": lowUnits, "HighUnits": highUnits,
	}, err
}

// meanUnits returns the units that a mean takes, before rounding.
func meanUnits(law sampling.VarianceLaw, mean, d float64, as size.Convention, confidence float64) (float64, error) {
	r, err := size.Mean(size.MeanRequest{Mean: mean, Precision: d, Convention: as, Confidence: confidence, Law: law, UnitsPerStop: plants})
	return r.Unrounded, err
}

func iwao() (numbers, error) {
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
	return numbers{
		"A": law.A, "B": law.B, "Mean": mean, "Variance": law.Variance(mean), "Needless": s.WorstNeedless().Needless,
		"Missed": s.WorstMissed().Missed, "Alone": last.Alone, "ByNow": last.ByNow, "Stop": stop,
		"Leave": s.Table.Leave[stop-1], "Act": s.Table.Act[stop-1],
	}, nil
}

func fitted() (numbers, error) {
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
	return numbers{
		"Stops": len(seen), "Counts": seen, "Leaves": leaves, "C": confidence, "Rho": r.ML.Value, "RhoLower": r.ML.Lower,
		"RhoUpper": r.ML.Upper, "RhoANOVA": r.ANOVA.Value, "Mean": k.Mean, "Variance": k.Variance, "K": k.ML.Value,
		"KLower": k.ML.Lower, "KUpper": k.ML.Upper, "KMoments": k.Moments.Value,
	}, err
}

func tallyNumber() (numbers, error) {
	const mean, t, asked = 75.0, 50, 0.25
	at := func(t int) tally.Theory { return tally.Theory{T: t, Leaves: 1, Law: sampling.CommonK{K: leafK}} }
	meanOf, err := tally.Mean(at(t), asked)
	if err != nil {
		return nil, err
	}
	meanOfOne, err := tally.Mean(at(1), asked)
	return numbers{
		"K": leafK, "Mean": mean, "Share": at(t).Share(mean), "ShareOne": at(1).Share(mean), "Asked": asked,
		"MeanOfAsked": meanOf, "MeanOfOne": meanOfOne, "T": t,
	}, err
}

func precisionLines() (numbers, error) {
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
	return numbers{
		"D": d, "TaylorA": green.A, "TaylorB": green.B, "IwaoA": kuno.A, "IwaoB": kuno.B,
		"Share": precision.ShareLine(sampling.DesignEffect(plants, rho), d, seen), "Seen": seen, "Rows": rows,
	}, nil
}
