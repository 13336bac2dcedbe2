package search

import (
	"cmp"
	"container/heap"
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
	prices := make([]float64, len(limits))
	rest := start - now.effort
	for i, k := range limits {
		prices[i] = min(e.guide[i], penalty/k.allowed)
		rest += prices[i] * (k.allowed*(1+widened) - now.risks[i])
	}
	saves, order := make([]float64, len(ms)), make([]int, len(ms))
	for i := range ms {
		order[i] = i
		saves[i] = -ms[i].delta.effort
		for l := range limits {
			saves[i] -= prices[l] * ms[i].delta.risks[l]
		}
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(saves[b], saves[a]), cmp.Compare(a, b)) })
	best := make(leaders, 0, tries+1)
	add := func(n int, set ...int) {
		slices.Sort(set)
		sc := *now
		for _, i := range set {
			sc = sc.plus(&ms[i].delta, len(limits))
		}
		if after := e.total(&sc, widened); after < before {
			c := combination{n: n, gain: before - after}
			copy(c.moves[:], set)
			best.consider(c)
		}
	}
	enough := func(saved float64) bool { return rest+saved+rounding > best.floor() }
	for x, a := range order {
		if enough(saves[a]) {
			add(1, a)
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
				add(2, a, b)
			}
			for z := y + 1; z < len(order); z++ {
				c := order[z]
				if !enough(two + saves[c]) {
					break
				}
				if !opposed(&ms[a], &ms[c]) && !opposed(&ms[b], &ms[c]) {
					add(3, a, b, c)
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
