package validate

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"stopwise/plans"
	"stopwise/sampling"
)

// TestClumpedAnchor: the textbook's binomial lines, risks 10% and 10% at 15% and
// 30%, 20 plants a stop, 2 to 20 stops, run at 0.149 and 0.212 where rho is 0.1.
// Computed independently outside the project.
func TestClumpedAnchor(t *testing.T) {
	p := protocol(plans.Range{Low: 0, High: 0}, 20, 20)
	p = p.Each(func(s *plans.Stage) { s.Stop.Minimum = 2 })
	r := degreeRho.at(stagePlan(t, p, plans.Lines), 0.1)
	if math.Abs(r.Needless.Value-0.149) > 5e-4 || math.Abs(r.Missed.Value-0.212) > 5e-4 {
		t.Errorf("risks %.4f and %.4f", r.Needless.Value, r.Missed.Value)
	}
	if !r.Needless.IsExact() || r.Needless.SE() != 0 {
		t.Error("an exact chance has a standard error")
	}
}

func TestMisreadByEnumeration(t *testing.T) {
	m := sampling.Misread{Truth: sampling.Infested{P: .3, Rho: .2}, Overlooked: .25, FalseAlarm: .1}
	truth := m.Truth.Stop(3).Probs(3)
	// Every plant infested or not, and read one way or the other.
	var want [4]float64
	for infested := range 8 {
		x := ones(infested)
		p := truth[x] / [...]float64{1, 3, 3, 1}[x]
		for read := range 8 {
			q := p
			for i := range 3 {
				hit, seen := infested>>i&1 == 1, read>>i&1 == 1
				switch {
				case hit && seen:
					q *= .75
				case hit:
					q *= .25
				case seen:
					q *= .1
				default:
					q *= .9
				}
			}
			want[ones(read)] += q
		}
	}
	for x, p := range m.Stop(3).Probs(3) {
		if math.Abs(p-want[x]) > 1e-14 {
			t.Errorf("P(%d) = %v, want %v", x, p, want[x])
		}
	}
}

func ones(x int) int { return x&1 + x>>1&1 + x>>2&1 }

// TestMisreadMoments: mean and variance of what is written down, from those of
// the truth by conditioning on it.
func TestMisreadMoments(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(t, "plants")
		m := sampling.Misread{
			Truth:      sampling.Infested{P: rapid.Float64Range(0, 1).Draw(t, "p"), Rho: rapid.Float64Range(0, .9).Draw(t, "rho")},
			Overlooked: rapid.Float64Range(0, 1).Draw(t, "overlooked"),
			FalseAlarm: rapid.Float64Range(0, 1).Draw(t, "false alarms"),
		}
		truth, stop := m.Truth.Stop(n), m.Stop(n)
		hit, alarm := 1-m.Overlooked, m.FalseAlarm
		mean := truth.Mean()*hit + (float64(n)-truth.Mean())*alarm
		variance := truth.Mean()*hit*(1-hit) + (float64(n)-truth.Mean())*alarm*(1-alarm) + (hit-alarm)*(hit-alarm)*truth.Variance()
		if math.Abs(stop.Mean()-mean) > 1e-9 || math.Abs(stop.Variance()-variance) > 1e-8 {
			t.Errorf("mean %v and variance %v, want %v and %v", stop.Mean(), stop.Variance(), mean, variance)
		}
		if sum := stop.Tails(n)[0]; math.Abs(sum-1) > 1e-12 {
			t.Errorf("chances sum to %v", sum)
		}
		if m.Level() != m.Truth.P {
			t.Error("the level is not the true one")
		}
	})
}

// TestMisreadCounts thins a negative binomial term by term.
func TestMisreadCounts(t *testing.T) {
	m := sampling.MisreadCounts{Truth: sampling.AlikeCounts{Mean: 2, K: .7}, Overlooked: .3}
	truth := sampling.Counts{Mean: 2, K: .7}.Stop(4).Probs(400)
	want := make([]float64, 21)
	for x, p := range truth {
		for y, q := range chancesOf(x, .7) {
			if y < len(want) {
				want[y] += p * q
			}
		}
	}
	for y, got := range m.Stop(4).Probs(20) {
		if math.Abs(got-want[y]) > 1e-12 {
			t.Errorf("P(%d) = %v, want %v", y, got, want[y])
		}
	}
}

// TestMisreadsSimulated is a second route to the exact risks of a scout who
// misreads plants: plant by plant.
func TestMisreadsSimulated(t *testing.T) {
	s := usualPlan(t)
	slip := Slip{Overlooked: .1, FalseAlarm: .03}
	r := rand.New(rand.NewPCG(9, 9))
	for _, w := range []plans.World{s.Clumped(s.Lower), s.Clumped(s.Upper)} {
		exact := plans.Evaluate(s.Table, sampling.Misread{Truth: sampling.Infested{P: w.Level, Rho: w.Clump}, Overlooked: slip.Overlooked, FalseAlarm: slip.FalseAlarm})
		var v Visits
		for range 20000 {
			var on tally
			for {
				seen := 0
				infested := urn(r, 20, w.Level, 1-w.Level, w.Clump/(1-w.Clump))
				for i := range 20 {
					u := r.Float64()
					if i < infested && u >= slip.Overlooked || i >= infested && u < slip.FalseAlarm {
						seen++
					}
				}
				if act, done := on.stop(newCounter(s, nil), seen, 20, 20, r); done {
					v.add(act, on.stops, on.plants, 0)
					break
				}
			}
		}
		nearChance(t, "act", v.ActChance(), exact.Act)
		nearMean(t, "stops", v.MeanStops(), exact.ExpectedStops)
	}
	none := Misreads(s, Slip{})
	if worst := s.WorstMissed().Missed; math.Abs(none.Missed.Value-worst) > 1e-12 {
		t.Errorf("without a slip the missed risk is %v, the plan's own is %v", none.Missed.Value, worst)
	}
}

// TestPatches: the share, the correlation and nothing else is that of a
// beta-binomial; Var = m p (1-p) [1 + (m-1) rho].
func TestPatches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, rho := rapid.Float64Range(0, 1).Draw(t, "p"), rapid.Float64Range(0, .95).Draw(t, "rho")
		m := rapid.IntRange(1, 40).Draw(t, "plants")
		got, want := sampling.Patches{P: p, Rho: rho}.Stop(m), sampling.BetaBinomial{Plants: m, P: p, Rho: rho}
		if math.Abs(got.Mean()-want.Mean()) > 1e-9 || math.Abs(got.Variance()-want.Variance()) > 1e-8 {
			t.Errorf("mean %v and variance %v, want %v and %v", got.Mean(), got.Variance(), want.Mean(), want.Variance())
		}
		if sum := got.Tails(m)[0]; math.Abs(sum-1) > 1e-12 {
			t.Errorf("chances sum to %v", sum)
		}
	})
	if d := (sampling.Patches{P: 0.2}).Stop(20).Probs(20); math.Abs(d[3]-sampling.Binomial{Plants: 20, P: .2}.Probs(20)[3]) > 1e-15 {
		t.Error("without clumping it is not the binomial")
	}
}

// TestMixed holds the quadrature against many even steps.
func TestMixed(t *testing.T) {
	s := usualPlan(t)
	between := plans.Range{Low: 0, High: .4}
	got := ownDegree(s).mixed(s, between)
	var needless, missed, stops float64
	const n = 400
	for i := range n {
		r := ownDegree(s).at(s, between.High*(float64(i)+.5)/n)
		needless += r.Needless.Value / n
		missed += r.Missed.Value / n
		stops += r.Stops[1].Value / n
	}
	if math.Abs(got.Needless.Value-needless) > 1e-6 || math.Abs(got.Missed.Value-missed) > 1e-6 || math.Abs(got.Stops[1].Value-stops) > 1e-5 {
		t.Errorf("%v %v %v, by steps %v %v %v", got.Needless.Value, got.Missed.Value, got.Stops[1].Value, needless, missed, stops)
	}
	one := ownDegree(s).mixed(s, plans.Range{Low: .1, High: .1})
	if one.Needless != ownDegree(s).at(s, .1).Needless {
		t.Error("a mixture of one value is not that value")
	}
}

// TestShort: with the planned number of plants it is the plan itself, and with
// fewer the risks are those of a second simulation, plant by plant.
func TestShort(t *testing.T) {
	for _, s := range []*plans.StagePlan{usualPlan(t), stagePlan(t, counts(.8), plans.Lines)} {
		o := Options{Visits: 20000, Seed: 3}
		full, err := Short(context.Background(), s, 1, o)
		if err != nil {
			t.Fatal(err)
		}
		low, high := s.Evaluate(s.Clumped(s.Lower)), s.Evaluate(s.Clumped(s.Upper))
		nearChance(t, "needless", full.Needless, low.Act)
		nearChance(t, "missed", full.Missed, high.Leave)
		nearMean(t, "stops", full.Stops[2], high.ExpectedStops)
	}
	s := usualPlan(t)
	half, err := Short(context.Background(), s, .5, Options{Visits: 20000, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(1, 1))
	w := s.Clumped(s.Upper)
	leave := 0
	const n = 20000
	for range n {
		var counts []plans.Count
		for {
			plants := 10 + r.IntN(11)
			counts = append(counts, plans.Count{Plants: plants, Total: urn(r, plants, w.Level, 1-w.Level, w.Clump/(1-w.Clump))})
			units, total := 0, 0
			for _, c := range counts {
				units += c.Plants
				total += c.Total
			}
			a, b := s.Table.At(len(counts), units)
			if total <= a {
				leave++
			}
			if total <= a || total >= b {
				break
			}
		}
	}
	second := float64(leave) / n
	if se := math.Sqrt2 * half.Missed.SE(); math.Abs(half.Missed.Value-second) > sigmas*se {
		t.Errorf("missed %v, by a second route %v", half.Missed, second)
	}
}

func TestHoldsTo(t *testing.T) {
	up := func(limit float64) func(float64) bool { return func(x float64) bool { return x <= limit } }
	for _, c := range []struct {
		name      string
		from, to  float64
		keeps     func(float64) bool
		last      float64
		whole, ok bool
	}{
		{"up", 0, 1, up(.3), .3, false, true},
		{"down", 1, 0, func(x float64) bool { return x >= .3 }, .3, false, true},
		{"all the way", 0, 1, up(2), 1, true, true},
		{"not at home", .5, 1, up(.3), .5, false, false},
		{"nowhere to go", .5, .5, up(.6), .5, true, true},
		{"holds again further on", 0, 1, func(x float64) bool { return x <= .2 || x >= .4 }, .2, false, true},
		{"only at home", 0, 1, up(0), 0, false, true},
	} {
		last, whole, ok := HoldsTo(c.from, c.to, c.keeps)
		if ok != c.ok || whole != c.whole || math.Abs(last-c.last) > limitDigits*math.Abs(c.to-c.from) || ok && !c.keeps(last) {
			t.Errorf("%s: %v %v %v, want %v %v %v", c.name, last, whole, ok, c.last, c.whole, c.ok)
		}
	}
}

// TestSurveys: what a survey says of where the promise holds agrees with its
// rows, computed on their own.
func TestSurveys(t *testing.T) {
	for _, s := range []*plans.StagePlan{usualPlan(t), stagePlan(t, counts(.8), plans.RiskTrue)} {
		v := SurveyClumping(s, nil)
		h := v.Holds[0]
		if !h.OK || h.Low > h.Home || h.High < h.Home {
			t.Fatalf("%+v", h)
		}
		for _, r := range v.Rows {
			x := r.Numbers[0].Value
			if x > h.Low+.01 && x < h.High-.01 && r.Keeps(s) != Within {
				t.Errorf("%v breaks the promise, and the survey says it holds from %v to %v", r.Numbers, h.Low, h.High)
			}
		}
		// Clumped worlds are the harder ones.
		edge, beyond := h.High, h.High+.02
		if s.Measure == plans.MeanPerLeaf {
			edge, beyond = h.Low, h.Low-.02
		}
		if ownDegree(s).at(s, edge).Keeps(s) != Within || ownDegree(s).at(s, beyond).Keeps(s) == Within {
			t.Errorf("the promise does not end at %v", edge)
		}
		for _, v := range []Survey{SurveyMixture(s, nil, nil), SurveyMisread(s, nil)} {
			if len(v.Rows) < 3 {
				t.Errorf("%s: %d rows", v.World, len(v.Rows))
			}
		}
	}
	over := plans.Range{Low: .1, High: .2}
	s := usualPlan(t)
	if v := SurveyClumping(s, &over); len(v.Rows) != gridSteps || v.Rows[0].Numbers[0].Value != .1 || v.Rows[8].Numbers[0].Value != .2 {
		t.Errorf("rows %v", v.Rows)
	}
	if v := SurveyPatches(s, nil); v.Rows[0].Needless.Value > ownDegree(s).at(s, 0).Needless.Value+1e-12 {
		t.Error("patches without clumping are not independent plants")
	}
}

func TestTaylorSurvey(t *testing.T) {
	p := counts(1)
	p.Stages[0].Clumping = plans.Clumping{Taylor: &plans.Taylor{A: 3, B: 1.5}, CountRho: &plans.Range{}}
	s := stagePlan(t, p, plans.RiskTrue)
	v := SurveyClumping(s, nil)
	if v.World != OtherK || len(v.Rows) == 0 || len(v.Holds) != 1 {
		t.Errorf("%+v", v)
	}
}

// chancesOf returns the binomial distribution, that of no plants included.
func chancesOf(n int, p float64) []float64 {
	if n == 0 {
		return []float64{1}
	}
	return sampling.Binomial{Plants: n, P: p}.Probs(n)
}
