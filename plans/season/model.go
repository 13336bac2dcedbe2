package season

import (
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A field is a course with what is counted and priced in it.
type field struct {
	course Course
	share  float64 // of the fields
	world  int     // which of the families of fields
	weight float64 // of the minutes spent in it
	act    float64 // price of the verdict act
	early  float64 // of one while the level is at or below the lower bound
	late   float64 // price of a treatment that comes late
	// loss, if set, is the price of one that comes so many days after the upper bound.
	loss func(days float64) float64
}

// A model is a level at which a table is used, with what its verdicts cost from
// there on, all weighted by how often that is.
type model struct {
	stop  *stopTotals
	walk  float64                // of another stop
	act   float64                // of the verdict act, where the sign allows it
	met   func(stop int) float64 // the chance that it does; nil without a sign
	leave []float64              // of leave, by the class of a field in which nothing was found before
}

// stopTotals is the distribution of the total of one stop.
type stopTotals struct{ probs, tails []float64 }

// allowed returns the chance that the sign allows the verdict act at a stop.
func (m *model) allowed(stop int) float64 {
	if m.met == nil {
		return 1
	}
	return m.met(stop)
}

// modelKey names models that can be added up.
type modelKey struct {
	world int
	level float64
}

// costs returns the expected cost of a field from a visit on, by day and class.
func (c *Chain) costs(f field, d Delay, lateDays float64) [][]float64 {
	s := c.season
	v := make([][]float64, s.LastDay+1)
	for day := s.LastDay; day >= 0; day-- {
		i, began := s.stage(day)
		st := s.Stages[i]
		level := s.level(f.course, day)
		v[day] = make([]float64, len(st.Classes))
		for k := range v[day] {
			x := c.visits[i][k].at(level)
			sum := f.weight*st.Effort.Minutes(1, x.stops, x.units) + x.act*f.acted(d, day, lateDays, level <= st.Lower)
			for _, m := range c.moves(i, k, day-began, level, x) {
				sum += m.chance * f.onwards(v, d, day+m.days, m.class)
			}
			v[day][k] = sum
		}
	}
	return v
}

// acted returns the cost of the verdict act on a day; low says that the level is then at
// or below the lower bound.
func (f field) acted(d Delay, day int, lateDays float64, low bool) float64 {
	cost := f.act
	if low {
		cost += f.early
	}
	if f.late > 0 && !d.unreached() && d.late(day, lateDays) {
		cost += f.late
	}
	if f.loss != nil && !d.unreached() {
		cost += f.loss(d.after(day))
	}
	return cost
}

// onwards returns the cost from a next visit on, or of having none.
func (f field) onwards(v [][]float64, d Delay, day, class int) float64 {
	switch {
	case day < len(v):
		return v[day][class]
	case d.unreached():
		return 0
	case f.loss != nil:
		return f.loss(d.after(len(v)))
	}
	return f.late
}

// used is the chance of a visit below which it does not count for a table.
const used = 1e-9

// addModels adds to models, by the table of each stage and class, what the visits of
// a field with that table meet and what follows from their verdicts.
func (c *Chain) addModels(f field, lateDays float64, tables [][]int, models []map[modelKey]*model, totals []*totals) {
	s := c.season
	p, at := c.follow(f.course, s.firstDays())
	d := p.AfterUpper
	v := c.costs(f, d, lateDays)
	for day, byClass := range at {
		i, _ := s.stage(day)
		st := s.Stages[i]
		level := s.level(f.course, day)
		for k, chance := range byClass {
			if chance < used {
				continue
			}
			t := tables[i][k]
			key := modelKey{f.world, level}
			m := models[t][key]
			if m == nil {
				units := st.Classes[k].Table.Units
				m = &model{leave: make([]float64, len(st.Classes)), stop: totals[i].of(f.world, units, level, st.field)}
				if st.Sign != nil {
					m.met = st.Sign(level)
				}
				models[t][key] = m
			}
			m.walk += chance * f.weight * st.Effort.Minutes(0, 1, rule.Examined(st.field(level), st.Classes[k].Table.Units))
			m.act += chance * f.acted(d, day, lateDays, level <= st.Lower)
			for b := range m.leave {
				to := b
				if k > 0 {
					to = max(1, b)
				}
				m.leave[b] += chance * f.onwards(v, d, day+st.Classes[to].Interval, to)
			}
		}
	}
}

// totals keeps the distributions of a stop that a search meets again and again.
type totals struct {
	top   int
	known map[totalsKey]*stopTotals
}

type totalsKey struct {
	world, units int
	level        float64
}

func (t *totals) of(world, units int, level float64, field func(float64) sampling.Population) *stopTotals {
	key := totalsKey{world, units, level}
	x, ok := t.known[key]
	if !ok {
		stop := field(level).Stop(units)
		n := t.top
		if top := stop.Max(); top != sampling.Unbounded {
			n = min(n, top)
		}
		x = &stopTotals{stop.Probs(n), append(stop.Tails(n), 0)}
		t.known[key] = x
	}
	return x
}
