package size

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"stopwise/sampling"
)

// defaultMostPlants is how many plants per stop are looked at by default.
const defaultMostPlants = 100

// sameMinutes is the difference below which two times are taken as equal.
const sameMinutes = 1e-6

// A ClassifyGoal is a pair of bounds to tell apart, as in [ClassifyRequest].
type ClassifyGoal struct {
	Lower, Upper             float64
	NeedlessRisk, MissedRisk float64
}

// An EstimateGoal is a precision to reach, as in [ProportionRequest].
type EstimateGoal struct {
	Share      float64
	HalfWidth  float64
	Confidence float64
}

// An AllocateRequest asks how to split minutes between stops and plants.
type AllocateRequest struct {
	// WalkMinutes is the time to reach a stop, 0 or more; PlantMinutes the time
	// to examine a plant, above 0.
	WalkMinutes, PlantMinutes float64
	// Rho is the intraclass correlation, 0 <= Rho < 1.
	Rho float64
	// Classify or Estimate is what every design has to reach: one of them.
	Classify *ClassifyGoal
	Estimate *EstimateGoal
	// MinStops is the fewest stops of a design; 0 is 1.
	MinStops int
	// MaxPlantsPerStop is the most plants at a stop; 0 is 100.
	MaxPlantsPerStop int
	// Show are the plants per stop of the table; nil is a spread of them. The
	// best one and the neighbours of the textbook optimum are always there.
	Show []int
	// BudgetMinutes is the time of a visit, above 0, for which the best design is
	// wanted too; 0 is none.
	BudgetMinutes float64
}

// An Allocation is a design with its effort.
type Allocation struct {
	PlantsPerStop int
	Stops         int
	Plants        int
	Minutes       float64
	DesignEffect  float64
	// Act is the act number, and NeedlessRisk and MissedRisk the exact risks,
	// with a [ClassifyGoal]; otherwise 0.
	Act                      int
	NeedlessRisk, MissedRisk float64
	// HalfWidth is the exact expected half-width of the Wilson interval, with an
	// [EstimateGoal]; otherwise 0.
	HalfWidth float64
	// Meets reports whether the goal is reached.
	Meets bool
	// badness is how far the goal is missed: at most 1 where it is met.
	badness float64
}

// A RhoAllocation is what becomes of the answer if rho is something else.
type RhoAllocation struct {
	Rho     float64
	Assumed bool
	// OptimalPlants is the textbook optimum; +Inf at rho 0.
	OptimalPlants float64
	// Best is the best design for this rho, and Kept the design with the plants
	// per stop of the answer. Nil where none is within reach.
	Best, Kept *Allocation
}

// An AllocateResult answers an [AllocateRequest].
type AllocateResult struct {
	Request AllocateRequest
	// OptimalPlants is the textbook optimum sqrt((walk/plant) (1-rho)/rho), not
	// rounded; +Inf at rho 0, and 0 where walking takes no time.
	OptimalPlants float64
	// Best is the design that reaches the goal in the fewest minutes, looking at
	// every number of plants per stop.
	Best Allocation
	// Designs reach the same goal with other plants per stop.
	Designs []Allocation
	// Budget is the table of designs that fit BudgetMinutes, and BudgetBest the
	// one that comes closest to the goal or goes furthest beyond it; nil without
	// a budget.
	Budget      []Allocation
	BudgetBest  *Allocation
	Sensitivity []RhoAllocation
}

// Allocate returns the plants per stop that reach a goal in the fewest minutes.
//
// The textbook optimum minimises the variance for given minutes,
//
//	m = sqrt((WalkMinutes/PlantMinutes) (1-rho)/rho)
//
// Since stops, plants and act numbers are whole, every number of plants per stop
// is then worked out exactly.
//
// Cochran, W.G. (1977) Sampling Techniques, 3rd ed., 10.6.
func Allocate(r AllocateRequest) (AllocateResult, error) {
	if r.MinStops == 0 {
		r.MinStops = 1
	}
	if r.MaxPlantsPerStop == 0 {
		r.MaxPlantsPerStop = defaultMostPlants
	}
	if err := r.check(); err != nil {
		return AllocateResult{}, err
	}
	res := AllocateResult{Request: r, OptimalPlants: r.optimal()}
	best, designs, err := r.designs()
	if err != nil {
		return res, err
	}
	if best == nil {
		return res, r.outOfReach()
	}
	res.Best, res.Designs = *best, designs
	if r.BudgetMinutes > 0 {
		if err := r.budget(&res); err != nil {
			return res, err
		}
	}
	res.Sensitivity, err = r.sensitivity(res.Best.PlantsPerStop)
	return res, err
}

func (r AllocateRequest) check() error {
	switch {
	case !(r.WalkMinutes >= 0) || math.IsInf(r.WalkMinutes, 1):
		return sampling.Refusef("%g minutes to walk to a stop, must be 0 or more", r.WalkMinutes)
	case !(r.PlantMinutes > 0) || math.IsInf(r.PlantMinutes, 1):
		return sampling.Refusef("%g minutes per plant, must be above 0", r.PlantMinutes)
	case !(r.BudgetMinutes >= 0) || math.IsInf(r.BudgetMinutes, 1):
		return sampling.Refusef("%g minutes for the visit, must be above 0", r.BudgetMinutes)
	case r.MaxPlantsPerStop < 1 || r.MaxPlantsPerStop > MostAtStop:
		return sampling.Refusef("at most %d plants per stop, must be from 1 to %d", r.MaxPlantsPerStop, MostAtStop)
	case r.Classify == nil && r.Estimate == nil:
		return sampling.Refusef("nothing to reach, must be a lower and an upper bound with their risks, or a share with its half-width")
	case r.Classify != nil && r.Estimate != nil:
		return sampling.Refusef("both bounds to tell apart and a half-width, must be one of them")
	}
	for _, m := range r.Show {
		if m < 1 || m > r.MaxPlantsPerStop {
			return sampling.Refuse("plants per stop", m, fmt.Sprintf("from 1 to %d", r.MaxPlantsPerStop))
		}
	}
	if err := cmp.Or(checkRho(r.Rho), checkStops(r.MinStops, r.MaxPlantsPerStop)); err != nil {
		return err
	}
	if r.Classify != nil {
		return r.classify(1).check()
	}
	return r.estimate(1).check()
}

func (r AllocateRequest) optimal() float64 {
	if r.WalkMinutes == 0 {
		return 0 // without a walk, stops of one plant are best
	}
	return math.Sqrt(r.WalkMinutes / r.PlantMinutes * (1 - r.Rho) / r.Rho)
}

func (r AllocateRequest) minutes(stops, m int) float64 {
	return float64(stops) * (r.WalkMinutes + float64(m)*r.PlantMinutes)
}

func (r AllocateRequest) classify(m int) ClassifyRequest {
	g := *r.Classify
	return ClassifyRequest{
		Lower: g.Lower, Upper: g.Upper, NeedlessRisk: g.NeedlessRisk, MissedRisk: g.MissedRisk,
		PlantsPerStop: m, Rho: r.Rho, MinStops: r.MinStops,
	}
}

func (r AllocateRequest) estimate(m int) ProportionRequest {
	g := *r.Estimate
	return ProportionRequest{Share: g.Share, HalfWidth: g.HalfWidth, Confidence: g.Confidence, PlantsPerStop: m, Rho: r.Rho}
}

// shown returns the plants per stop of the table, without the best one.
func (r AllocateRequest) shown() []int {
	show := slices.Clone(r.Show)
	if show == nil {
		show = []int{1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100}
	}
	if opt := r.optimal(); opt <= float64(r.MaxPlantsPerStop) {
		show = append(show, int(math.Floor(opt)), int(math.Ceil(opt)))
	}
	show = slices.DeleteFunc(show, func(m int) bool { return m < 1 || m > r.MaxPlantsPerStop })
	slices.Sort(show)
	return slices.Compact(show)
}

func (r AllocateRequest) sensitivity(kept int) ([]RhoAllocation, error) {
	var out []RhoAllocation
	for _, rho := range rhosAround(r.Rho, r.MaxPlantsPerStop) {
		q := r
		q.Rho = rho
		q.Show = []int{kept}
		row := RhoAllocation{Rho: rho, Assumed: rho == r.Rho, OptimalPlants: q.optimal()}
		best, table, err := q.designs()
		if err != nil {
			return nil, err
		}
		row.Best = best
		for i := range table {
			if table[i].PlantsPerStop == kept {
				row.Kept = &table[i]
			}
		}
		out = append(out, row)
	}
	return out, nil
}
