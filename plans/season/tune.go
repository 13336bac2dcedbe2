package season

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A schedule is when fields are visited, and what separates their classes.
type schedule struct {
	intervals [3]int
	cut       float64
	minimum   int // stops before the first verdict, where a stage's own minimum is less
}

// prices are what a broken promise costs, in minutes.
type prices struct{ needless, late float64 }

// A state is where the tuning of a schedule stands.
type state struct {
	tables []rule.Table // stage by stage
	prices prices
	// What the tables do in the worlds taken as the worst.
	// least is what is to be made least: the minutes, or the loss.
	least, needless, late float64
}

// stage returns a stage as it is in a world.
func (p Problem) stage(world, i int) Stage {
	st := p.Season.Stages[i]
	st.Family = p.Worlds[world][i]
	return st
}

// field returns what stops count in the fields of a world in a stage.
func (p Problem) field(world, i int) func(level float64) sampling.Population {
	return p.stage(world, i).field
}

// cut returns a cut between the classes, about what a visit to a field at a part of the
// first stage's lower bound shows.
func (p Problem) cut(part float64) float64 {
	st := p.Season.Stages[0]
	if st.Worth.Plain() {
		return tidy(part * st.Lower)
	}
	return tidy(p.field(len(p.Worlds)-1, 0)(part * st.Lower).Stop(p.Walks[0].Units).Mean())
}

// layout returns the season of a schedule with tables, in a world.
func (p Problem) layout(at schedule, tables []rule.Table, world int) Season {
	s := p.Season
	s.Stages = slices.Clone(s.Stages)
	for i := range s.Stages {
		s.Stages[i] = p.stage(world, i)
		st := &s.Stages[i]
		st.Classes, st.Cuts = nil, nil
		for k := range p.Classes {
			st.Classes = append(st.Classes, Class{Table: tables[p.tableOf(i, k)], Interval: max(1, at.intervals[k])})
		}
		if p.Classes == 3 {
			st.Cuts = []float64{at.cut}
			if at.cut == 0 {
				st.Cuts[0] = st.Lower
			}
		}
	}
	return s
}

// A tuner tunes the tables of one schedule after the other.
type tuner struct {
	Problem
	// The worlds in which, and the growth at which, the promises are hardest to keep,
	// and what is asked for there.
	needlessAt, lateAt int
	growth             float64
	asked              Promise
	totals             []*totals  // by stage
	mu                 sync.Mutex // of known
	known              map[visitsKey]*visits
	stop               func() bool
}

// visitsKey names a table in a world and stage.
type visitsKey struct {
	world, stage int
	table        string
}

// manyVisits is the number of tables of which the visits are kept.
const manyVisits = 300

// visits returns the visits of a table.
func (t *tuner) visits(world, stage int, tb rule.Table) *visits {
	key := visitsKey{world, stage, fmt.Sprint(tb.Leave, tb.Act)}
	t.mu.Lock()
	defer t.mu.Unlock()
	v, ok := t.known[key]
	if !ok {
		if len(t.known) > manyVisits {
			clear(t.known)
		}
		v = newVisits(tb, t.stage(world, stage))
		t.known[key] = v
	}
	return v
}

func newTuner(p Problem, stop func() bool) *tuner {
	t := &tuner{Problem: p, asked: p.Promise, growth: p.Growth.High, stop: stop, known: map[visitsKey]*visits{}}
	t.needlessAt, t.lateAt = len(p.Worlds)-1, len(p.Worlds)-1
	for i := range p.Walks {
		t.totals = append(t.totals, &totals{top: p.ceiling(i), known: map[totalsKey]*stopTotals{}})
	}
	return t
}

// ceiling returns a total above which all totals are alike: no act number of a
// sensible table lies higher.
func (p Problem) ceiling(stage int) int {
	w, st, n := p.Walks[stage], p.Season.Stages[stage], 0
	for world := range p.Worlds {
		units, stops := w.Units*w.Maximum, 1.
		if !st.Worth.Plain() {
			units, stops = w.Units, float64(w.Maximum)
		}
		total := p.field(world, stage)(st.Upper).Stop(units)
		n = max(n, int(stops*total.Mean()+4*math.Sqrt(stops*total.Variance())))
	}
	if !p.Season.Means || !st.Worth.Plain() {
		n = min(n, st.Worth.Top(w.Units)*w.Maximum)
	}
	return max(n, 1)
}

// priced returns the fields with the prices of the promises.
func (t *tuner) priced(pr prices) []field {
	if t.Costs != nil { // they are watched, and priced by what they cost alone
		pr = prices{}
	}
	return append(t.fields(),
		field{world: t.needlessAt, course: Course{AtLower: true}, act: pr.needless},
		field{world: t.lateAt, course: Course{Start: t.Growth.Start, Growth: t.growth}, late: pr.late})
}

// judge sets what the tables of a state do.
func (t *tuner) judge(s *state, chains map[int]*Chain, days []int) {
	s.least, s.needless = 0, 0
	for _, f := range t.priced(s.prices) {
		p, _ := chains[f.world].follow(f.course, days)
		s.least += t.least(f, p)
		if f.course.Growth == 0 {
			s.needless = math.Max(s.needless, p.Early)
		}
		if f.share == 0 && !f.course.AtLower {
			s.late = p.AfterUpper.Later(t.asked.LateDays)
		}
	}
}

// look judges a state of a schedule.
func (t *tuner) look(at schedule, s *state) {
	cs := t.chains(at, s.tables)
	t.judge(s, cs, cs[t.lateAt].season.firstDays())
}

// chains returns the chains of the worlds that are looked at.
func (t *tuner) chains(at schedule, tables []rule.Table) map[int]*Chain {
	cs := map[int]*Chain{}
	for _, w := range []int{t.needlessAt, t.lateAt, len(t.Worlds) - 1} {
		if cs[w] == nil {
			cs[w] = chainOf(t.layout(at, tables, w), func(i int, tb rule.Table) *visits { return t.visits(w, i, tb) })
		}
	}
	return cs
}

// tune improves the tables of a schedule in rounds: every table is swept against what
// leaving a field leads to with the others, and the prices follow how far the promises
// are broken. It returns the last state, and calls seen with each.
func (t *tuner) tune(at schedule, from state, rounds, step int, seen func(state)) state {
	s := from
	pace := 0.1 * float64(step)
	for range rounds {
		if t.stop() {
			break
		}
		cs := t.chains(at, s.tables)
		days := cs[t.lateAt].season.firstDays()
		t.judge(&s, cs, days)
		seen(s)
		// Where all fields are treated, or all that grow are late, no number of a table
		// makes a difference any more: go back and pay more.
		lost, missed := s.needless > (1+t.asked.Needless)/2, s.late > (1+t.asked.Late)/2
		if t.Costs != nil {
			lost, missed = false, false
		}
		if lost {
			s.prices.needless *= 2
		}
		if missed {
			s.prices.late *= 2
		}
		if lost || missed {
			s.tables, step = from.tables, max(1, step-1)
			continue
		}
		s.prices.needless *= math.Pow(clamp(s.needless/t.asked.Needless, .2, 5), pace)
		s.prices.late *= math.Pow(clamp(s.late/t.asked.Late, .2, 5), pace)
		pace = math.Max(.1, pace*.93)
		next := t.swept(at, s, cs)
		for i := range next {
			next[i] = t.towards(i, s.tables[i], next[i], step)
		}
		step = max(1, step-1)
		s.tables = next
	}
	t.look(at, &s)
	seen(s)
	return s
}

// swept returns the tables after one sweep of each.
func (t *tuner) swept(at schedule, s state, cs map[int]*Chain) []rule.Table {
	index := make([][]int, len(t.Walks))
	models := make([]map[modelKey]*model, len(s.tables))
	for i := range models {
		models[i] = map[modelKey]*model{}
	}
	for i := range index {
		for k := range t.Classes {
			index[i] = append(index[i], t.tableOf(i, k))
		}
	}
	for _, f := range t.priced(s.prices) {
		if t.Costs != nil && f.share == 0 {
			continue
		}
		cs[f.world].addModels(f, t.asked.LateDays, index, models, t.totals)
	}
	out := slices.Clone(s.tables)
	for n := range out {
		i := n / t.tablesPerStage()
		w := t.Walks[i]
		st := cs[t.lateAt].season.Stages[i]
		sw := sweeper{units: w.Units, minimum: min(max(w.Minimum, at.minimum), w.Maximum), maximum: w.Maximum, top: t.totals[i].top}
		out[n] = sw.sweep(s.tables[n], sorted(models[n]), func(stop, total int) int {
			return st.class(false, stop, stop*w.Units, total)
		})
	}
	return out
}

// manyTotals is the number of totals from which on steps are longer than one.
const manyTotals = 400

// towards returns the table from, the n-th, with every number moved towards that of
// another table, by some steps at the most: a table is best against what the others lead
// to now, and changes that.
func (t *tuner) towards(n int, from, to rule.Table, step int) rule.Table {
	out := from.Clone()
	stage := n / t.tablesPerStage()
	top, worth, most := t.totals[stage].top, t.Season.Stages[stage].Worth, 0
	bounded := !t.Season.Means || !worth.Plain()
	if bounded {
		most = worth.Top(from.Units)
	}
	step *= max(1, top/manyTotals)
	numbered := false // an earlier stop has an act number
	for j := range out.Leave {
		move := func(a, b int) int { return min(max(b, a-step), a+step) }
		none := top + 1
		if bounded {
			none = most*(j+1) + 1
		}
		out.Leave[j] = move(from.Leave[j], to.Leave[j])
		r := move(min(none, from.Act[j]), min(none, to.Act[j]))
		if r == none && !numbered && j+1 < len(out.Leave) {
			r = rule.NeverAct
		} else {
			numbered = true
		}
		out.Act[j] = r
	}
	return out
}

// sorted returns models in an order that does not change from run to run.
func sorted(ms map[modelKey]*model) []*model {
	keys := make([]modelKey, 0, len(ms))
	for k := range ms {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b modelKey) int {
		switch {
		case a.world != b.world:
			return a.world - b.world
		case a.level < b.level:
			return -1
		case a.level > b.level:
			return 1
		}
		return 0
	})
	out := make([]*model, len(keys))
	for i, k := range keys {
		out[i] = ms[k]
	}
	return out
}

func clamp(x, low, high float64) float64 { return math.Max(low, math.Min(high, x)) }
