package season

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"stopwise/plans/internal/parallel"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Region is many fields that are scouted in the same way. The drive to a field stands
// in the visit's effort.
type Region struct {
	Fields int
	Mix    Mix
	Growth Growth // growing fields grow by the middle of Low and High
	// HoursPerDay and DaysPerWeek are what one scout works.
	HoursPerDay, DaysPerWeek float64
	HourCost                 float64 // of a scout, in any currency
	Seasons                  int     // simulated
	Seed                     uint64
}

// A Week is the work of a region in seven days; the last week may be shorter.
type Week struct {
	Visits float64 `json:"visits"` // this and what follows expected, exact
	Hours  float64 `json:"hours"`
	Scouts float64 `json:"scouts"`
	Cost   float64 `json:"cost"`
	// HighHours are enough in nine seasons of ten, by simulation; HighError is their
	// standard error, and HighScouts the scouts that these hours need.
	HighHours  float64 `json:"hours_nine_of_ten"`
	HighError  float64 `json:"hours_nine_of_ten_se"`
	HighScouts float64 `json:"scouts_nine_of_ten"`
}

// FewestSeasons are the fewest that can be simulated.
const FewestSeasons = 50

// busy is the share of seasons in which a week's high hours are enough.
const busy = 0.9

// Check returns an error if the region does not hold together.
func (r Region) Check() error {
	m := r.Mix
	switch {
	case r.Fields < 1 || r.Fields > 1000000:
		return sampling.Refuse("fields", r.Fields, "1 to 1000000")
	case !(m.Clean >= 0 && m.Staying >= 0 && m.Growing >= 0) || math.Abs(m.Clean+m.Staying+m.Growing-1) > 1e-3:
		return sampling.Refusef("the mix is %g clean, %g staying and %g growing; they must sum to 1", m.Clean, m.Staying, m.Growing)
	case !(r.HoursPerDay > 0 && r.HoursPerDay <= 24 && r.DaysPerWeek > 0 && r.DaysPerWeek <= 7):
		return sampling.Refusef("a scout works above 0 and at most 24 hours a day, on at most 7 days a week")
	case !(r.HourCost >= 0):
		return sampling.Refusef("the cost of a scout's hour must be at least 0")
	case r.Seasons < FewestSeasons:
		return sampling.Refuse("simulated seasons", r.Seasons, fmt.Sprintf("at least %d", FewestSeasons))
	}
	return nil
}

// courses returns the courses of the mix with the share of the fields.
func (r Region) courses() ([]Course, []float64) {
	return []Course{{}, {Start: r.Mix.StayingLevel}, {Start: r.Growth.Start, Growth: (r.Growth.Low + r.Growth.High) / 2}},
		[]float64{r.Mix.Clean, r.Mix.Staying, r.Mix.Growing}
}

// Weeks returns the work of a region by week: expected by the exact chain, and in nine
// seasons of ten by simulated seasons in which every field draws what it is, its first
// visit and what its visits see. What all fields of a season share, such as a bad year,
// is not in it.
func (r Region) Weeks(ctx context.Context, c *Chain) ([]Week, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	s := c.season
	courses, shares := r.courses()
	weeks := make([]Week, s.LastDay/7+1)
	paths := make([]*draws, len(courses))
	for i, course := range courses {
		if err := course.check(s.Means); err != nil {
			return nil, err
		}
		if shares[i] == 0 {
			continue
		}
		p, _ := c.follow(course, s.firstDays())
		for d, x := range p.Days {
			w := &weeks[d/7]
			w.Visits += float64(r.Fields) * shares[i] * x.Visits
			w.Hours += float64(r.Fields) * shares[i] * x.Minutes / 60
		}
		paths[i] = c.draws(course)
	}
	hours := make([][]float64, len(weeks)) // by week and season
	for w := range hours {
		hours[w] = make([]float64, r.Seasons)
	}
	parallel.Each(r.Seasons, func(n int) {
		if ctx.Err() != nil {
			return
		}
		rng := rand.New(rand.NewPCG(r.Seed, uint64(n)))
		for range r.Fields {
			i, x := 0, rng.Float64()
			for ; i+1 < len(shares) && x >= shares[i]; i++ {
				x -= shares[i]
			}
			for paths[i] == nil { // the shares' sum is rounded
				i--
			}
			paths[i].walk(rng, func(day int, minutes float64, _ rule.End) { hours[day/7][n] += minutes / 60 })
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for w := range weeks {
		weeks[w].HighHours, weeks[w].HighError = high(hours[w])
		weeks[w].Scouts = weeks[w].Hours / (r.HoursPerDay * r.DaysPerWeek)
		weeks[w].HighScouts = weeks[w].HighHours / (r.HoursPerDay * r.DaysPerWeek)
		weeks[w].Cost = weeks[w].Hours * r.HourCost
	}
	return weeks, nil
}

// high returns the hours that suffice in nine seasons of ten, and their standard error
// from the order statistics one standard error of the share on either side.
func high(hours []float64) (at, se float64) {
	slices.Sort(hours)
	n := float64(len(hours))
	order := func(x float64) float64 {
		return hours[int(math.Max(0, math.Min(n-1, math.Ceil(x)-1)))]
	}
	by := math.Sqrt(n * busy * (1 - busy))
	return order(n * busy), (order(n*busy+by) - order(n*busy-by)) / 2
}
