package plans

import (
	"context"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"testing"
)

var all = flag.Bool("all", false, "draw sixty random plans of each kind, not six, damage and leave out every byte of a plan file, and make thirty designs of drawn protocols, not ten; takes a minute")

// drawn is how many random plans are made.
func drawn() int {
	if *all {
		return 60
	}
	return 6
}

// alikeTotals returns the chances of the totals 0..most of a stop of units leaves:
// negative binomial about the stop's own mean, summed over the logarithm of that. Plain
// formulas, which share no code with the library.
func alikeTotals(mean, k, rho float64, units, most int) []float64 {
	p := make([]float64, most+1)
	add := func(l, within, weight float64) { // within is the k of one leaf
		n := float64(units)
		odds, start := l/(within+l), n*within*math.Log(within/(within+l))
		if within > 1e9 {
			odds, start = 0, -n*l
		}
		at := weight * math.Exp(start)
		for x := range p {
			p[x] += at
			if odds == 0 {
				at *= n * l / float64(x+1)
			} else {
				at *= odds * (n*within + float64(x)) / float64(x+1)
			}
		}
	}
	if rho = math.Min(rho, mean/(mean+k)); math.IsInf(k, 1) || rho == 0 {
		add(mean, k, 1)
		return p
	}
	shape := 1 / (rho * (1/mean + 1/k))
	within := math.Inf(1)
	if rest := 1/k - 1/shape; rest > 1e-12 {
		within = (1 + 1/shape) / rest
	}
	const steps = 1500
	low, high := math.Log(mean)-40/shape-3/math.Sqrt(shape), math.Log(mean)+math.Log(1+12/math.Sqrt(shape)+45/shape)
	gamma, _ := math.Lgamma(shape)
	for i := range steps + 1 {
		u := low + (high-low)*float64(i)/steps
		l := math.Exp(u)
		add(l, within, math.Exp(shape*math.Log(shape/mean)+shape*u-shape*l/mean-gamma)*(high-low)/steps)
	}
	return p
}

// walked returns how often visits by a table of running totals end with act, and after
// how many stops: every total is carried along, those of the last one of stop and more,
// which any act number is below, together.
func walked(t Table, stop []float64) (act, stops float64) {
	top := len(stop) - 1
	now := map[int]float64{0: 1}
	for j := range t.Leave {
		next := map[int]float64{}
		for s, c := range now {
			stops += c
			rest := 1.
			for x := range top {
				rest -= stop[x]
				next[min(s+x, top)] += c * stop[x]
			}
			next[top] += c * rest
		}
		for s, c := range next {
			if s <= t.Leave[j] {
				delete(next, s)
			} else if s >= t.Act[j] {
				act += c
				delete(next, s)
			}
		}
		now = next
	}
	return act, stops
}

// meanStage draws a stage whose threshold is a mean, with any law of counts.
func meanStage(r *rand.Rand) Stage {
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	s := Stage{
		Measure: MeanPerLeaf, Unit: SampleUnit{Leaves: 1 + r.IntN(2)}, Lower: between(.2, 1.2),
		NeedlessRisk: between(.06, .2), MissedRisk: between(.06, .2),
		Stop: StopRules{Plants: 2 + r.IntN(3), Minimum: 1 + r.IntN(3), Maximum: 5 + r.IntN(4)},
	}
	s.Upper = s.Lower * between(3.5, 7)
	s.Threshold = between(s.Lower, s.Upper)
	low := between(0, .1)
	s.Clumping.CountRho = &Range{Low: low, High: low + between(0, .2)*float64(r.IntN(2))}
	k := between(.5, 2)
	switch r.IntN(5) {
	case 0:
		s.Clumping.K = &Range{Low: k, High: k}
	case 1:
		s.Clumping.K = &Range{Low: k, High: 2 * k}
	case 2:
		s.Clumping.Taylor = &Taylor{A: between(1.5, 3), B: between(1.1, 1.6)}
	case 3:
		s.Clumping.Iwao = &Iwao{A: between(.2, 1), B: between(1.1, 1.5)}
	case 4:
		s.Clumping.Poisson = true
	}
	return s
}

// kOf returns the k of one leaf by a stage's law, at a part of its range.
func kOf(c Clumping, mean, part float64) float64 {
	variance := mean
	switch {
	case c.K != nil:
		return c.K.Low + part*(c.K.High-c.K.Low)
	case c.Taylor != nil:
		variance = c.Taylor.A * math.Pow(mean, c.Taylor.B)
	case c.Iwao != nil:
		variance = (c.Iwao.A+1)*mean + (c.Iwao.B-1)*mean*mean
	}
	if variance <= mean {
		return math.Inf(1)
	}
	return mean * mean / (variance - mean)
}

// None of the plans for means drawn at random breaks its promise: at the ends of the
// ranges of clumping, and within a thousandth of the risk in between, where no value
// of the grid was looked at.
func TestRandomMeanPlansKeep(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 13))
	for made, tried := 0, 0; made < drawn(); tried++ {
		st := meanStage(r)
		method := []Method{RiskTrue, RiskTrueLines, Fixed}[tried%3]
		plan, err := Design(context.Background(), Protocol{Stages: Everywhere(st, st)}, DesignOptions{Method: method})
		if none := (*Infeasible)(nil); errors.As(err, &none) {
			continue
		}
		if err != nil {
			t.Fatalf("%+v: %v", st, err)
		}
		made++
		s := plan.Stages[0]
		most := 0
		for _, act := range s.Table.Act {
			if act != NeverAct {
				most = max(most, act+1)
			}
		}
		for _, part := range []float64{0, .37, 1} {
			for _, at := range []float64{0, .41, 1} {
				rho := st.Clumping.CountRho.Low + at*(st.Clumping.CountRho.High-st.Clumping.CountRho.Low)
				slack := 1e-9
				if part == .37 || at == .41 {
					slack = 1e-3
				}
				risk := func(mean float64) (act, stops float64) {
					return walked(s.Table, alikeTotals(mean, kOf(st.Clumping, mean, part), rho, s.Table.Units, most))
				}
				needless, stops := risk(s.Lower)
				acts, _ := risk(s.Upper)
				if needless > s.NeedlessRisk*(1+slack) || 1-acts > s.MissedRisk*(1+slack) {
					t.Errorf("%s, %+v, count rho %g, k at %g: acts in %g for %g, misses %g for %g", method, st, rho, part, needless, s.NeedlessRisk, 1-acts, s.MissedRisk)
				}
				k := kOf(st.Clumping, s.Lower, part)
				if told := s.Evaluate(World{Level: s.Lower, Clump: k, CountRho: math.Min(rho, s.Lower/(s.Lower+k)), Counts: true}); math.Abs(told.Act-needless) > 1e-9 || math.Abs(told.ExpectedStops-stops) > 1e-8 {
					t.Errorf("%+v, count rho %g, k %g: acts in %g after %g stops, carried along %g and %g", st, rho, k, told.Act, told.ExpectedStops, needless, stops)
				}
			}
		}
		if !s.Keeps() {
			t.Errorf("%+v says that it does not keep", s.Risks)
		}
	}
}

// Where insects fall at random no correlation is possible, so all worlds of a range are
// one and the same.
func TestPoissonOverARange(t *testing.T) {
	s := Stage{Measure: MeanPerLeaf, Unit: SampleUnit{Leaves: 1}, Lower: 1, Threshold: 1.5, Upper: 2, NeedlessRisk: .1, MissedRisk: .1,
		Stop: StopRules{Plants: 4, Minimum: 1, Maximum: 9}, Clumping: Clumping{Poisson: true, CountRho: &Range{Low: .05, High: .3}}}
	for _, method := range []Method{RiskTrue, RiskTrueLines, Fixed} {
		plan, err := Design(context.Background(), Protocol{Stages: Everywhere(s, s)}, DesignOptions{Method: method})
		if err != nil || !plan.Stages[0].Keeps() {
			t.Errorf("%s: %v", method, err)
		}
	}
}
