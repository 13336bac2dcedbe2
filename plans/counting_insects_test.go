package plans

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling"
)

func insectTerms(k, countRho Range, counting Counting, n int) Stage {
	t := Stage{
		Measure: MeanPerLeaf, Lower: .5, Threshold: .75, Upper: 1, NeedlessRisk: .1, MissedRisk: .1,
		Unit: SampleUnit{Leaves: 2}, Clumping: Clumping{K: &k, CountRho: &countRho},
		Stop: StopRules{Plants: 10, Minimum: 2, Maximum: 16, WalkMinutes: 3, PlantMinutes: .25},
	}
	t.Stop.SetCounting(counting)
	if counting == CountCapped {
		t.Stop.Cap = n
	} else {
		t.Stop.Points = n
	}
	return t
}

// plainInsects returns the chance to act by carrying the chances of all totals along in
// the plainest way; what a count is worth is found by looking at every edge.
func plainInsects(s *StagePlan, field sampling.Population) float64 {
	probs, from := map[int]float64{}, s.WorthFrom()
	for x, p := range field.Stop(s.Table.Units).Probs(3000) {
		worth := 0
		for _, least := range from {
			if x >= least {
				worth++
			}
		}
		if s.Worth.Cap > 0 {
			worth = min(x, s.Worth.Cap)
		}
		probs[worth] += p
	}
	at, act := map[int]float64{0: 1}, 0.0
	for j := range s.Table.Leave {
		next := map[int]float64{}
		for total, f := range at {
			for worth, p := range probs {
				switch to := total + worth; {
				case to >= s.Table.Act[j]:
					act += f * p
				case to > s.Table.Leave[j]:
					next[to] += f * p
				}
			}
		}
		at = next
	}
	return act
}

// Plans of points and of capped counts of insects keep both risks over the ranges of k
// and of the correlation together, at their ends and between, by an evaluation that
// shares nothing with the search but the chances of a stop; and are what their file says.
func TestCountedInsects(t *testing.T) {
	k, rho := Range{Low: .5, High: .8}, Range{Low: .05, High: .15}
	for _, c := range []struct {
		terms  Stage
		method Method
	}{
		{insectTerms(k, rho, CountPoints, 12), RiskTrue},
		{insectTerms(k, rho, CountCapped, 24), RiskTrueLines},
	} {
		plan, err := Design(context.Background(), Protocol{Stages: []Stage{c.terms}}, DesignOptions{Method: c.method, Bound: c.method == RiskTrue})
		if err != nil {
			t.Fatal(err)
		}
		s := plan.Stages[0]
		t.Logf("%v: %.3f stops, bound %.3f, %v", c.terms.Stop.Counting, s.Weighted, s.NoPlanBelow, s.WorthFrom())
		if s.Worth.Plain() || !s.Keeps() || s.NoPlanBelow > s.Weighted || c.method == RiskTrue && s.Weighted > 1.05*s.NoPlanBelow {
			t.Errorf("%v: %.3f stops, bound %.3f, keeps %v", c.terms.Stop.Counting, s.Weighted, s.NoPlanBelow, s.Keeps())
		}
		for _, k := range []float64{.5, .65, .8} {
			for _, rho := range []float64{.05, .1, .15} {
				lower := plainInsects(s, sampling.AlikeCounts{Mean: s.Lower, K: k, Rho: rho})
				upper := plainInsects(s, sampling.AlikeCounts{Mean: s.Upper, K: k, Rho: rho})
				if lower > s.NeedlessRisk+1e-9 || 1-upper > s.MissedRisk+1e-9 {
					t.Errorf("%v at k %g, rho %g: acts in %g and %g", c.terms.Stop.Counting, k, rho, lower, upper)
				}
			}
		}
		text, err := plan.JSON()
		if err != nil {
			t.Fatal(err)
		}
		again, err := ReadPlan(text)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(s.Worth, again.Stages[0].Worth); diff != "" || !strings.Contains(string(text), `"version": 4`) {
			t.Error(diff)
		}
	}
}

// Counts drawn leaf by leaf, plants looked at until the cap is reached, give the stops,
// the plants, the minutes and the risks that are computed; so do points.
func TestInsectVisitLeafByLeaf(t *testing.T) {
	const k, rho = .6, .12
	for _, c := range []struct {
		terms Stage
		table Table
	}{
		{insectTerms(Range{Low: k, High: k}, Range{Low: rho, High: rho}, CountCapped, 14),
			Table{Units: 20, Leave: []int{NeverLeave, 17, 27, 38}, Act: []int{NeverAct, 27, 35, 39}}},
		{insectTerms(Range{Low: k, High: k}, Range{Low: rho, High: rho}, CountPoints, 12),
			Table{Units: 20, Leave: []int{1, 6, 12, 22}, Act: []int{11, 16, 21, 23}}},
	} {
		s, err := NewStagePlan(c.terms, c.table)
		if err != nil {
			t.Fatal(err)
		}
		for i, level := range []float64{s.Lower, s.Threshold, s.Upper} {
			want := s.Effort[i]
			rng := rand.New(rand.NewPCG(11, uint64(i)))
			// Stops' means are gamma distributed with variance rho v, counts about them with
			// what is left of v: by hand from the variance of a leaf.
			v := level + level*level/k
			shape := level * level / (rho * v)
			within := (level*level + rho*v) / (v - rho*v - level)
			const visits = 12000
			from := s.WorthFrom()
			var acts, stops, plants float64
			for range visits {
				total, verdict := 0, Continue
				for j := 0; verdict == Continue; j++ {
					stops++
					mean := distuv.Gamma{Alpha: shape, Beta: shape / level, Src: rng}.Rand()
					found := 0
					for i := 0; i < 10 && !(s.Worth.Cap > 0 && found >= s.Worth.Cap); i++ {
						plants++
						for range 2 {
							leaf := distuv.Gamma{Alpha: within, Beta: within / mean, Src: rng}.Rand()
							found += int(distuv.Poisson{Lambda: leaf, Src: rng}.Rand())
						}
					}
					worth := min(found, s.Worth.Cap)
					if s.Worth.Points != nil {
						worth = 0
						for _, least := range from {
							if found >= least {
								worth++
							}
						}
					}
					total += worth
					verdict = s.Table.Verdict(j+1, total)
				}
				if verdict == Act {
					acts++
				}
			}
			near := func(what string, seen, want, se float64) {
				if math.Abs(seen-want) > 4*se {
					t.Errorf("%v at %g, %s: drawn %.4f, computed %.4f, standard error %.4f", c.terms.Stop.Counting, level, what, seen, want, se)
				}
			}
			near("act", acts/visits, want.Act, math.Sqrt(want.Act*(1-want.Act)/visits))
			near("stops", stops/visits, want.Stops, 1.2/math.Sqrt(visits))
			near("plants", plants/visits, want.Plants, 12/math.Sqrt(visits))
			near("minutes", (3*stops+.25*plants)/visits, want.Minutes, 7/math.Sqrt(visits))
			if capped := s.Worth.Cap > 0; capped != (want.Plants < 10*want.Stops-1e-9) {
				t.Errorf("%v: %g plants at %g stops", c.terms.Stop.Counting, want.Plants, want.Stops)
			}
		}
	}
}

// What a scout is told of insects is what the table says of what the stops count.
func TestCheckCountedInsects(t *testing.T) {
	one := func(x float64) Range { return Range{Low: x, High: x} }
	capped := countedPlan(t, insectTerms(one(.6), one(.12), CountCapped, 14),
		Table{Units: 20, Leave: []int{NeverLeave, 30, 32, 38}, Act: []int{NeverAct, 36, 37, 39}})
	points := countedPlan(t, insectTerms(one(.6), one(.12), CountPoints, 12),
		Table{Units: 20, Leave: []int{1, 6, 12, 22}, Act: []int{11, 16, 21, 23}})
	edges := points.WorthFrom()
	for _, c := range []struct {
		s             *StagePlan
		counts        string
		want          string // verdict, or the error
		counted       int
		ended         int
		leave, act    int // of the next stop, in insects
		anyLeaves, un bool
	}{
		{s: capped, counts: "3", want: "continue", counted: 3, leave: 14, act: NeverAct, anyLeaves: true},
		{s: capped, counts: "14+", want: "continue", counted: 14, ended: 1, leave: 14, act: NeverAct, anyLeaves: true},
		{s: capped, counts: "900/3", want: "continue", counted: 14, ended: 1, leave: 14, act: NeverAct, anyLeaves: true}, // a full stop
		{s: capped, counts: "14+ 14+", want: "leave", counted: 28, ended: 2},
		{s: capped, counts: "13+", want: "stop 1: 13+, but a stop counts up to 14; look on until 14 are found or all plants were seen"},
		{s: points, counts: "0", want: "leave", counted: 0},
		{s: points, counts: "2", want: "continue", counted: 2, leave: edges[4] - 1, act: NeverAct}, // 4 points more to leave, 14 to act
		{s: points, counts: "9", want: "continue", counted: 5, leave: edges[1] - 1, act: edges[10]},
		{s: points, counts: "5000", want: "act", counted: 12},
		{s: points, counts: "3+", want: "stop 1: 3+ is for plans that count no more than so many at a stop; write the number found"},
	} {
		var counts []Count
		for _, text := range strings.Fields(c.counts) {
			n, err := ParseCount(text)
			if err != nil {
				t.Fatal(err)
			}
			counts = append(counts, n)
		}
		a, err := c.s.Check(counts)
		if err != nil {
			if err.Error() != c.want {
				t.Errorf("%s: %v", c.counts, err)
			}
			continue
		}
		if a.Verdict.String() != c.want || a.Counted != c.counted || a.Ended != c.ended {
			t.Errorf("%s: %v, counted %d, %d ended", c.counts, a.Verdict, a.Counted, a.Ended)
		}
		if a.Next != nil && (a.Next.Leave != c.leave || a.Next.Act != c.act || a.Next.AnyLeaves != c.anyLeaves) {
			t.Errorf("%s: next %+v", c.counts, *a.Next)
		}
	}
	// Nothing on half of the plants says less for leaving: it counts more.
	half, err := points.Check([]Count{{Total: 0, Plants: 5}})
	if err != nil || half.Counted < 1 || !half.Uneven || len(half.Risks) == 0 {
		t.Errorf("nothing on five plants: %+v, %v", half, err)
	}
}
