package explain

import (
	"context"
	"math"

	"stopwise/plans"
	"stopwise/plans/season"
	"stopwise/sampling"
)

// problem is the example as a protocol.
func problem() plans.Protocol {
	clump := plans.Range{Low: rho, High: rho}
	s := plans.Stage{Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.DefaultStop, Clumping: plans.Clumping{Rho: &clump},
		Measure: plans.ShareInfested, Lower: lower, Threshold: threshold, Upper: upper, NeedlessRisk: risk, MissedRisk: risk}
	s.Stop.Plants, s.Stop.Minimum, s.Stop.Maximum = plants, minimum, maximum
	return plans.Protocol{Stages: []plans.Stage{s}}
}

func designed(m plans.Method, bound bool) (*plans.StagePlan, error) {
	p, err := plans.Design(context.Background(), problem(), plans.DesignOptions{Method: m, Bound: bound})
	if err != nil {
		return nil, err
	}
	return p.Stages[0], nil
}

func lines() (numbers, error) {
	const lowerMean, upperMean, stops = 20.0, 60.0, 8
	pair, err := plans.BinomialLines(lower, upper, risk, risk)
	if err != nil {
		return nil, err
	}
	counted, err := plans.CountLines(lowerMean, upperMean, leafK, risk, risk)
	if err != nil {
		return nil, err
	}
	table := pair.Table(plants, minimum, maximum, true)
	at := func(p, rho float64) plans.Evaluation { return plans.Evaluate(table, sampling.Infested{P: p, Rho: rho}) }
	return numbers{
		"Slope": pair.Slope, "Gap": pair.LeaveGap, "NeedlessIndependent": at(lower, 0).Act,
		"MissedIndependent": at(upper, 0).Leave, "Needless": at(lower, rho).Act, "Missed": at(upper, rho).Leave,
		"LowerMean": lowerMean, "UpperMean": upperMean, "K": leafK, "CountSlope": counted.Slope, "CountGap": counted.LeaveGap,
		"Total": stops * plants, "Leave": pair.LeaveAt(stops * plants), "Act": pair.ActAt(stops * plants),
	}, nil
}

// A point is what the textbook lines of the example do at one level.
type point struct {
	P, Leave, LeaveClumped, Stops, PlantsSeen float64
	Within                                    int
}

// curves are those of the textbook lines: how they decide, and after how many stops.
func curves() (numbers, error) {
	pair, err := plans.BinomialLines(lower, upper, risk, risk)
	if err != nil {
		return nil, err
	}
	var points []point
	table := pair.Table(plants, minimum, maximum, true)
	for _, p := range []float64{0.05, lower, threshold, upper, 0.4} {
		free, clumped := plans.Evaluate(table, sampling.Infested{P: p}), plans.Evaluate(table, sampling.Infested{P: p, Rho: rho})
		points = append(points, point{p, free.Leave, clumped.Leave, clumped.ExpectedStops, clumped.ExpectedUnits, clumped.StopsWithin(0.9)})
	}
	return numbers{"Points": points}, nil
}

func riskTrue() (numbers, error) {
	best, err := designed(plans.RiskTrue, false)
	if err != nil {
		return nil, err
	}
	straight, err := designed(plans.RiskTrueLines, false)
	if err != nil {
		return nil, err
	}
	single, err := designed(plans.Fixed, false)
	if err != nil {
		return nil, err
	}
	textbook, err := designed(plans.Lines, false)
	if err != nil {
		return nil, err
	}
	return numbers{
		"Stops": best.Weighted, "Needless": best.WorstNeedless().Needless, "Missed": best.WorstMissed().Missed,
		"LinesStops": straight.Weighted, "TextbookStops": textbook.Weighted,
		"TextbookNeedless": textbook.WorstNeedless().Needless, "TextbookMissed": textbook.WorstMissed().Missed,
		"FixedStops": single.Table.Stops(),
	}, nil
}

func comingBack() (numbers, error) {
	seen := []int{1, 2, 0, 1}
	p := problem()
	back := plans.DefaultComingBack
	p.Stages[0].ComingBack = &back
	s, err := textbook(p)
	if err != nil {
		return nil, err
	}
	var counts []plans.Count
	for _, x := range seen {
		counts = append(counts, plans.Count{Total: x})
	}
	r, err := s.Revisit(counts, plans.History{})
	if err != nil {
		return nil, err
	}
	return numbers{
		"Counts": seen, "Stops": len(seen), "Days": r.Days, "OneDay": r.Days == 1, "Level": r.Level, "C": r.Confidence,
		"Daily": math.Expm1(r.Growth), "R": r.Growth, "Threshold": r.Threshold, "Reach": r.Reach, "Lead": r.Lead,
		"Left": r.Reach - r.Lead, "Interval": r.Interval,
	}, nil
}

func overSeason() (numbers, error) {
	const days, long, start, growth = 49, 400, 0.005, 0.12
	p := problem()
	back := plans.DefaultComingBack
	back.GrowthPerDay = growth
	p.Stages[0].ComingBack = &back
	s, err := textbook(p)
	if err != nil {
		return nil, err
	}
	follow := func(last int, c season.Course) (*season.Path, error) {
		over, err := plans.SeasonOf([]*plans.StagePlan{s}, plans.SeasonOptions{LastDay: last})
		if err != nil {
			return nil, err
		}
		chain, err := season.New(over)
		if err != nil {
			return nil, err
		}
		return chain.Follow(c)
	}
	stay, err := follow(days, season.Course{Start: lower})
	if err != nil {
		return nil, err
	}
	grow, err := follow(long, season.Course{Start: start, Growth: growth})
	if err != nil {
		return nil, err
	}
	return numbers{
		"Days": days, "One": s.NeedlessIn(s.Clumped(lower).Population()), "Until": back.DaysUntilFound,
		"Once": back.DaysOnceFound, "Visits": stay.Visits, "Season": stay.Early, "Start": start, "R": growth,
		"Upper0": grow.AfterUpper.Day, "After": grow.AfterUpper.Expected(),
	}, nil
}

// textbook returns the textbook lines of the example in a protocol.
func textbook(p plans.Protocol) (*plans.StagePlan, error) {
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{Method: plans.Lines})
	if err != nil {
		return nil, err
	}
	return plan.Stages[0], nil
}

func costs() (numbers, error) {
	p := problem()
	k := plans.Costs{Currency: "tokens", CropPerHa: 900, TreatmentPerHa: 30, ScoutPerHour: 20, FieldHa: 40}
	p.Costs = &k
	p.Stages[0].LateLoss = 0.25
	s, err := textbook(p)
	if err != nil {
		return nil, err
	}
	low, high := s.LossAt(lower), s.LossAt(upper)
	return numbers{
		"Ha": k.FieldHa, "Crop": k.CropPerHa, "Late": s.LateLoss, "Treatment": k.TreatmentPerHa, "Scout": k.ScoutPerHour,
		"NeedlessCost": k.NeedlessCost(), "MissedCost": k.MissedCost(s.Stage), "AtLower": low.Total(), "AtUpper": high.Total(),
		"Scouting": high.Scouting, "Mean": s.ExpectedLoss().Total(), "PriorA": s.Prior().A, "PriorB": s.Prior().B,
	}, nil
}

func bound() (numbers, error) {
	s, err := designed(plans.RiskTrue, true)
	if err != nil {
		return nil, err
	}
	return numbers{"Bound": s.NoPlanBelow, "Stops": s.Weighted, "Above": s.Weighted/s.NoPlanBelow - 1}, nil
}
