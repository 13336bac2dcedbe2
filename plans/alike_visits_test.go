package plans

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Whole designed plans for means against visits drawn leaf by leaf: each stop has a
// gamma distributed mean of its own, each leaf one about that, and its count is a
// Poisson. With -all a hundred times the visits are drawn.
func TestAlikeVisits(t *testing.T) {
	visits := 2000
	if *all {
		visits *= 100
	}
	const k = .8
	for _, rho := range []float64{0, .1, .25} {
		st := Stage{Measure: MeanPerLeaf, Unit: SampleUnit{Leaves: 2}, Lower: 2, Threshold: 4, Upper: 7, NeedlessRisk: .1, MissedRisk: .1,
			Stop: StopRules{Plants: 4, Minimum: 2, Maximum: 9}, Clumping: Clumping{K: &Range{Low: k, High: k}, CountRho: &Range{Low: rho, High: rho}}}
		for _, method := range []Method{RiskTrue, Fixed} {
			plan, err := Design(context.Background(), Protocol{Stages: Everywhere(st, st)}, DesignOptions{Method: method})
			if err != nil {
				t.Fatalf("correlation %g: %v", rho, err)
			}
			s := plan.Stages[0]
			for _, mean := range []float64{st.Lower, st.Threshold, st.Upper} {
				src := rand.NewPCG(uint64(100*rho), uint64(10*mean))
				between := rho * (1/mean + 1/k) // squared coefficient of variation of the stops' means
				within := (1/k - between) / (1 + between)
				draw := func(mean, cv2 float64) float64 {
					if cv2 == 0 {
						return mean
					}
					return distuv.Gamma{Alpha: 1 / cv2, Beta: 1 / cv2 / mean, Src: src}.Rand()
				}
				acts, walked, squares := 0, 0.0, 0.0
				for range visits {
					total, j := 0, 0
					for verdict := Continue; verdict == Continue; {
						j++
						stop := draw(mean, between)
						for range s.Table.Units {
							total += int(distuv.Poisson{Lambda: math.Max(draw(stop, within), 1e-300), Src: src}.Rand())
						}
						if verdict = s.Table.Verdict(j, total); verdict == Act {
							acts++
						}
					}
					walked, squares = walked+float64(j), squares+float64(j*j)
				}
				n := float64(visits)
				exact := s.Evaluate(s.Clumped(mean))
				if got, se := float64(acts)/n, math.Sqrt(exact.Act*exact.Leave/n); math.Abs(got-exact.Act) > 4*se+1e-9 {
					t.Errorf("%s, correlation %g, mean %g: acts in %.4f of visits, exactly %.4f (standard error %.4f)", method, rho, mean, got, exact.Act, se)
				}
				stops := walked / n
				if se := math.Sqrt((squares/n - stops*stops) / n); math.Abs(stops-exact.ExpectedStops) > 4*se+1e-9 {
					t.Errorf("%s, correlation %g, mean %g: %.3f stops a visit, exactly %.3f (standard error %.3f)", method, rho, mean, stops, exact.ExpectedStops, se)
				}
			}
			if !s.Keeps() {
				t.Errorf("%s, correlation %g: risks %+v", method, rho, s.Risks)
			}
		}
	}
}
