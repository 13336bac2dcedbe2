package season

import (
	"math/rand/v2"
	"sort"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Visited is a visit of a drawn season.
type Visited struct {
	Day  int
	Seen rule.End // where the walk ended, and with which verdict; its chance means nothing here
}

// Draw returns drawn seasons of fields of a course, one list of visits for each field,
// until the verdict act or the end. The same seed draws the same. It is for showing what
// a season is like: what is expected [Chain.Follow] knows exactly.
func (c *Chain) Draw(course Course, fields int, seed uint64) ([][]Visited, error) {
	if fields < 1 || fields > 1000000 {
		return nil, sampling.Refuse("fields", fields, "1 to 1000000")
	}
	if err := course.check(c.season.Means); err != nil {
		return nil, err
	}
	from := c.draws(course)
	out := make([][]Visited, fields)
	for n := range out {
		from.walk(rand.New(rand.NewPCG(seed, uint64(n))), func(day int, _ float64, end rule.End) {
			out[n] = append(out[n], Visited{day, end})
		})
	}
	return out, nil
}

// draws are the visits of a course, ready to be drawn from.
type draws struct {
	season Season
	visits [][]drawn // by day and class
}

// drawn is a visit with the ends in order, as the chance of it or an earlier one.
type drawn struct {
	upTo    []float64
	minutes []float64
	ends    []rule.End
	moves   []move // days 0 is the verdict act
}

func (c *Chain) draws(course Course) *draws {
	s := c.season
	out := &draws{season: s}
	for d := range s.LastDay + 1 {
		i, began := s.stage(d)
		st := s.Stages[i]
		var byClass []drawn
		for k := range st.Classes {
			v, sum := drawn{}, 0.0
			level := s.level(course, d)
			x := c.visits[i][k].at(level)
			c.visits[i][k].each(level, func(e rule.End) {
				sum += e.Chance
				to := move{}
				if e.Verdict != rule.Act {
					to = st.next(e, k, d-began)
				}
				v.upTo = append(v.upTo, sum)
				v.minutes = append(v.minutes, st.Effort.Minutes(1, float64(e.Stop), float64(e.Stop)*x.unitsPerStop()))
				v.ends = append(v.ends, e)
				v.moves = append(v.moves, to)
			})
			byClass = append(byClass, v)
		}
		out.visits = append(out.visits, byClass)
	}
	return out
}

// walk draws the visits of a field's season and calls seen with each.
func (w *draws) walk(rng *rand.Rand, seen func(day int, minutes float64, end rule.End)) {
	day := rng.IntN(len(w.season.firstDays()))
	class := 0
	for day <= w.season.LastDay {
		v := &w.visits[day][class]
		n := min(sort.SearchFloat64s(v.upTo, rng.Float64()), len(v.upTo)-1)
		seen(day, v.minutes[n], v.ends[n])
		if v.moves[n].days == 0 {
			return
		}
		day, class = day+v.moves[n].days, v.moves[n].class
	}
}
