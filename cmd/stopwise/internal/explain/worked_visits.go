package explain

import (
	"context"

	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/size"
	"stopwise/validate"
)

func intervals() (any, error) {
	const confidence = 0.95
	seen := []int{3, 6, 1, 4}
	all := repeat(plants, len(seen))
	infested, total := 0, 0
	for i, x := range seen {
		infested += x
		total += all[i]
	}
	var failed error
	keep := func(in sampling.Interval, err error) sampling.Interval {
		if err != nil {
			failed = err
		}
		return in
	}
	of := func(m sampling.Method) sampling.Interval {
		return keep(sampling.Proportion(m, float64(infested), float64(total), confidence))
	}
	covered := func(used float64) float64 {
		in, err := sampling.TotalIntervals(sampling.MethodWilson, len(seen), plants, used, confidence)
		if err != nil {
			failed = err
			return 0
		}
		return sampling.Cover(in, sampling.Total(sampling.Infested{P: lower, Rho: rho}.Stop(plants), len(seen)), lower).Holds
	}
	x := struct {
		Counts                                                       []int
		Stops, Plants, Infested, Total                               int
		P, C, Rho, At, Ignored, CountedIn                            float64
		Wilson, ClopperPearson, AgrestiCoull, Wald, Clumped, Between sampling.Interval
	}{
		seen, len(seen), plants, infested, total,
		float64(infested) / float64(total), confidence, rho, lower, covered(0), covered(rho),
		of(sampling.MethodWilson), of(sampling.MethodClopperPearson), of(sampling.MethodAgrestiCoull), of(sampling.MethodWald),
		keep(sampling.ClumpedProportion(sampling.MethodWilson, seen, all, rho, confidence)), keep(sampling.BetweenStops(seen, all, confidence)),
	}
	return x, failed
}

func sampleSize() (any, error) {
	const share, half, confidence, mean, d = 0.2, 0.1, 0.95, 4.0, 0.25
	r := size.ProportionRequest{Share: share, HalfWidth: half, Confidence: confidence, PlantsPerStop: plants, Rho: rho}
	clumped, err := size.Proportion(r)
	if err != nil {
		return nil, err
	}
	r.Rho = 0
	free, err := size.Proportion(r)
	if err != nil {
		return nil, err
	}
	law := sampling.CommonK{K: leafK}
	asHalf, err := meanUnits(law, mean, d, size.HalfWidth, confidence)
	if err != nil {
		return nil, err
	}
	asError, err := meanUnits(law, mean, d, size.StandardError, 0)
	return struct {
		P, HalfWidth, C, Z, Rho, Unrounded, UnroundedIndependent, ExactHalfWidth float64
		Mean, K, D, UnitsHalfWidth, UnitsError                                   float64
		Plants, Stops, ExactStops                                                int
	}{
		share, half, confidence, sampling.CriticalNormal(confidence), rho, clumped.UnroundedPlants, free.UnroundedPlants, clumped.Exact.ExpectedHalfWidth,
		mean, leafK, d, asHalf, asError, plants, clumped.Normal.Stops, clumped.Exact.Stops,
	}, err
}

func fixed() (any, error) {
	const habit = 4
	r := size.ClassifyRequest{Lower: lower, Upper: upper, NeedlessRisk: risk, MissedRisk: risk, PlantsPerStop: plants, Rho: rho}
	x, err := size.Classify(r)
	if err != nil {
		return nil, err
	}
	r.Rho = 0
	free, err := size.Classify(r)
	if err != nil {
		return nil, err
	}
	table := plans.SingleCut(plants, habit, threshold)
	return struct {
		Lower, Upper, Threshold, Risk, Rho, Needless, Missed, HabitNeedless, HabitMissed float64
		Plants, Stops, Total, Act, EveryFrom, StopsIndependent, HabitStops               int
	}{
		lower, upper, threshold, risk, rho, x.NeedlessRisk, x.MissedRisk,
		plans.Evaluate(table, sampling.Infested{P: lower, Rho: rho}).Act, plans.Evaluate(table, sampling.Infested{P: upper, Rho: rho}).Leave,
		plants, x.Stops, x.Plants, x.Cutoff + 1, x.EveryFrom, free.Stops, habit,
	}, nil
}

func allocation() (any, error) {
	stop := plans.DefaultStop
	r, err := size.Allocate(size.AllocateRequest{
		WalkMinutes: stop.WalkMinutes, PlantMinutes: stop.PlantMinutes, Rho: rho, Show: []int{plants},
		Classify: &size.ClassifyGoal{Lower: lower, Upper: upper, NeedlessRisk: risk, MissedRisk: risk},
	})
	if err != nil {
		return nil, err
	}
	other := r.Best
	for _, d := range r.Designs {
		if d.PlantsPerStop == plants {
			other = d
		}
	}
	return struct {
		Walk, Plant, Rho, Optimal, Lower, Upper, Risk, Minutes, OtherMinutes float64
		Stops, Plants, OtherStops, OtherPlants                               int
	}{
		stop.WalkMinutes, stop.PlantMinutes, rho, r.OptimalPlants, lower, upper, risk, r.Best.Minutes, other.Minutes,
		r.Best.Stops, r.Best.PlantsPerStop, other.Stops, other.PlantsPerStop,
	}, nil
}

func detection() (any, error) {
	const prevalence, confidence, stops = 0.05, 0.95, 4
	free, err := size.Detect(size.DetectRequest{Prevalence: prevalence, Confidence: confidence, PlantsPerStop: 1})
	if err != nil {
		return nil, err
	}
	clumped, err := size.Detect(size.DetectRequest{Prevalence: prevalence, Confidence: confidence, PlantsPerStop: plants, Rho: rho})
	if err != nil {
		return nil, err
	}
	none, err := size.NoneFound(size.NoneFoundRequest{Stops: stops * plants, PlantsPerStop: 1, Confidence: confidence})
	if err != nil {
		return nil, err
	}
	noneClumped, err := size.NoneFound(size.NoneFoundRequest{Stops: stops, PlantsPerStop: plants, Rho: rho, Confidence: confidence})
	return struct {
		P, C, Rho, None, Upper, UpperClumped                   float64
		Plants, PerStop, Stops, ClumpedPlants, Seen, SeenStops int
	}{
		prevalence, confidence, rho, clumped.NonePerStop, none.Upper, noneClumped.Upper,
		free.Plants, plants, clumped.Stops, clumped.Plants, none.Plants, stops,
	}, err
}

func simulation() (any, error) {
	const stops, scouts, seed = 4, 10_000, 1
	s, err := validate.ManyScouts(context.Background(), validate.FixedVisit{Stops: stops, Plants: plants, Threshold: threshold},
		sampling.Infested{P: lower, Rho: rho}, validate.Options{Visits: scouts, Seed: seed})
	return struct {
		Scouts, Stops, Plants, Seed             int
		P, Rho, Threshold, Simulated, SE, Exact float64
	}{scouts, stops, plants, seed, lower, rho, threshold, s.Wrong().Value, s.Wrong().SE(), s.WrongChance()}, err
}
