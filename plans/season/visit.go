package season

import (
	"slices"
	"sync"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A visit is what one visit with a table does at a level.
type visit struct {
	act, stops, units float64
	left              []rule.End // those that leave the field
}

// A move is where a visit that ends with leave takes a field.
type move struct {
	class, days int
	chance      float64
}

// visits holds the visits of one table in one family of fields, by level: they are
// the same for all chains that use the table.
type visits struct {
	table rule.Table
	field func(level float64) sampling.Population // what stops count there
	sign  func(level float64) func(stop int) float64

	mu      sync.Mutex
	byLevel map[float64]*visit
	most    int // ends that were kept of one
}

func newVisits(t rule.Table, st Stage) *visits {
	return &visits{table: t, field: st.field, sign: st.Sign, byLevel: map[float64]*visit{}}
}

func (v *visits) at(level float64) *visit {
	v.mu.Lock()
	defer v.mu.Unlock()
	if x, ok := v.byLevel[level]; ok {
		return x
	}
	x := v.compute(level)
	v.byLevel[level] = x
	return x
}

func (v *visits) compute(level float64) *visit {
	x := &visit{left: make([]rule.End, 0, v.most)}
	v.each(level, func(e rule.End) {
		x.stops += e.Chance * float64(e.Stop)
		if e.Verdict == rule.Act {
			x.act += e.Chance
		} else {
			x.left = append(x.left, e)
		}
	})
	v.most = max(v.most, len(x.left))
	x.units = x.stops * rule.Examined(v.field(level), v.table.Units)
	return x
}

// each tells the ends of a visit, whose further sign must allow the verdict act: where it
// does not, the field is left.
func (v *visits) each(level float64, tell func(rule.End)) {
	var met func(stop int) float64
	if v.sign != nil {
		met = v.sign(level)
	}
	top := v.table.Act[v.table.Stops()-1]
	rule.EachEnd(v.table.Steps(), capped{v.field(level), top}, func(e rule.End) {
		if met != nil && e.Verdict == rule.Act {
			left := e
			left.Verdict, left.Chance = rule.Leave, e.Chance*(1-met(e.Stop))
			e.Chance -= left.Chance
			if left.Chance > 0 {
				tell(left)
			}
		}
		tell(e)
	})
}

// unitsPerStop returns the units looked at at a stop, on average.
func (x *visit) unitsPerStop() float64 { return x.units / x.stops }

// moves returns where the visit takes a field of class from.
func (x *visit) moves(st Stage, from, inStage int) []move {
	var ms []move
	for _, e := range x.left {
		to := st.next(e, from, inStage)
		i := slices.IndexFunc(ms, func(m move) bool { return m.class == to.class && m.days == to.days })
		if i < 0 {
			i, ms = len(ms), append(ms, to)
		}
		ms[i].chance += e.Chance
	}
	return ms
}

// next returns where a visit to a field of class from that ends with leave takes it.
func (st Stage) next(e rule.End, from, inStage int) move {
	to := st.class(from > 0, e.Stop, e.Units, e.Total)
	days := st.Classes[to].Interval
	if limit := st.Classes[from].Limit; limit != nil {
		days = max(1, min(days, limit(e, inStage)))
	}
	return move{class: to, days: days}
}

// negligible is the chance of still being visited below which a chain ends.
const negligible = 1e-16
