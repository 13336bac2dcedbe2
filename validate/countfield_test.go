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

// alikePlan returns a plan for means whose leaves are alike at a stop. It must not
// be changed.
func alikePlan(t testing.TB, countRho plans.Range) *plans.StagePlan {
	t.Helper()
	p := counts(.8)
	p.Stages[0].Clumping.CountRho = &countRho
	p.Stages[0].Stop.Plants, p.Stages[0].Stop.Maximum, p.Stages[0].Unit.Leaves = 5, 25, 2
	p.Stages[0].Lower, p.Stages[0].Threshold, p.Stages[0].Upper = 2, 3, 5
	return stagePlan(t, p, plans.RiskTrueLines)
}

// inCell is what a stop in a place of a given mean holds, as alike counts: means of
// stops a gamma of shape stops about that of the place, units within of them with
// the k within.
func inCell(c counting, mean float64) sampling.AlikeCounts {
	between := mean * mean / c.stops
	v := mean + between + (mean*mean+between)/c.within
	k := math.Inf(1)
	if v > mean {
		k = mean * mean / (v - mean)
	}
	return sampling.AlikeCounts{Mean: mean, K: k, Rho: between / v}
}

// TestCountFieldsDifferInArrangementOnly: whatever the pattern, the mean over the
// field is the one asked for, and the variance of one unit and of the total of m of
// them, by the law of total variance over the cells, is that of alike counts.
func TestCountFieldsDifferInArrangementOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(Patterns).Draw(t, "pattern")
		mean, k := math.Exp(rapid.Float64Range(-3, 4).Draw(t, "ln mean")), math.Exp(rapid.Float64Range(-1.5, 3).Draw(t, "ln k"))
		rho := sampling.MaxCountRho(mean, k) * rapid.Float64Range(0, .999).Draw(t, "share of the limit")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		f := MakeCountField(DefaultGround, p, mean, k, rho, r)
		along, across := f.Cells()
		n := float64(along * across)
		for _, units := range []int{1, 2, 12} {
			var sum, squares, within float64
			for i := range along {
				for j := range across {
					q := f.Cell(i, j)
					if !(q >= 0) {
						t.Fatalf("mean %v in a cell", q)
					}
					one := inCell(*f.counting, q).Stop(units)
					sum += one.Mean()
					squares += one.Mean() * one.Mean()
					if q > 0 {
						within += one.Variance()
					}
				}
			}
			want := sampling.AlikeCounts{Mean: mean, K: k, Rho: rho}.Stop(units)
			m := sum / n
			v := squares/n - m*m + within/n
			if math.Abs(m-want.Mean()) > 1e-9*want.Mean() || math.Abs(v-want.Variance()) > 1e-6*want.Variance() {
				t.Fatalf("%s, %d units: mean %v and variance %v, want %v and %v", p, units, m, v, want.Mean(), want.Variance())
			}
		}
	})
}

// TestUniformCountFieldsAreExact: where the pest is spread evenly no route matters,
// and the made fields must do what the exact evaluation says, also where few insects
// make the correlation impossible.
func TestUniformCountFieldsAreExact(t *testing.T) {
	s := alikePlan(t, plans.Range{Low: .05, High: .15})
	for _, c := range []struct{ k, rho float64 }{{0, .15}, {0, 0}, {0, .9}, {2, .3}} {
		o := WalkOptions{Options: Options{Visits: 4000, Seed: 2}, Patterns: []Pattern{Uniform}, Routes: []Route{W, Random}, Rho: c.rho, K: c.k, Speed: 60}
		rows, err := Walks(context.Background(), s, o)
		if err != nil {
			t.Fatal(err)
		}
		k := c.k
		if k == 0 {
			k = .8
		}
		for _, r := range rows {
			for i, level := range levels(s) {
				e := plans.Evaluate(s.Table, sampling.AlikeCounts{Mean: level, K: k, Rho: math.Min(c.rho, sampling.MaxCountRho(level, k))})
				nearChance(t, string(r.Route), r.At[i].ActChance(), e.Act)
				nearMean(t, string(r.Route), r.At[i].MeanStops(), e.ExpectedStops)
			}
		}
	}
}

// TestCountFieldExactAtRandom: in one field with the pest along a strip, a walk to random places meets each cell in proportion to how much of it lies within
// the margin. The exact risks are computed from that, cell by cell.
func TestCountFieldExactAtRandom(t *testing.T) {
	s := alikePlan(t, plans.Range{Low: .05, High: .15})
	r := rand.New(rand.NewPCG(4, 4))
	f := MakeCountField(DefaultGround, Strip, 3, .8, .5, r)
	g, most := f.Ground, 0
	for _, a := range s.Table.Act {
		if a != plans.NeverAct {
			most = max(most, a)
		}
	}
	one := make([]float64, most+1) // chance of each total at a stop; the last stands for all above
	along, across := f.Cells()
	overlap := func(i, n int, length float64) float64 {
		from, to := float64(i)*length/float64(n), float64(i+1)*length/float64(n)
		return math.Max(0, math.Min(to, length-Margin)-math.Max(from, Margin)) / (length - 2*Margin)
	}
	for i := range along {
		for j := range across {
			w := overlap(i, along, g.Length) * overlap(j, across, g.Width)
			if w == 0 {
				continue
			}
			for x, p := range inCell(*f.counting, f.Cell(i, j)).Stop(s.Table.Units).Probs(most - 1) {
				one[x] += w * p
			}
		}
	}
	one[most] = 1
	for _, p := range one[:most] {
		one[most] -= p
	}
	act := exactAct(s.Table, one)
	const visits = 20000
	w, err := NewWalk(Random, g, Spacing{Metres: 180, Fewest: s.Table.First(), Most: s.Table.Stops()}, r)
	if err != nil {
		t.Fatal(err)
	}
	acted := 0
	for range visits {
		if _, _, act := walkField(newCounter(s, nil), f, w, 60, nil); act {
			acted++
		}
	}
	nearChance(t, "act along a strip", Chance{Value: float64(acted) / visits, Visits: visits}, act)
	if even := plans.Evaluate(s.Table, sampling.AlikeCounts{Mean: 3, K: .8, Rho: .5}).Act; math.Abs(even-act) < .02 {
		t.Errorf("act %v, and %v in a field without a pattern: the test tells nothing", act, even)
	}
}

// exactAct walks a table by plain sums over the totals.
func exactAct(table plans.Table, one []float64) float64 {
	act, at := 0.0, map[int]float64{0: 1}
	for j := range table.Leave {
		next := map[int]float64{}
		for total, p := range at {
			for x, q := range one {
				switch sum := total + x; {
				case sum >= table.Act[j]:
					act += p * q
				case sum > table.Leave[j]:
					next[sum] += p * q
				}
			}
		}
		at = next
	}
	return act
}

// TestRouteMattersForMeans: a plan with early verdicts sees only the near end of a
// zigzag on a gradient.
func TestRouteMattersForMeans(t *testing.T) {
	s := alikePlan(t, plans.Range{Low: .05, High: .15})
	rows, err := Walks(context.Background(), s, WalkOptions{Options: Options{Visits: 3000, Seed: 2}, Patterns: []Pattern{Gradient}, Routes: []Route{Zigzag, Transect}, Rho: .15, Speed: 60})
	if err != nil {
		t.Fatal(err)
	}
	if z, x := rows[0].Missed(), rows[1].Missed(); z.Value < x.Value+6*math.Hypot(z.SE(), x.SE()) {
		t.Errorf("missed on a gradient: zigzag %v, transect %v", z, x)
	}
}

// TestSurveysOfAlikeCounts: what is said of the correlation of counts agrees with
// exact evaluations of single worlds.
func TestSurveysOfAlikeCounts(t *testing.T) {
	s := alikePlan(t, plans.Range{Low: .05, High: .15})
	in := func(level, rho float64, patches bool) plans.Evaluation {
		rho = math.Min(rho, sampling.MaxCountRho(level, .8))
		if patches {
			return plans.Evaluate(s.Table, sampling.PatchyCounts{Mean: level, K: .8, Rho: rho})
		}
		return plans.Evaluate(s.Table, sampling.AlikeCounts{Mean: level, K: .8, Rho: rho})
	}
	alike := SurveyAlike(s, nil)
	seen := map[float64]bool{}
	for _, r := range alike.Rows {
		rho := r.Numbers[0].Value
		seen[rho] = true
		if math.Abs(r.Needless.Value-in(s.Lower, rho, false).Act) > 1e-12 || math.Abs(r.Missed.Value-in(s.Upper, rho, false).Leave) > 1e-12 {
			t.Errorf("%v: %v and %v", r.Numbers, r.Needless.Value, r.Missed.Value)
		}
	}
	if !seen[0] || !seen[.05] || !seen[.15] || !seen[.3] {
		t.Errorf("correlations %v", seen)
	}
	h := alike.Holds[0]
	kept, breaks := s.CountRhoSlack()
	if !h.OK || h.Home != .15 || math.Abs(h.High-kept) > .002 || breaks < kept || breaks > kept+.0003 {
		t.Errorf("holds %+v, slack from %v to %v", h, kept, breaks)
	}
	if over := in(s.Lower, breaks, false).Act > s.NeedlessRisk || in(s.Upper, breaks, false).Leave > s.MissedRisk; !over {
		t.Errorf("at %v neither risk is broken", breaks)
	}
	for _, r := range SurveyPatches(s, nil).Rows {
		rho := r.Numbers[0].Value
		if math.Abs(r.Missed.Value-in(s.Upper, rho, true).Leave) > 1e-12 || r.Numbers[0].Name != "count_rho" {
			t.Errorf("patches, %v: %v", r.Numbers, r.Missed.Value)
		}
	}
	mixed := degreeAlike.mixed(s, plans.Range{Low: 0, High: .3})
	sum := 0.0
	for i := range 300 {
		sum += in(s.Upper, .3*(float64(i)+.5)/300, false).Leave / 300
	}
	if math.Abs(mixed.Missed.Value-sum) > 1e-6 {
		t.Errorf("mixture %v, by steps %v", mixed.Missed.Value, sum)
	}
	// A range of k beside it: the worst k counts, for the mean over fields of one k.
	wide := *s
	wide.Clumping.K = &plans.Range{Low: .6, High: .8}
	both := degreeAlike.mixed(&wide, plans.Range{Low: 0, High: .3})
	if both.Missed.Value <= mixed.Missed.Value {
		t.Errorf("missed %v with k down to .6, %v at .8", both.Missed.Value, mixed.Missed.Value)
	}
}

// TestSlacks: beside each number said, the promise holds; a little further on it
// breaks. The risks are those of single worlds, evaluated here.
func TestSlacks(t *testing.T) {
	taylor := counts(1)
	taylor.Stages[0].Clumping = plans.Clumping{Taylor: &plans.Taylor{A: 2, B: 1.4}, CountRho: &plans.Range{Low: .02, High: .08}}
	independent := stagePlan(t, counts(.8), plans.RiskTrueLines)
	for name, s := range map[string]*plans.StagePlan{
		"shares": usualPlan(t), "independent": independent, "alike": alikePlan(t, plans.Range{Low: .05, High: .15}), "taylor": stagePlan(t, taylor, plans.RiskTrueLines),
	} {
		all := Slacks(s)
		names := map[string]bool{}
		for _, x := range all {
			names[x.Name] = true
			law := s.Law()
			broken := func(v float64) bool {
				low, high := []sampling.Population{}, []sampling.Population{}
				add := func(f func(plans.World) sampling.Population, law plans.Law) {
					for _, w := range law.Worlds(s.Lower) {
						low = append(low, f(w))
					}
					for _, w := range law.Worlds(s.Upper) {
						high = append(high, f(w))
					}
				}
				switch x.Name {
				case "overlooked":
					add(func(w plans.World) sampling.Population { return w.Misread(v, 0) }, law)
				case "false_alarm":
					add(func(w plans.World) sampling.Population { return w.Misread(0, v) }, law)
				case "count_rho":
					add(plans.World.Population, law.With(nil, &v))
				default:
					add(plans.World.Population, law.With(&v, nil))
				}
				for i := range low {
					if plans.Evaluate(s.Table, low[i]).Act > s.NeedlessRisk+1e-9 || plans.Evaluate(s.Table, high[i]).Leave > s.MissedRisk+1e-9 {
						return true
					}
				}
				return false
			}
			step := .003 * math.Max(1, math.Abs(x.Home)) // beyond how closely limits are found
			if x.Name == "k" {
				step = -step
			}
			if broken(x.Last) || !broken(x.Last+step) {
				t.Errorf("%s: %+v: broken there %v, further on %v", name, x, broken(x.Last), broken(x.Last+step))
			}
		}
		want := map[string][]string{"shares": {"overlooked", "false_alarm", "rho"}, "independent": {"overlooked", "k"},
			"alike": {"overlooked", "k", "count_rho"}, "taylor": {"overlooked", "count_rho"}}[name]
		for _, n := range want {
			if !names[n] {
				t.Errorf("%s: nothing is said of %s", name, n)
			}
		}
		if len(names) != len(want) {
			t.Errorf("%s: %v", name, names)
		}
	}
	if broken := stagePlan(t, counts(.8), plans.Lines); Slacks(broken) != nil && !broken.Keeps() {
		t.Error("a plan that breaks its promise has slack")
	}
}
