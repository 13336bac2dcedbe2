package season

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"stopwise/plans/rule"
)

// A Plan is what a search found.
type Plan struct {
	// Season has the tables and intervals, with the families of the last world.
	Season Season
	// Minutes are the expected ones of a field and season of the mix, and Loss is what is
	// lost there by the problem's costs.
	Minutes float64
	Loss    Loss
	// Needless and Late are what the plan does, worst over the worlds and the growth.
	Needless, Late float64
	// Kept says that both promises are kept. Where they are not, Needless and Late are
	// the nearest promises that the search found a plan for, and Hindrance says what
	// holds it back.
	Kept      bool
	Hindrance string
	Tried     int // schedules

	at    schedule
	state state
}

// Search looks for the plan of least expected minutes that keeps the promises. It
// chooses the intervals, the cut between the classes, and every number of the tables,
// by a search from schedule to neighbouring schedule: a plan of least minutes among
// those that it tried, whose promises and minutes are exact with the tables returned.
// Limits of the next visit by what was found at the last are not part of it. The result
// depends on nothing but the problem. It returns the context's error when cancelled.
func Search(ctx context.Context, p Problem) (*Plan, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	s := &searcher{
		tuner: newTuner(p, func() bool { return ctx.Err() != nil }),
		tuned: map[schedule]state{},
	}
	if p.Tables != nil {
		s.runGiven()
	} else {
		s.run()
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if s.nearest == nil {
		return nil, errors.New("season: the promises cannot be computed for these fields and tables")
	}
	return s.plan(), nil
}

type searcher struct {
	*tuner
	tuned map[schedule]state // the most promising state of each schedule tried
	// The best plan that keeps the promises, and the one that is nearest to.
	best, nearest           *state
	bestAt, nearestAt       schedule
	bestWorst, nearestWorst risks
}

// risks are the largest chances over the worlds and the growth, and where they are.
type risks struct {
	needless, late     float64
	needlessAt, lateAt int
	growth             float64
}

// over returns how many times the promise the risks are.
func (p Problem) over(r risks) float64 {
	if p.Costs != nil {
		return 0
	}
	return max(r.needless/p.Promise.Needless, r.late/p.Promise.Late)
}

// worst returns the risks of tables over all worlds.
func (s *searcher) worst(at schedule, tables []rule.Table) risks {
	r := risks{needless: -1, late: -1}
	for w := range s.Worlds {
		c := chainOf(s.layout(at, tables, w), func(i int, tb rule.Table) *visits { return s.visits(w, i, tb) })
		days := c.season.firstDays()
		for _, course := range Harmless(c.season, s.Mix) {
			if p, _ := c.follow(course, days); p.Treated > r.needless {
				r.needless, r.needlessAt = p.Treated, w
			}
		}
		for _, g := range slices.Compact([]float64{s.Growth.High, s.Growth.Low}) {
			p, _ := c.follow(Course{Start: s.Growth.Start, Growth: g}, days)
			if late := p.AfterUpper.Later(s.Promise.LateDays); late > r.late {
				r.late, r.lateAt, r.growth = late, w, g
			}
		}
	}
	return r
}

// slack is by how much a chance may be above a promise: rounding.
const slack = 1e-12

// consider keeps a state that is better than those before.
func (s *searcher) consider(at schedule, x state) {
	rough := risks{needless: x.needless, late: x.late}
	if s.best != nil && x.least >= s.best.least-1e-6 {
		return
	}
	if s.nearest != nil && s.over(rough) > 1+slack && s.over(rough) >= s.over(s.nearestWorst) {
		return
	}
	r := s.worst(at, x.tables)
	if s.nearest == nil || s.over(r) < s.over(s.nearestWorst) {
		s.nearest, s.nearestAt, s.nearestWorst = &x, at, r
	}
	if s.over(r) <= 1+slack {
		s.best, s.bestAt, s.bestWorst = &x, at, r
	}
}

// The rounds of tuning: of the first schedule, of each neighbour, and at the end.
const firstRounds, nextRounds, lastRounds = 14, 5, 8

// mostTried bounds the schedules tried.
const mostTried = 40

// estimate tunes a schedule and returns how many minutes it seems to need.
func (s *searcher) estimate(at schedule, from state, rounds, step int) state {
	best := state{}
	n := 0
	s.tune(at, from, rounds, step, func(x state) {
		s.consider(at, x)
		// The first states are still those of the schedule before.
		if n++; n <= 2 {
			return
		}
		if best.tables == nil || s.apart(x) < s.apart(best) {
			best = x
		}
	})
	s.tried(at, best)
	return best
}

// nearby is how far from a promise, as a part of it, prices tell what it is worth.
const nearby = 0.1

// apart returns the estimated minutes of keeping the promises: what is left of them is
// worth its price, near to them only, and what is lacking more the further it is.
func (s *searcher) apart(x state) float64 {
	over := func(is, asked, price float64) float64 {
		return price*math.Max(is-asked, -nearby*asked) + 20*math.Max(0, is/asked-1-nearby)
	}
	if s.Costs != nil {
		return x.least
	}
	return x.least + over(x.needless, s.asked.Needless, x.prices.needless) + over(x.late, s.asked.Late, x.prices.late)
}

// start returns the schedules that the search starts from.
func (s *searcher) start() []schedule {
	bases := [][3]int{{5, 0, 0}, {3, 0, 0}}
	switch s.Classes {
	case 2:
		bases = [][3]int{{10, 4, 0}, {7, 3, 0}}
	case 3:
		bases = [][3]int{{12, 4, 2}, {7, 4, 2}}
	}
	var out []schedule
	for _, base := range bases {
		at := schedule{intervals: base, minimum: s.leastMinimum()}
		if s.Classes == 3 {
			at.cut = s.cut(0.75)
		}
		for k := range s.Classes {
			at.intervals[k] = min(at.intervals[k], s.LongestInterval)
			if s.Intervals != nil && s.Intervals[k] > 0 {
				at.intervals[k] = s.Intervals[k]
			}
		}
		next := at
		next.minimum++
		out = append(out, at, next)
	}
	return out
}

// run searches.
func (s *searcher) run() {
	at, now := s.begin()
	if now.tables != nil && s.face(s.worst(at, now.tables)) {
		// What was tuned for another world's promises is a poor place to go on from.
		clear(s.tuned)
		at, now = s.begin()
	}
	if now.tables == nil || s.Rough {
		return
	}
	s.face(s.worst(at, now.tables))
	for moved := true; moved && !s.stop(); {
		moved = false
		for _, to := range s.neighbours(at) {
			if _, known := s.tuned[to]; known || len(s.tuned) >= mostTried || s.stop() {
				continue
			}
			x := s.estimate(to, now, nextRounds, 2)
			if x.tables != nil && s.apart(x) < s.apart(now)-0.05 {
				at, now, moved = to, x, true
				break
			}
		}
	}
	for range 4 {
		s.finish()
		if s.stop() {
			return
		}
		// The promises may be hardest to keep elsewhere: look there, and where they
		// are not kept ask for a little less than is allowed.
		r := s.nearestWorst
		if s.best != nil {
			r = s.bestWorst
		}
		if !s.face(r) && s.best != nil || s.Costs != nil {
			return
		}
		if r.needless > s.Promise.Needless {
			s.asked.Needless *= 0.995 * s.Promise.Needless / r.needless
		}
		if r.late > s.Promise.Late {
			s.asked.Late *= 0.995 * s.Promise.Late / r.late
		}
	}
}

// face takes the worlds and the growth of some risks as the worst, and reports whether
// that is new.
func (s *searcher) face(r risks) bool {
	if r.needlessAt == s.needlessAt && r.lateAt == s.lateAt && r.growth == s.growth {
		return false
	}
	s.needlessAt, s.lateAt, s.growth = r.needlessAt, r.lateAt, r.growth
	return true
}

// finished is the number of schedules that are worked on further.
const finished = 3

// finish tunes the schedules that look best further, and polishes them.
func (s *searcher) finish() {
	var ats []schedule
	for at, x := range s.tuned {
		if x.tables != nil {
			ats = append(ats, at)
		}
	}
	slices.SortFunc(ats, func(a, b schedule) int {
		return cmp.Or(cmp.Compare(s.apart(s.tuned[a]), s.apart(s.tuned[b])), slices.Compare(a.intervals[:], b.intervals[:]),
			cmp.Compare(a.cut, b.cut), cmp.Compare(a.minimum, b.minimum))
	})
	for _, at := range ats[:min(len(ats), finished)] {
		if x := s.estimate(at, s.tuned[at], lastRounds, 1); x.tables != nil && !s.stop() {
			s.polish(at, x, 1)
		}
	}
	if s.best != nil {
		s.polish(s.bestAt, *s.best, 3)
	}
}

// tried keeps what a schedule came to.
func (s *searcher) tried(at schedule, x state) {
	s.tuned[at] = x
	if s.Progress != nil {
		minutes := 0.0
		if s.best != nil {
			minutes = s.best.least
		}
		s.Progress(len(s.tuned), minutes)
	}
}
