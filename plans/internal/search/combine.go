package search

import (
	"cmp"
	"container/heap"
	"math"
	"slices"
)

// A combination is up to three moves and what they seem to save together.
type combination struct {
	moves [3]int
	n     int
	gain  float64
}

// before orders combinations: the largest saving first. It is a total order, so
// that the design is reproducible.
func (x *combination) before(y *combination) bool {
	if x.gain != y.gain {
		return x.gain > y.gain
	}
	return cmp.Or(slices.Compare(x.moves[:], y.moves[:]), cmp.Compare(x.n, y.n)) < 0
}

// leaders holds the best combinations, at most tries, the last of them on top.
type leaders []combination

func (l leaders) Len() int           { return len(l) }
func (l leaders) Less(i, j int) bool { return l[j].before(&l[i]) }
func (l leaders) Swap(i, j int)      { l[i], l[j] = l[j], l[i] }
func (l *leaders) Push(x any)        { *l = append(*l, x.(combination)) }
func (l *leaders) Pop() any {
	last := len(*l) - 1
	x := (*l)[last]
	*l = (*l)[:last]
	return x
}

func (l *leaders) consider(c combination) {
	switch {
	case len(*l) < tries:
		heap.Push(l, c)
	case c.before(&(*l)[0]):
		(*l)[0] = c
		heap.Fix(l, 0)
	}
}

// floor returns the least saving that a further combination needs.
func (l leaders) floor() float64 {
	if len(l) < tries {
		return 0
	}
	return l[0].gain
}

// slackShare is by how much the summed effects may seem to break a risk and the
// moves are still tried, as a share of the allowed risk.
const slackShare = 0.002

// rounding is what sums of a few effects may be off by.
const rounding = 1e-9

// combine returns the combinations of up to three moves that seem to save most.
//
// What a combination saves is effort and penalties, and no more than the same at
// any price of the risks below the penalty: the sum of what its moves save at these
// prices, and what is left of the risks. Near the best table hardly any move saves
// anything at the right prices. So moves are taken in that order and most
// combinations are never formed.
func (e *engine) combine(ms []move, now *score) []combination {
	limits := e.limits()
	widened := 0.0
	if e.keeps(now) {
		widened = slackShare
	}
	start := e.total(now, widened)
	before := start - leastGain
	dual := newDualOfMoves(ms, now, limits, widened)
	e.guide = dual.tuned(e.guide)
	saves, order := make([]float64, len(ms)), make([]int, len(ms))
	rest := start - now.effort + dual.at(e.guide, saves)
	for i := range ms {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(saves[b], saves[a]) })
	best := make(leaders, 0, tries+1)
	sums := newSums(ms, now, limits, widened)
	near := newNearSums(ms, order, saves, now, limits, widened)
	least := -rest - rounding // what moves must save at least
	add := func(c combination) {
		if after := sums.after(&c, before-best.floor()); after < before {
			c.gain = before - after
			best.consider(c)
			least = best.floor() - rest - rounding
		}
	}
	for x, a := range order {
		if saves[a] > least {
			add(combination{moves: [3]int{a}, n: 1})
		}
		for y := x + 1; y < len(order); y++ {
			b := order[y]
			two := saves[a] + saves[b]
			if two+max(0, saves[b]) <= least {
				break
			}
			if near.kind[x] == near.kind[y] {
				continue
			}
			if two > least {
				add(combination{moves: [3]int{min(a, b), max(a, b)}, n: 2})
			}
			near.pair(x, y)
			for z := y + 1; ; z++ {
				if z = near.next(z, least-two, before-best.floor()+rounding); z == len(order) {
					break
				}
				add(combination{moves: ordered(a, b, order[z]), n: 3})
			}
		}
	}
	slices.SortFunc(best, func(x, y combination) int {
		if x.before(&y) {
			return -1
		}
		return 1
	})
	return best
}

func ordered(a, b, c int) [3]int {
	low, high := min(a, b, c), max(a, b, c)
	return [3]int{low, a + b + c - low - high, high}
}

// sums holds the effects of moves side by side, to be added up.
type sums struct {
	effort  float64
	efforts []float64
	limits  []sumOfRisks
	widened float64
}

type sumOfRisks struct {
	allowed, now float64
	change       []float64
}

func newSums(ms []move, now *score, limits []term, widened float64) *sums {
	s := &sums{effort: now.effort, efforts: make([]float64, len(ms)), limits: make([]sumOfRisks, len(limits)), widened: widened}
	for l := range limits {
		s.limits[l] = sumOfRisks{limits[l].allowed, now.risks[l], make([]float64, len(ms))}
		for i := range ms {
			s.limits[l].change[i] = ms[i].delta.risks[l]
		}
	}
	for i := range ms {
		s.efforts[i] = ms[i].delta.effort
	}
	return s
}

// after returns what effort and penalty seem to be after the moves, or infinity if
// the effort alone is above most.
func (s *sums) after(c *combination, most float64) float64 {
	effort := s.effort
	for _, i := range c.moves[:c.n] {
		effort += s.efforts[i]
	}
	if effort > most+rounding {
		return math.Inf(1)
	}
	over := 0.0
	for l := range s.limits {
		k := &s.limits[l]
		risk := k.now
		for _, i := range c.moves[:c.n] {
			risk += k.change[i]
		}
		over += max(0, risk/k.allowed-1-s.widened)
	}
	return effort + penalty*over
}

// nearSums adds up the effects of moves in the order in which they are tried, to about
// rounding: most combinations are passed over by it.
type nearSums struct {
	saves   []float64
	kind    []int     // moves of one kind shift the same number
	changes []float64 // of each move: the effort, and what it adds to the penalty of each limit
	start   []float64 // the same of the table
	now     []float64 // of the table after a pair of moves
	x, y    int
}

func newNearSums(ms []move, order []int, saves []float64, now *score, limits []term, widened float64) *nearSums {
	s := &nearSums{start: []float64{now.effort}, now: make([]float64, 1+len(limits))}
	for l, k := range limits {
		s.start = append(s.start, penalty*(now.risks[l]/k.allowed-1-widened))
	}
	for _, i := range order {
		m := &ms[i]
		kind := 2 * m.stop
		if m.act {
			kind++
		}
		s.saves, s.kind = append(s.saves, saves[i]), append(s.kind, kind)
		s.changes = append(s.changes, m.delta.effort)
		for l, k := range limits {
			s.changes = append(s.changes, penalty/k.allowed*m.delta.risks[l])
		}
	}
	return s
}

// pair takes two moves as made.
func (s *nearSums) pair(x, y int) {
	s.x, s.y = x, y
	w := len(s.now)
	for l := range s.now {
		s.now[l] = s.start[l] + s.changes[x*w+l] + s.changes[y*w+l]
	}
}

// next returns the first move from z on with which effort and penalty may be at most
// most, or the number of moves where there is none that saves more than least.
func (s *nearSums) next(z int, least, most float64) int {
	w, x, y := len(s.now), s.kind[s.x], s.kind[s.y]
	if w == 3 { // two limits, as in most searches
		effort, first, second := s.now[0], s.now[1], s.now[2]
		for ; z < len(s.saves) && s.saves[z] > least; z++ {
			if k := s.kind[z]; k == x || k == y {
				continue
			}
			c := s.changes[3*z : 3*z+3 : 3*z+3]
			if effort+c[0]+max(0, first+c[1])+max(0, second+c[2]) <= most {
				return z
			}
		}
		return len(s.saves)
	}
	for ; z < len(s.saves) && s.saves[z] > least; z++ {
		if k := s.kind[z]; k == x || k == y {
			continue
		}
		after := s.now[0] + s.changes[z*w]
		for l, c := range s.changes[z*w+1 : z*w+w] {
			after += max(0, s.now[1+l]+c)
		}
		if after <= most {
			return z
		}
	}
	return len(s.saves)
}
