package explain

import (
	"context"

	"stopwise/plans"
	"stopwise/sampling"
	"stopwise/sampling/size"
	"stopwise/validate"
)

func intervals() (numbers, error) {
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
	x := numbers{
		"Counts": seen, "Stops": len(seen), "Infested": infested, "Total": total, "P": float64(infested) / float64(total),
		"C": confidence, "At": lower, "Ignored": covered(0), "CountedIn": covered(rho), "Wilson": of(sampling.MethodWilson),
		"ClopperPearson": of(sampling.MethodClopperPearson), "AgrestiCoull": of(sampling.MethodAgrestiCoull),
		"Wald":    of(sampling.MethodWald),
		"Clumped": keep(sampling.ClumpedProportion(sampling.MethodWilson, seen, all, rho, confidence)),
		"Between": keep(sampling.BetweenStops(seen, all, confidence)),
	}
	return x, failed
}

func sampleSize() (numbers, error) {
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
	return numbers{
		"P": share, "HalfWidth": half, "C": confidence, "Z": sampling.CriticalNormal(confidence),
		"Unrounded": clumped.UnroundedPlants, "UnroundedIndependent": free.UnroundedPlants,
		"ExactHalfWidth": clumped.Exact.ExpectedHalfWidth, "Mean": mean, "K": leafK, "D": d, "UnitsHalfWidth": asHalf,
		"UnitsError": asError, "Stops": clumped.Normal.Stops, "ExactStops": clumped.Exact.Stops,
	}, err
}

func fixed() (numbers, error) {
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
	return numbers{
		"Needless": x.NeedlessRisk, "Missed": x.MissedRisk,
		"HabitNeedless": plans.Evaluate(table, sampling.Infested{P: lower, Rho: rho}).Act,
		"HabitMissed":   plans.Evaluate(table, sampling.Infested{P: upper, Rho: rho}).Leave, "Stops": x.Stops, "Total": x.Plants,
		"Act": x.Cutoff + 1, "EveryFrom": x.EveryFrom, "StopsIndependent": free.Stops, "HabitStops": habit,
	}, nil
}

func allocation() (numbers, error) {
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
	return numbers{
		"Walk": stop.WalkMinutes, "Plant": stop.PlantMinutes, "Optimal": r.OptimalPlants, "Minutes": r.Best.Minutes,
		"OtherMinutes": other.Minutes, "Stops": r.Best.Stops, "Plants": r.Best.PlantsPerStop, "OtherStops": other.Stops,
		"OtherPlants": other.PlantsPerStop,
	}, nil
}

func detection() (numbers, error) {
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
	return numbers{
		"P": prevalence, "C": confidence, "None": clumped.NonePerStop, "Upper": none.Upper, "UpperClumped": noneClumped.Upper,
		"Plants": free.Plants, "PerStop": plants, "Stops": clumped.Stops, "ClumpedPlants": clumped.Plants, "Seen": none.Plants,
		"SeenStops": stops,
	}, err
}

func simulation() (numbers, error) {
	const stops, scouts, seed = 4, 10_000, 1
	s, err := validate.ManyScouts(context.Background(), validate.FixedVisit{Stops: stops, Plants: plants, Threshold: threshold},
		sampling.Infested{P: lower, Rho: rho}, validate.Options{Visits: scouts, Seed: seed})
	return numbers{
		"Scouts": scouts, "Stops": stops, "Seed": seed, "P": lower, "Simulated": s.Wrong().Value, "SE": s.Wrong().SE(),
		"Exact": s.WrongChance(),
	}, err
}
