package size

import (
	"cmp"
	"math"
	"slices"

	"stopwise/sampling"
)

// designs returns the design of the fewest minutes among all plants per stop, and
// the table. The best is nil where no design is within reach.
func (r AllocateRequest) designs() (best *Allocation, table []Allocation, err error) {
	shown := r.shown()
	for _, m := range shown {
		a, err := r.least(m, math.Inf(1))
		if err != nil {
			return nil, nil, err
		}
		if a != nil {
			table = append(table, *a)
			best = better(best, a)
		}
	}
	for m := 1; m <= r.MaxPlantsPerStop; m++ {
		if slices.Contains(shown, m) {
			continue
		}
		most := math.Inf(1)
		if best != nil {
			most = best.Minutes + sameMinutes
		}
		a, err := r.least(m, most)
		if err != nil {
			return nil, nil, err
		}
		best = better(best, a)
	}
	if best != nil && !slices.Contains(shown, best.PlantsPerStop) {
		table = append(table, *best)
		slices.SortFunc(table, func(a, b Allocation) int { return a.PlantsPerStop - b.PlantsPerStop })
	}
	return best, table, nil
}

// better returns the design of fewer minutes, and at equal minutes the one with
// more stops, which sees more of the field.
func better(a, b *Allocation) *Allocation {
	if a == nil || b == nil {
		return cmp.Or(a, b)
	}
	ma, mb := math.Round(a.Minutes/sameMinutes), math.Round(b.Minutes/sameMinutes)
	if mb < ma || mb == ma && b.Stops > a.Stops {
		return b
	}
	return a
}

// least returns the fewest stops of m plants that reach the goal within the given
// minutes, or nil.
func (r AllocateRequest) least(m int, minutes float64) (*Allocation, error) {
	limit := MaxPlants / m
	if most := minutes * (1 + tie) / r.minutes(1, m); most < float64(limit) {
		limit = int(most)
	}
	if limit < r.MinStops {
		return nil, nil
	}
	if r.Classify != nil {
		d, ok := r.classify(m).fewest(limit)
		if !ok {
			return nil, nil
		}
		return r.allocation(m, d.Stops)
	}
	q := r.estimate(m)
	rough := q.unrounded()
	if rough > 2*MaxPlants {
		return nil, nil // far out of reach: do not spend the time
	}
	stops := fewest(wholeStops(rough, m), limit, func(stops int) bool {
		h, _, err := q.expected(stops)
		return err == nil && h <= q.HalfWidth*(1+tie)
	})
	if stops == 0 {
		return nil, nil
	}
	return r.allocation(m, max(stops, r.MinStops))
}

// allocation returns what a number of stops reaches.
func (r AllocateRequest) allocation(m, stops int) (*Allocation, error) {
	a := &Allocation{
		PlantsPerStop: m,
		Stops:         stops,
		Plants:        m * stops,
		Minutes:       r.minutes(stops, m),
		DesignEffect:  sampling.DesignEffect(m, r.Rho),
	}
	if r.Classify != nil {
		s := r.classify(m).at(stops)
		d := s.design()
		a.Act, a.NeedlessRisk, a.MissedRisk = d.Cutoff+1, d.NeedlessRisk, d.MissedRisk
		_, a.badness = s.balanced()
	} else {
		var err error
		if a.HalfWidth, _, err = r.estimate(m).expected(stops); err != nil {
			return nil, err
		}
		a.badness = a.HalfWidth / r.Estimate.HalfWidth
	}
	a.Meets = a.badness <= 1+tie
	return a, nil
}

// budget fills the designs that use up the minutes of the visit.
func (r AllocateRequest) budget(res *AllocateResult) error {
	shown := r.shown()
	for m := 1; m <= r.MaxPlantsPerStop; m++ {
		stops := math.Floor(r.BudgetMinutes / r.minutes(1, m) * (1 + tie))
		if stops < float64(r.MinStops) || stops*float64(m) > MaxPlants {
			continue
		}
		a, err := r.allocation(m, int(stops))
		if err != nil {
			return err
		}
		if b := res.BudgetBest; b == nil || a.badness < b.badness*(1-tie) {
			res.BudgetBest = a
		}
		if slices.Contains(shown, m) {
			res.Budget = append(res.Budget, *a)
		}
	}
	best := res.BudgetBest
	if best == nil {
		return &OutOfReachError{Budget: r.BudgetMinutes, Least: r.minutes(r.MinStops, 1), Stops: r.MinStops, Plants: 1, Rho: r.Rho}
	}
	if !slices.Contains(shown, best.PlantsPerStop) {
		res.Budget = append(res.Budget, *best)
		slices.SortFunc(res.Budget, func(a, b Allocation) int { return a.PlantsPerStop - b.PlantsPerStop })
	}
	return nil
}

func (r AllocateRequest) outOfReach() error {
	return &OutOfReachError{Classify: r.Classify, Estimate: r.Estimate, Stops: MaxPlants, Plants: 1, Rho: r.Rho}
}
