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
	return cmp.Or(cmp.Compare(y.gain, x.gain), slices.Compare(x.moves[:], y.moves[:]), cmp.Compare(x.n, y.n)) < 0
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
func (e *engine) combine(ms []move, now *score) [][]move {
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
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(saves[b], saves[a]), cmp.Compare(a, b)) })
	best := make(leaders, 0, tries+1)
	sums := newSums(ms, now, limits, widened)
	add := func(c combination) {
		if after := sums.after(&c, before-best.floor()); after < before {
			c.gain = before - after
			best.consider(c)
		}
	}
	enough := func(saved float64) bool { return rest+saved+rounding > best.floor() }
	for x, a := range order {
		if enough(saves[a]) {
			add(combination{moves: [3]int{a}, n: 1})
		}
		for y := x + 1; y < len(order); y++ {
			b := order[y]
			two := saves[a] + saves[b]
			if !enough(two + max(0, saves[b])) {
				break
			}
			if opposed(&ms[a], &ms[b]) {
				continue
			}
			if enough(two) {
				add(combination{moves: [3]int{min(a, b), max(a, b)}, n: 2})
			}
			for z := y + 1; z < len(order); z++ {
				c := order[z]
				if !enough(two + saves[c]) {
					break
				}
				if !opposed(&ms[a], &ms[c]) && !opposed(&ms[b], &ms[c]) {
					add(combination{moves: ordered(a, b, c), n: 3})
				}
			}
		}
	}
	slices.SortFunc(best, func(x, y combination) int {
		if x.before(&y) {
			return -1
		}
		return 1
	})
	out := make([][]move, len(best))
	for i, f := range best {
		for _, m := range f.moves[:f.n] {
			out[i] = append(out[i], ms[m])
		}
	}
	return out
}

func opposed(a, b *move) bool { return a.stop == b.stop && a.act == b.act }

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
