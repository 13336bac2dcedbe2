package precision_test

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"stopwise/plans"
	"stopwise/plans/precision"
	"stopwise/sampling"
)

// Values computed independently outside the project from the formulas of Green
// (1970), with a = 2.5, b = 1.4, and Kuno (1969), with A = .5, B = 1.3; D = .25.
func TestStopLineAnchors(t *testing.T) {
	taylor, iwao := sampling.Taylor{A: 2.5, B: 1.4}, sampling.Iwao{A: .5, B: 1.3}
	for n, want := range map[float64]float64{10: 100.793684, 20: 63.496042, 50: 34.470955, 100: 21.715341} {
		got, ok := precision.GreenLine(taylor, .25, n)
		if !ok || math.Abs(got-want) > 5e-7 {
			t.Errorf("Green, n %g: %.6f, want %.6f", n, got, want)
		}
		if d2 := taylor.A * math.Pow(got/n, taylor.B-2) / n; math.Abs(d2-.0625) > 1e-12 {
			t.Errorf("Green, n %g: the precision at the line is %g, want .0625", n, d2)
		}
	}
	for n, want := range map[float64]float64{10: 46.153846, 20: 31.578947, 50: 26.548673} {
		if got, ok := precision.KunoLine(iwao, .25, n); !ok || math.Abs(got-want) > 5e-7 {
			t.Errorf("Kuno, n %g: %.6f, want %.6f", n, got, want)
		}
	}
}

// Where counts are Poisson, T is 1/d^2 whatever n is: Green with a = b = 1, Kuno
// with A = 0 and B = 1, and in the limit k to infinity and b to 1.
func TestStopLinePoissonLimits(t *testing.T) {
	for _, n := range []float64{1, 20, 400} {
		for name, line := range map[string]func() (float64, bool){
			"Green":      func() (float64, bool) { return precision.GreenLine(sampling.Taylor{A: 1, B: 1}, .2, n) },
			"Green near": func() (float64, bool) { return precision.GreenLine(sampling.Taylor{A: 1, B: 1 + 1e-9}, .2, n) },
			"Kuno":       func() (float64, bool) { return precision.KunoLine(sampling.Iwao{A: 0, B: 1}, .2, n) },
			"k large":    func() (float64, bool) { return precision.KunoLine(sampling.Iwao{A: 0, B: 1 + 1e-9}, .2, n) },
		} {
			if got, ok := line(); !ok || math.Abs(got-25) > 1e-6 {
				t.Errorf("%s, n %g: %g, want 25", name, n, got)
			}
		}
	}
	if got := precision.ShareLine(1, .2, 1e12); math.Abs(got-25) > 1e-6 {
		t.Errorf("share of very many plants: %g, want 25", got)
	}
}

func TestStopLineNoSolution(t *testing.T) {
	for _, b := range []float64{2, 2.3} {
		if _, ok := precision.GreenLine(sampling.Taylor{A: 2, B: b}, .25, 100); ok {
			t.Errorf("Green has a line at b = %g", b)
		}
	}
	if _, ok := precision.KunoLine(sampling.Iwao{A: .5, B: 1.3}, .25, 4.8); ok { // .3/.0625 = 4.8
		t.Error("Kuno has a total at n = (B-1)/d^2")
	}
	if _, ok := precision.KunoLine(sampling.Iwao{A: .5, B: 1.3}, .25, 5); !ok {
		t.Error("Kuno has no total just above n = (B-1)/d^2")
	}
}

func counts(change func(*precision.Spec)) precision.Spec {
	s := precision.Spec{
		Unit: plans.SampleUnit{Leaves: 1}, Stop: plans.StopRules{Plants: 10, Minimum: 1, Maximum: 20, WalkMinutes: 3, PlantMinutes: 1},
		Measure: plans.MeanPerLeaf, Taylor: &plans.Taylor{A: 2.5, B: 1.4}, Precision: .25, As: precision.StandardError, Confidence: .95,
	}
	if change != nil {
		change(&s)
	}
	return s
}

func shareOf(rho float64, change func(*precision.Spec)) precision.Spec {
	return counts(func(s *precision.Spec) {
		s.Measure, s.Taylor, s.Rho = plans.ShareInfested, nil, &rho
		if change != nil {
			change(s)
		}
	})
}

func withK(k float64) precision.Spec {
	return counts(func(s *precision.Spec) { s.Taylor, s.K = nil, &k })
}

func precisionPlan(t testing.TB, s precision.Spec) *precision.Plan {
	t.Helper()
	p, err := precision.Design(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Karandinos (1976), values computed independently outside the project: negative
// binomial m = k = 1, D = .25: 32 units for the standard error, 122.9267 for half
// the 95% interval; binomial p = .3: 37.3333; Taylor a = 2.5, b = 1.4, m = 2: 26.3902.
func TestNeededUnits(t *testing.T) {
	halfWidth := withK(1)
	halfWidth.As = precision.HalfWidth
	halfWidth.Stop.Maximum = 100
	for _, c := range []struct {
		spec        precision.Spec
		level, want float64
		digits      float64
	}{
		{withK(1), 1, 32, 1e-9},
		{halfWidth, 1, 122.9267, 5e-5},
		{shareOf(0, nil), .3, 37.3333, 5e-5},
		{counts(nil), 2, 26.3902, 5e-5},
	} {
		if got := precisionPlan(t, c.spec).NeededUnits(c.level); math.Abs(got-c.want) > c.digits {
			t.Errorf("%+v: %.6f units, want %.4f", c.spec, got, c.want)
		}
	}
}

func TestDesignPrecisionRefuses(t *testing.T) {
	half := .5
	for name, c := range map[string]struct {
		spec precision.Spec
		says string
	}{
		"precision 100": {counts(func(s *precision.Spec) { s.Precision = 1 }), "below 100%"},
		"no law":        {counts(func(s *precision.Spec) { s.Taylor = nil }), "one of k"},
		"two laws":      {counts(func(s *precision.Spec) { s.K = &half }), "one of k"},
		"rho 1":         {shareOf(1, nil), "below 1"},
		"as":            {counts(func(s *precision.Spec) { s.As = "variance" }), "half-width"},
		"confidence":    {counts(func(s *precision.Spec) { s.Confidence = 1 }), "confidence"},
		"stops":         {counts(func(s *precision.Spec) { s.Stop.Minimum = 30 }), "below the minimum"},
		"a of 0":        {counts(func(s *precision.Spec) { s.Taylor.A = 0 }), "above 0"},
	} {
		_, err := precision.Design(c.spec)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want something with %q", name, err, c.says)
		}
	}
	for _, c := range []struct {
		spec precision.Spec
		want precision.NoLine
	}{
		{counts(func(s *precision.Spec) { s.Taylor.B = 2 }), precision.NoLine{Maximum: 20, B: 2}},
		// More than 1/(k d^2) = 200 leaves, ten a stop.
		{counts(func(s *precision.Spec) { s.Taylor, s.K, s.Precision, s.Stop.Maximum = nil, &half, .1, 3 }), precision.NoLine{Maximum: 3, Units: 200, Stops: 21}},
		{counts(func(s *precision.Spec) { s.Taylor.B, s.Precision = 1.999, .01 }), precision.NoLine{Maximum: 20}},
	} {
		_, err := precision.Design(c.spec)
		var none *precision.NoLine
		if !errors.As(err, &none) || *none != c.want {
			t.Errorf("%v, want %+v", err, c.want)
		}
	}
}

// The stop number is the smallest whole total with the precision.
func TestStopAtIsSmallest(t *testing.T) {
	for name, s := range map[string]precision.Spec{
		"Green": counts(nil), "k": withK(.8), "share": shareOf(.1, nil),
		"Kuno": counts(func(s *precision.Spec) { s.Taylor, s.Iwao = nil, &plans.Iwao{A: .5, B: 1.3} }),
	} {
		p := precisionPlan(t, s)
		found := 0
		for _, r := range p.Rows() {
			if r.StopAt == nil {
				continue
			}
			found++
			for _, total := range []int{*r.StopAt, *r.StopAt - 1} {
				level := float64(total) / float64(r.Units)
				enough := level > 0 && p.NeededUnits(level) <= float64(r.Units)*(1+1e-12)
				if enough != (total == *r.StopAt) {
					t.Errorf("%s, stop %d: a total of %d is precise enough: %t", name, r.Stop, total, enough)
				}
			}
		}
		if found == 0 {
			t.Errorf("%s: no stop number at all", name)
		}
	}
}

// Every sequence of counts of a tiny plan, with its chance.
func TestPrecisionEffortBruteForce(t *testing.T) {
	for _, rho := range []float64{0, .2} {
		p := precisionPlan(t, shareOf(rho, func(s *precision.Spec) {
			s.Stop, s.Precision = plans.StopRules{Plants: 4, Minimum: 2, Maximum: 5}, .5
		}))
		for _, level := range []float64{.1, .35, .8} {
			probs := sampling.Infested{P: level, Rho: rho}.Stop(4).Probs(4)
			var want precision.Effort
			byStop := map[int]float64{}
			var walk func(stop, total int, chance float64)
			walk = func(stop, total int, chance float64) {
				n := float64(4 * stop)
				precise := stop >= 2 && float64(total) >= precision.ShareLine(1+3*rho, .5, n)-1e-9
				if stop >= 2 && (precise || stop == 5) {
					want.Stops += chance * float64(stop)
					byStop[stop] += chance
					if !precise {
						want.Short += chance
					}
					if math.Abs(float64(total)/n-level) <= .5*1.959963984540054*level+1e-12 {
						want.Inside += chance
					}
					return
				}
				for x, f := range probs {
					walk(stop+1, total+x, chance*f)
				}
			}
			walk(0, 0, 1)
			got, err := p.EffortAt(level)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got.Stops-want.Stops) > 1e-12 || math.Abs(got.Short-want.Short) > 1e-12 || math.Abs(got.Inside-want.Inside) > 1e-12 {
				t.Errorf("rho %g, level %g: %+v, by listing %+v", rho, level, got, want)
			}
			sum, within := 0.0, 0
			for stop := 2; stop <= 5 && within == 0; stop++ {
				if sum += byStop[stop]; sum >= .9 {
					within = stop
				}
			}
			if got.Within90 != within {
				t.Errorf("rho %g, level %g: nine in ten within %d stops, by listing %d", rho, level, got.Within90, within)
			}
		}
	}
}

// Simulated visits (seeded) against the exact recursion for counts: a difference
// of five standard errors would be a one in a million event.
func TestPrecisionEffortSimulated(t *testing.T) {
	const visits = 40000
	for name, c := range map[string]struct {
		spec  precision.Spec
		level float64
	}{
		"Green sparse": {counts(func(s *precision.Spec) { s.Stop.Minimum, s.Stop.Maximum = 2, 6 }), .8},
		"Green dense":  {counts(func(s *precision.Spec) { s.Precision = .15 }), 6},
		"k":            {counts(func(s *precision.Spec) { s.Taylor, s.K = nil, ptr(.8) }), 3},
		"Iwao Poisson": {counts(func(s *precision.Spec) { s.Taylor, s.Iwao = nil, &plans.Iwao{A: 0, B: 1} }), .4},
		"short":        {counts(func(s *precision.Spec) { s.Stop.Maximum = 3 }), 1.2},
	} {
		p := precisionPlan(t, c.spec)
		got, err := p.EffortAt(c.level)
		if err != nil {
			t.Fatal(err)
		}
		probs := p.Population(c.level).Stop(10).Probs(2000)
		cumulated := make([]float64, len(probs))
		sum := 0.0
		for i, f := range probs {
			sum += f
			cumulated[i] = sum
		}
		rng := rand.New(rand.NewPCG(7, 11))
		var stops, squares, short, inside float64
		for range visits {
			total := 0
			for j := 1; ; j++ {
				u := rng.Float64()
				x := 0
				for x < len(cumulated)-1 && cumulated[x] < u {
					x++
				}
				total += x
				precise := total >= p.StopAt(j)
				if !precise && j < p.Stop.Maximum {
					continue
				}
				stops += float64(j) / visits
				squares += float64(j*j) / visits
				if !precise {
					short += 1. / visits
				}
				if math.Abs(float64(total)/float64(10*j)-c.level) <= p.Half()*c.level+1e-12 {
					inside += 1. / visits
				}
				break
			}
		}
		tolerance := func(variance float64) float64 { return 5*math.Sqrt(variance/visits) + 1e-4 }
		if math.Abs(got.Stops-stops) > tolerance(squares-stops*stops) {
			t.Errorf("%s: %.4f stops, simulated %.4f", name, got.Stops, stops)
		}
		if math.Abs(got.Short-short) > tolerance(short*(1-short)) {
			t.Errorf("%s: short in %.4f, simulated %.4f", name, got.Short, short)
		}
		if math.Abs(got.Inside-inside) > tolerance(inside*(1-inside)) {
			t.Errorf("%s: inside in %.4f, simulated %.4f", name, got.Inside, inside)
		}
	}
}

func ptr[T any](x T) *T { return &x }

func TestPrecisionEffortRefuses(t *testing.T) {
	p := precisionPlan(t, counts(nil))
	for _, level := range []float64{0, -1, math.Inf(1), math.NaN(), 1e9} {
		if _, err := p.EffortAt(level); err == nil {
			t.Errorf("level %g accepted", level)
		}
	}
}

func TestPrecisionCheck(t *testing.T) {
	p := precisionPlan(t, counts(nil)) // T = 100.8 at 10 leaves, 63.5 at 20
	for _, c := range []struct {
		counts        []plans.Count
		done, precise bool
		stopAt, next  int
	}{
		{[]plans.Count{{Total: 101}}, true, true, 101, plans.NeverAct},
		{[]plans.Count{{Total: 100}}, false, false, 101, 0}, // 64 are enough at 20 leaves
		{[]plans.Count{{Total: 30}}, false, false, 101, 34},
		{[]plans.Count{{Total: 30}, {Total: 34}}, true, true, 64, plans.NeverAct},
		{[]plans.Count{{Total: 30}, {Total: 5}, {Total: 0, Plants: 20}}, false, false, 40, 0},
	} {
		a, err := p.Check(c.counts)
		if err != nil {
			t.Fatal(err)
		}
		if a.Done != c.done || a.Precise != c.precise || a.StopAt != c.stopAt || c.next != 0 && a.Next != c.next {
			t.Errorf("%v: done %t, precise %t, stop at %d, next %d", c.counts, a.Done, a.Precise, a.StopAt, a.Next)
		}
		if a.Precise != (a.RelativeError <= .25+1e-12) {
			t.Errorf("%v: precise %t with a relative error of %g", c.counts, a.Precise, a.RelativeError)
		}
	}
	nothing := make([]plans.Count, 20)
	a, err := p.Check(nothing)
	if err != nil || !a.Done || a.Precise || !math.IsInf(a.Half, 1) || a.Interval.Lower != 0 || !(a.Interval.Upper > 0 && a.Interval.Upper < 1) {
		t.Errorf("nothing found: %+v (%v)", a, err)
	}
	for _, bad := range [][]plans.Count{nil, make([]plans.Count, 21), {{Total: 1, Plants: 100000}}} {
		if _, err := p.Check(bad); err == nil {
			t.Errorf("%d counts accepted", len(bad))
		}
	}
	if _, err := precisionPlan(t, shareOf(0, nil)).Check([]plans.Count{{Total: 11}}); err == nil {
		t.Error("eleven infested of ten plants accepted")
	}
}

func TestPrecisionFile(t *testing.T) {
	for name, s := range map[string]precision.Spec{"counts": counts(nil), "k": withK(.8), "share": shareOf(.1, nil)} {
		p, err := precision.Design(s, .2, .5)
		if err != nil {
			t.Fatal(err)
		}
		p.Program = "test"
		text, err := p.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if !precision.IsFile(text) || plans.IsPlanFile(text) {
			t.Errorf("%s: the kind is not told apart", name)
		}
		back, err := precision.Read(text)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(back.Effort) != 2 {
			t.Errorf("%s: effort %+v, want that of two levels", name, back.Effort)
		}
		if d := cmp.Diff(p, back); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		edited := bytes.Replace(text, []byte(`"maximum_stops": 20`), []byte(`"maximum_stops": 19`), 1)
		if _, err := precision.Read(edited); err == nil || !strings.Contains(err.Error(), "was changed") {
			t.Errorf("%s: an edited file brings %v", name, err)
		}
		if _, err := plans.ReadPlan(text); err == nil || !strings.Contains(err.Error(), "kind") {
			t.Errorf("%s: taken for a decision plan: %v", name, err)
		}
	}
}

func FuzzReadPrecisionPlan(f *testing.F) {
	text, err := precisionPlan(f, counts(nil)).JSON()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"kind":"stopwise precision plan","version":1,"specification":{}}`))
	f.Add([]byte(`{"kind":"stopwise precision plan","version":2}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := precision.Read(text)
		if err != nil {
			return
		}
		again, err := p.JSON()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := precision.Read(again); err != nil {
			t.Fatal(err)
		}
	})
}

// Sampling to a precision ends sooner in denser fields, and chances are chances.
func TestPrecisionEffortProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := counts(func(s *precision.Spec) {
			s.Taylor = &plans.Taylor{A: rapid.Float64Range(1, 6).Draw(t, "a"), B: rapid.Float64Range(1, 1.8).Draw(t, "b")}
			s.Precision = rapid.Float64Range(.15, .5).Draw(t, "d")
			s.Stop.Maximum = rapid.IntRange(1, 15).Draw(t, "maximum")
		})
		p, err := precision.Design(s)
		if err != nil {
			var cannot *precision.NoLine
			if !errors.As(err, &cannot) {
				t.Fatal(err)
			}
			return
		}
		level := rapid.Float64Range(.2, 20).Draw(t, "level")
		a, err := p.EffortAt(level)
		if err != nil {
			t.Fatal(err)
		}
		b, err := p.EffortAt(2 * level)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range []precision.Effort{a, b} {
			if e.Stops < 1-1e-9 || e.Stops > float64(s.Stop.Maximum)+1e-9 || e.Short < 0 || e.Short > 1+1e-9 || e.Inside < 0 || e.Inside > 1+1e-9 || e.Within90 < 1 {
				t.Fatalf("%+v", e)
			}
		}
		if b.Stops > a.Stops+1e-6 || b.Short > a.Short+1e-6 {
			t.Fatalf("a denser field takes longer: %+v, %+v", a, b)
		}
	})
}

// Where the counts of a stop are alike, the line is the total at which the variance
// of a mean over stops, v [1 + (m-1) rho]/n, is as small as asked: computed here from
// the formula alone, for each law, planned stops and unequal ones.
func TestStopLineOfAlikeCounts(t *testing.T) {
	for name, c := range map[string]struct {
		spec precision.Spec
		v    func(mean float64) float64
	}{
		"k":      {precision.Spec{K: new(float64)}, func(m float64) float64 { return m + m*m/1.2 }},
		"taylor": {precision.Spec{Taylor: &plans.Taylor{A: 2.5, B: 1.4}}, func(m float64) float64 { return 2.5 * math.Pow(m, 1.4) }},
		"iwao":   {precision.Spec{Iwao: &plans.Iwao{A: .5, B: 1.3}}, func(m float64) float64 { return 1.5*m + .3*m*m }},
	} {
		rho := .15
		s := c.spec
		if s.K != nil {
			*s.K = 1.2
		}
		s.CountRho, s.Measure, s.Unit.Leaves = &rho, plans.MeanPerLeaf, 2
		s.Stop = plans.StopRules{Plants: 6, Minimum: 2, Maximum: 90, WalkMinutes: 3, PlantMinutes: .5}
		s.Precision, s.As, s.Confidence = .2, precision.StandardError, .95
		p, err := precision.Design(s)
		if err != nil {
			t.Fatal(name, err)
		}
		checked := 0
		for j := 2; j <= 90; j++ {
			at := p.StopAt(j)
			if at == plans.NeverAct {
				continue
			}
			checked++
			n := float64(12 * j)
			off := func(total int) float64 {
				mean := float64(total) / n
				return math.Sqrt(c.v(mean)*(1+11*rho)/n) / mean
			}
			if off(at) > .2+1e-9 || at > 1 && off(at-1) <= .2-1e-9 {
				t.Errorf("%s, stop %d: %d insects are enough, the error there is %g and with one less %g", name, j, at, off(at), off(at-1))
			}
		}
		if checked < 10 {
			t.Errorf("%s: only %d stops have a line", name, checked)
		}
		// Unequal stops: sum of m v [1 + (m-1) rho] over n^2.
		a, err := p.Check([]plans.Count{{Total: 60}, {Total: 20, Plants: 2}, {Total: 90, Plants: 9}})
		if err != nil {
			t.Fatal(err)
		}
		mean, spread := 170./34, 0.0
		for _, m := range []float64{12, 4, 18} {
			spread += m * c.v(mean) * (1 + (m-1)*rho)
		}
		if want := math.Sqrt(spread) / 34 / mean; math.Abs(a.RelativeError-want) > 1e-12 {
			t.Errorf("%s: unequal stops have an error of %g, want %g", name, a.RelativeError, want)
		}
	}
}

// What an estimate takes is simulated leaf by leaf: a gamma for the mean of a stop,
// one for each leaf, and a Poisson.
func TestPrecisionOfAlikeCountsSimulated(t *testing.T) {
	k, rho := .9, .25
	p, err := precision.Design(precision.Spec{K: &k, CountRho: &rho, Measure: plans.MeanPerLeaf, Unit: plans.SampleUnit{Leaves: 1},
		Stop: plans.StopRules{Plants: 5, Minimum: 2, Maximum: 40, WalkMinutes: 3, PlantMinutes: .5}, Precision: .3, As: precision.StandardError, Confidence: .9}, 4)
	if err != nil {
		t.Fatal(err)
	}
	e := p.Effort[0]
	r := rand.New(rand.NewPCG(7, 7))
	f := sampling.AlikeCounts{Mean: 4, K: k, Rho: rho}
	shape, within := f.StopShape(), f.WithinK()
	gamma := func(shape, mean float64) float64 {
		return distuv.Gamma{Alpha: shape, Beta: shape / mean, Src: r}.Rand()
	}
	const visits = 20000
	var stops, squares, short, inside float64
	for range visits {
		total, j := 0, 0
		for {
			j++
			of := gamma(shape, 4)
			for range 5 {
				if leaf := gamma(within, of); leaf > 0 {
					total += int(distuv.Poisson{Lambda: leaf, Src: r}.Rand())
				}
			}
			if j == 40 || total >= p.StopAt(j) {
				break
			}
		}
		stops += float64(j)
		squares += float64(j * j)
		if total < p.StopAt(j) {
			short++
		}
		if mean := float64(total) / float64(5*j); math.Abs(mean-4) <= 4*p.Half() {
			inside++
		}
	}
	mean := stops / visits
	if se := math.Sqrt((squares/visits - mean*mean) / visits); math.Abs(mean-e.Stops) > 4.5*se {
		t.Errorf("%g stops simulated, %g exact, standard error %g", mean, e.Stops, se)
	}
	for name, c := range map[string][2]float64{"short": {short / visits, e.Short}, "inside": {inside / visits, e.Inside}} {
		if se := math.Sqrt(c[1]*(1-c[1])/visits) + 1./visits; math.Abs(c[0]-c[1]) > 4.5*se {
			t.Errorf("%s: %g simulated, %g exact, standard error %g", name, c[0], c[1], se)
		}
	}
	independent := *p
	independent.CountRho = nil
	if plain, _ := independent.EffortAt(4); plain.Stops > .8*e.Stops {
		t.Errorf("%g stops where leaves are independent, %g where they are alike", plain.Stops, e.Stops)
	}
}
