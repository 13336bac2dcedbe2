package plans

import (
	"cmp"
	"slices"
)

// A move shifts one number of a table by one.
type move struct {
	stop  int
	act   bool // the act number, else the leave number; at the last stop both
	by    int
	delta score // exact change for this move alone
}

// moves returns every legal single move from a table, with its exact effect,
// read off what arrives at the one total that changes its verdict and what would
// come after it.
func (e *engine) moves(t *Table) []move {
	e.score(t)
	var out []move
	for j := range e.maximum {
		last := j == e.maximum-1
		if j+1 < e.minimum && !last {
			continue
		}
		a, r, n := t.Leave[j], t.Act[j], e.size(j)
		if last {
			if a+1 < n {
				out = append(out, move{j, false, +1, e.swap(j, a+1, Act, Leave)})
			}
			if a >= 0 {
				out = append(out, move{j, false, -1, e.swap(j, a, Leave, Act)})
			}
			continue
		}
		if a+1 < min(r, n) {
			out = append(out, move{j, false, +1, e.swap(j, a+1, Continue, Leave)})
		}
		if a >= 0 {
			out = append(out, move{j, false, -1, e.swap(j, a, Leave, Continue)})
		}
		switch {
		case r == NeverAct:
			if n-1 > a {
				out = append(out, move{j, true, -1, e.swap(j, n-1, Continue, Act)})
			}
		default:
			if r-1 > a {
				out = append(out, move{j, true, -1, e.swap(j, r-1, Continue, Act)})
			}
			out = append(out, move{j, true, +1, e.swap(j, r, Act, Continue)})
		}
	}
	return out
}

// swap returns the effect of giving total s at stop j another verdict.
func (e *engine) swap(j, s int, from, to Verdict) score {
	var d score
	now, then := e.outcome(j, s, from), e.outcome(j, s, to)
	for i, w := range e.weights {
		d.effort += w * e.arrive[i][j][s] * (then[i] - now[i])
	}
	d.needless = e.arrive[needlessWorld][j][s] * (then[needlessWorld] - now[needlessWorld])
	d.missed = e.arrive[missedWorld][j][s] * (then[missedWorld] - now[missedWorld])
	return d
}

func (e *engine) outcome(j, s int, v Verdict) (o [worldCount]float64) {
	switch v {
	case Act:
		o[needlessWorld] = 1
	case Leave:
		o[missedWorld] = 1
	default:
		for i := range o {
			o[i] = e.ahead[i][j][s]
		}
	}
	return o
}

// apply makes the moves on a copy of the table; it reports false where the
// result is no decision table.
func (e *engine) apply(t Table, ms ...move) (Table, bool) {
	t = t.Clone()
	for _, m := range ms {
		j := m.stop
		switch {
		case j == e.maximum-1:
			t.Leave[j] += m.by
			t.Act[j] = t.Leave[j] + 1
		case !m.act:
			t.Leave[j] += m.by
		case t.Act[j] == NeverAct:
			t.Act[j] = e.size(j) - 1
		default:
			t.Act[j] += m.by
			if t.Act[j] >= e.size(j) {
				t.Act[j] = NeverAct
			}
		}
	}
	return t, t.Check() == nil
}

// penalty is what a search pays, in stops, for a risk exceeded by as much as is
// allowed: far more than the usual saving. A search that has come to keep the risks
// goes on keeping them.
const penalty = 100

// total returns the effort plus the penalty for risks above what is allowed,
// the allowance being widened by a share.
func (sc score) total(p *problem, widened float64) float64 {
	over := max(0, sc.needless/p.alpha-1-widened) + max(0, sc.missed/p.beta-1-widened)
	return sc.effort + penalty*over
}

func (sc score) keeps(p *problem) bool { return sc.needless <= p.alpha && sc.missed <= p.beta }

func (sc score) plus(d score) score {
	return score{sc.effort + d.effort, sc.needless + d.needless, sc.missed + d.missed}
}

// tries bounds how many combined moves are evaluated exactly in a round: they
// are taken in the order of what they seem to save.
const tries = 400

// improve brings a table to keep the risks and then lowers its effort, by
// single, double and triple moves, until none helps. The effects of moves at
// different stops nearly add up, so the sums pick the candidates and an exact
// evaluation decides. The result may still break the risks where it began so.
func (e *engine) improve(t Table, p *problem, stop func() bool) Table {
	now := e.quick(&t)
	for !stop() {
		u, sc, ok := e.bestOf(t, now, combine(e.moves(&t), now, p), p)
		if !ok {
			break
		}
		t, now = u, sc
	}
	return t
}

// A combination is up to three moves and what they seem to save together.
type combination struct {
	moves [3]int
	n     int
	gain  float64
}

// leastGain is the least saving of expected stops worth a change.
const leastGain = 1e-10

// slackShare is by how much the summed effects may seem to break a risk and the
// moves are still tried, as a share of the allowed risk.
const slackShare = 0.002

func combine(ms []move, now score, p *problem) [][]move {
	widened := 0.0
	if now.keeps(p) {
		widened = slackShare
	}
	before := now.total(p, widened) - leastGain
	var found []combination
	add := func(n int, sc score, moves ...int) {
		if after := sc.total(p, widened); after < before {
			c := combination{n: n, gain: before - after}
			copy(c.moves[:], moves)
			found = append(found, c)
		}
	}
	for a := range ms {
		one := now.plus(ms[a].delta)
		add(1, one, a)
		for b := a + 1; b < len(ms); b++ {
			if opposed(ms[a], ms[b]) {
				continue
			}
			two := one.plus(ms[b].delta)
			add(2, two, a, b)
			for c := b + 1; c < len(ms); c++ {
				if three := two.plus(ms[c].delta); three.total(p, widened) < before && !opposed(ms[a], ms[c]) && !opposed(ms[b], ms[c]) {
					add(3, three, a, b, c)
				}
			}
		}
	}
	slices.SortFunc(found, func(x, y combination) int { // a total order: the design is reproducible
		return cmp.Or(cmp.Compare(y.gain, x.gain), slices.Compare(x.moves[:], y.moves[:]), cmp.Compare(x.n, y.n))
	})
	out := make([][]move, 0, tries)
	for _, f := range found[:min(len(found), tries)] {
		set := make([]move, f.n)
		for i := range set {
			set[i] = ms[f.moves[i]]
		}
		out = append(out, set)
	}
	return out
}

func opposed(a, b move) bool { return a.stop == b.stop && a.act == b.act }

// bestOf returns the first candidate that is better than the table.
func (e *engine) bestOf(t Table, now score, candidates [][]move, p *problem) (Table, score, bool) {
	for _, c := range candidates {
		u, ok := e.apply(t, c...)
		if !ok {
			continue
		}
		sc := e.quick(&u)
		if now.keeps(p) && !sc.keeps(p) {
			continue
		}
		if sc.total(p, 0) < now.total(p, 0)-leastGain && (!sc.keeps(p) || p.keeps(u)) {
			return u, sc, true
		}
	}
	return t, now, false
}
