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

func lines() (any, error) {
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
	return struct {
		Lower, Upper, Risk, Rho, Slope, Gap, NeedlessIndependent, MissedIndependent, Needless, Missed float64
		LowerMean, UpperMean, K, CountSlope, CountGap                                                 float64
		Plants, Total, Leave, Act, Minimum, Maximum                                                   int
	}{
		lower, upper, risk, rho, pair.Slope, pair.LeaveGap, at(lower, 0).Act, at(upper, 0).Leave, at(lower, rho).Act, at(upper, rho).Leave,
		lowerMean, upperMean, leafK, counted.Slope, counted.LeaveGap,
		plants, stops * plants, pair.LeaveAt(stops * plants), pair.ActAt(stops * plants), minimum, maximum,
	}, nil
}

// A point is what the textbook lines of the example do at one level.
type point struct {
	P, Leave, LeaveClumped, Stops, PlantsSeen float64
	Within                                    int
}

type curve struct {
	Lower, Upper, Risk, Rho  float64
	Plants, Minimum, Maximum int
	Points                   []point
}

func oc() (any, error) { return curves() }

func asn() (any, error) { return curves() }

func curves() (curve, error) {
	c := curve{Lower: lower, Upper: upper, Risk: risk, Rho: rho, Plants: plants, Minimum: minimum, Maximum: maximum}
	pair, err := plans.BinomialLines(lower, upper, risk, risk)
	if err != nil {
		return c, err
	}
	table := pair.Table(plants, minimum, maximum, true)
	for _, p := range []float64{0.05, lower, threshold, upper, 0.4} {
		free, clumped := plans.Evaluate(table, sampling.Infested{P: p}), plans.Evaluate(table, sampling.Infested{P: p, Rho: rho})
		c.Points = append(c.Points, point{p, free.Leave, clumped.Leave, clumped.ExpectedStops, clumped.ExpectedUnits, clumped.StopsWithin(0.9)})
	}
	return c, nil
}

func riskTrue() (any, error) {
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
	return struct {
		Lower, Upper, Risk, Rho, Stops, Needless, Missed, LinesStops, TextbookStops, TextbookNeedless, TextbookMissed float64
		Plants, Minimum, Maximum, FixedStops                                                                          int
	}{
		lower, upper, risk, rho, best.Weighted, best.WorstNeedless().Needless, best.WorstMissed().Missed, straight.Weighted,
		textbook.Weighted, textbook.WorstNeedless().Needless, textbook.WorstMissed().Missed, plants, minimum, maximum, single.Table.Stops(),
	}, nil
}

func comingBack() (any, error) {
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
	return struct {
		Counts                                                          []int
		Stops, Plants, Days                                             int
		OneDay                                                          bool
		Rho, Level, C, Daily, R, Threshold, Reach, Lead, Left, Interval float64
	}{
		seen, len(seen), plants, r.Days, r.Days == 1,
		rho, r.Level, r.Confidence, math.Expm1(r.Growth), r.Growth, r.Threshold, r.Reach, r.Lead, r.Reach - r.Lead, r.Interval,
	}, nil
}

func overSeason() (any, error) {
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
	return struct {
		Days                                                                    int
		One, Lower, Until, Once, Visits, Season, Start, R, Upper, Upper0, After float64
	}{
		days, s.NeedlessIn(s.Clumped(lower).Population()), lower, back.DaysUntilFound, back.DaysOnceFound, stay.Visits, stay.Early,
		start, growth, upper, grow.AfterUpper.Day, grow.AfterUpper.Expected(),
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

func costs() (any, error) {
	p := problem()
	k := plans.Costs{Currency: "tokens", CropPerHa: 900, TreatmentPerHa: 30, ScoutPerHour: 20, FieldHa: 40}
	p.Costs = &k
	p.Stages[0].LateLoss = 0.25
	s, err := textbook(p)
	if err != nil {
		return nil, err
	}
	low, high := s.LossAt(lower), s.LossAt(upper)
	return struct{ Ha, Crop, Late, Treatment, Scout, NeedlessCost, MissedCost, Lower, Upper, Risk, Rho, AtLower, AtUpper, Scouting, Mean float64 }{
		k.FieldHa, k.CropPerHa, s.LateLoss, k.TreatmentPerHa, k.ScoutPerHour, k.NeedlessCost(), k.MissedCost(s.Stage),
		lower, upper, risk, rho, low.Total(), high.Total(), high.Scouting, s.ExpectedLoss().Total(),
	}, nil
}

func bound() (any, error) {
	s, err := designed(plans.RiskTrue, true)
	if err != nil {
		return nil, err
	}
	return struct {
		Lower, Upper, Risk, Rho, Bound, Stops, Above float64
		Plants, Minimum, Maximum                     int
	}{lower, upper, risk, rho, s.NoPlanBelow, s.Weighted, s.Weighted/s.NoPlanBelow - 1, plants, minimum, maximum}, nil
}
