package plans

import (
	"bytes"
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// wholeAct returns the chance that a visit ends with act, with the sign seen often
// enough: every state of stop, total and stops with the sign carried along, the
// beta-binomial from its own formula. It shares no code with the library.
func wholeAct(t Table, g Sign, p, rho, chance float64) float64 {
	n := t.Units
	choose := func(n, k float64) float64 {
		a, _ := math.Lgamma(n + 1)
		b, _ := math.Lgamma(k + 1)
		c, _ := math.Lgamma(n - k + 1)
		return a - b - c
	}
	beta := func(a, b float64) float64 {
		x, _ := math.Lgamma(a)
		y, _ := math.Lgamma(b)
		z, _ := math.Lgamma(a + b)
		return x + y - z
	}
	one := make([]float64, n+1)
	a, b := p*(1-rho)/rho, (1-p)*(1-rho)/rho
	for x := range one {
		one[x] = math.Exp(choose(float64(n), float64(x)) + beta(float64(x)+a, float64(n-x)+b) - beta(a, b))
	}
	type state struct{ total, signs int }
	now := map[state]float64{{}: 1}
	act := 0.0
	for j := range t.Leave {
		next := map[state]float64{}
		for s, c := range now {
			for x, px := range one {
				for sign, ps := range []float64{1 - chance, chance} {
					to := state{s.total + x, s.signs + sign}
					switch {
					case to.total <= t.Leave[j]:
					case to.total < t.Act[j]:
						next[to] += c * px * ps
					case (to.signs >= g.Stops) != g.Absent:
						act += c * px * ps
					}
				}
			}
		}
		now = next
	}
	return act
}

// None of the plans drawn at random breaks its promise of count and sign, and where the sign
// alone is said to forbid it, no table could keep it.
func TestWholeRuleKeepsItsPromise(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	made, refused := 0, 0
	for made < drawn() || refused == 0 {
		between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
		lower := between(.05, .3)
		st := Stage{
			Measure: ShareInfested, Unit: SampleUnit{Leaves: 1}, Lower: lower, Upper: between(lower+.2, .85),
			NeedlessRisk: between(.05, .2), MissedRisk: between(.05, .2),
			Stop:     StopRules{Plants: 3 + r.IntN(4), Minimum: 1 + r.IntN(4), Maximum: 6 + r.IntN(5)},
			Clumping: Clumping{Rho: &Range{Low: .05, High: between(.05, .3)}},
			Sign:     &Sign{Text: "tips", Stops: 1 + r.IntN(3), Chance: between(.4, .95), ChanceLower: between(.05, .4)},
		}
		st.Threshold = between(st.Lower, st.Upper)
		if r.IntN(2) == 0 { // natural enemies
			st.Sign.Absent, st.Sign.Chance, st.Sign.ChanceLower = true, between(.01, .15), between(.2, .8)
		}
		method := []Method{RiskTrue, RiskTrue, RiskTrueLines, Fixed}[r.IntN(4)]
		plan, err := Design(context.Background(), Protocol{Stages: Everywhere(st, st)}, DesignOptions{Method: method})
		var none *Infeasible
		if errors.As(err, &none) && none.SignAlone > 0 {
			refused++
			for j := st.Stop.Minimum; j <= st.Stop.Maximum; j++ {
				always := Table{Units: 1}
				for range j {
					always.Leave, always.Act = append(always.Leave, NeverLeave), append(always.Act, NeverAct)
				}
				always.Act[j-1] = 0
				if missed := 1 - wholeAct(always, *st.Sign, .5, .1, st.Sign.Chance); missed <= st.MissedRisk {
					t.Errorf("%+v is refused for the sign, but acting at stop %d whatever the count misses only %g", st, j, missed)
				}
			}
		}
		if err != nil {
			continue
		}
		made++
		s := plan.Stages[0]
		for _, risk := range s.Risks {
			rho := risk.Clump.Value
			needless := wholeAct(s.Table, *s.Sign, s.Lower, rho, s.Sign.ChanceLower)
			missed := 1 - wholeAct(s.Table, *s.Sign, s.Upper, rho, s.Sign.Chance)
			if math.Abs(needless-risk.Needless) > 1e-9 || math.Abs(missed-risk.Missed) > 1e-9 {
				t.Errorf("risks %+v, carried along %g and %g", risk, needless, missed)
			}
			if needless > s.NeedlessRisk+1e-9 || missed > s.MissedRisk+1e-9 {
				t.Errorf("%s, rho %g: acts in %g for %g, misses %g for %g: %+v", method, rho, needless, s.NeedlessRisk, missed, s.MissedRisk, s.Sign)
			}
		}
		if !s.Keeps() {
			t.Errorf("%+v says that it does not keep", s.Risks)
		}
	}
}

// Where a chance of the sign is not known nothing is said of missing, in the
// plan and in its file.
func TestUnknownSign(t *testing.T) {
	p := signProtocol()
	p.Stages[0].Sign.Chance = 0
	plan, err := Design(context.Background(), p, DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	s := plan.Stages[0]
	if s.Keeps() || s.MissedKnown() || !math.IsNaN(s.WorstMissed().Missed) || math.IsNaN(s.WorstNeedless().Needless) {
		t.Errorf("risks %+v, keeps %v", s.Risks, s.Keeps())
	}
	for _, e := range s.Effort {
		if math.IsNaN(e.Act) != (e.At != "lower") || e.Within90 == 0 {
			t.Errorf("effort %+v", e)
		}
	}
	a, err := s.Check([]Count{{Total: 1}})
	if err != nil {
		t.Fatal(err)
	}
	if h := a.FromHere; h != nil && (!math.IsNaN(h.LeaveAtUpper) || math.IsNaN(h.ActAtLower)) {
		t.Errorf("from here %+v", h)
	}
	text, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(text, []byte(`"missed": null`)) || !bytes.Contains(text, []byte(`"p_act": null`)) {
		t.Errorf("the file does not say that it is not known: %s", text)
	}
	back, err := ReadPlan(text)
	if err != nil {
		t.Fatal(err)
	}
	again, err := back.JSON()
	if err != nil || !bytes.Equal(text, again) {
		t.Errorf("the file does not come back as it was: %v", err)
	}
	edited := bytes.Replace(text, []byte(`"missed": null`), []byte(`"missed": null, "hidden": 1`), 1)
	if _, err := ReadPlan(edited); err == nil {
		t.Error("a key added to a risk was not noticed")
	}
}
