package plans

import (
	"context"
	"math"
	"testing"

	"stopwise/sampling"
)

func signProtocol() Protocol {
	return Protocol{
		Stages: Everywhere(Stage{Unit: SampleUnit{Leaves: 1}, Stop: StopRules{Plants: 3, Minimum: 1, Maximum: 4}, Clumping: Clumping{Rho: &Range{Low: 0.1, High: 0.1}}}, []Stage{{
			Name: "dough", Measure: ShareInfested, Lower: 0.2, Threshold: 0.35, Upper: 0.5,
			NeedlessRisk: 0.3, MissedRisk: 0.3,
			Sign: &Sign{Text: "bronzed tips", Stops: 2, Chance: 0.6, ChanceLower: 0.1},
		}}...),
	}
}

// The joint risks against the enumeration of every visit: all counts and all
// patterns of the sign, which must be seen at two stops or must not.
func TestRisksOfTheWholeRuleEnumerated(t *testing.T) {
	for _, absent := range []bool{false, true} {
		p := signProtocol()
		p.Stages[0].Sign.Absent = absent
		plan, err := Design(context.Background(), p, DesignOptions{Method: Lines})
		if err != nil {
			t.Fatal(err)
		}
		s := plan.Stages[0]
		act := func(p, chance float64) float64 {
			one := sampling.BetaBinomial{Plants: 3, P: p, Rho: 0.1}.Probs(3)
			var visit func(stop, total, signs int) float64
			visit = func(stop, total, signs int) float64 {
				sum := 0.0
				for x, px := range one {
					for sign, ps := range []float64{1 - chance, chance} {
						switch s.Table.Verdict(stop, total+x) {
						case Act:
							if (signs+sign >= 2) != absent {
								sum += px * ps
							}
						case Continue:
							sum += px * ps * visit(stop+1, total+x, signs+sign)
						}
					}
				}
				return sum
			}
			return visit(1, 0, 0)
		}
		got := s.Risks[0]
		if want := act(0.2, 0.1); math.Abs(got.Needless-want) > 1e-12 {
			t.Errorf("absent %v: needless %.12f, enumerated %.12f", absent, got.Needless, want)
		}
		if want := 1 - act(0.5, 0.6); math.Abs(got.Missed-want) > 1e-12 {
			t.Errorf("absent %v: missed %.12f, enumerated %.12f", absent, got.Missed, want)
		}
		alone := *s
		alone.Sign = nil
		alone.judge(evenWeights)
		if count := alone.Risks[0]; got.Missed < count.Missed || got.Needless > count.Needless {
			t.Errorf("the sign made missing rarer or acting more frequent: %+v beside %+v", got, count)
		}
		// Seen at two stops, and at none.
		for _, counts := range [][]Count{{{Total: 3, Sign: true}, {Total: 3, Sign: true}, {Total: 3}, {Total: 3}}, {{Total: 3}, {Total: 3}, {Total: 3}, {Total: 3}}} {
			for n := 1; n <= len(counts); n++ {
				a, err := s.Check(counts[:n])
				if err != nil {
					t.Fatal(err)
				}
				if a.Verdict == Act && (a.Signs >= 2) == absent || a.SignMissing && (a.Signs >= 2) != absent {
					t.Errorf("absent %v, sign at %d stops: %+v", absent, a.Signs, a)
				}
			}
		}
	}
}

func TestSignInAnswers(t *testing.T) {
	p := signProtocol()
	p = p.Each(func(s *Stage) { s.Stop.Minimum = 2 }) // at one stop the sign cannot be seen at two
	plan, err := Design(context.Background(), p, DesignOptions{Method: Lines})
	if err != nil {
		t.Fatal(err)
	}
	s := plan.Stages[0]
	full := Count{Total: 3}
	seen := Count{Total: 3, Sign: true}
	for _, c := range []struct {
		name    string
		counts  []Count
		verdict Verdict
		missing bool
	}{
		{"count reached, sign never seen", []Count{full, full, full, full}, Leave, true},
		{"count reached, sign at two stops", []Count{seen, seen, seen, seen}, Act, false},
		{"count not reached, sign seen", []Count{{Sign: true}, {Sign: true}, {Sign: true}, {Sign: true}}, Leave, false},
	} {
		a, err := s.Check(c.counts)
		if err != nil {
			t.Fatal(err)
		}
		if a.Verdict != c.verdict || a.SignMissing != c.missing {
			t.Errorf("%s: %v, missing %v at stop %d, want %v, %v", c.name, a.Verdict, a.SignMissing, a.DecidedAt, c.verdict, c.missing)
		}
	}
	p.Stages[0].Sign = nil
	plan, err = Design(context.Background(), p, DesignOptions{Method: Lines})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := plan.Stages[0].Check([]Count{seen}); err == nil {
		t.Error("a sign was accepted where the stage asks for none")
	}
}
