package fit

import (
	"math"
	"math/rand/v2"
	"stopwise/sampling/pilot"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// The sum of logarithms is what its definition says, term by term, however small or
// large the products become.
func TestSumOfLogs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		totals := rapid.SliceOfN(rapid.IntRange(0, rapid.SampledFrom([]int{3, 20, 900}).Draw(t, "most")), 1, 40).Draw(t, "totals")
		var n []float64
		for _, x := range totals {
			n = countAt(n, x)
		}
		n = above(n)
		x := rapid.SampledFrom([]float64{1e-130, 1e-12, 0.003, 0.2, 0.97, 1}).Draw(t, "x")
		step := rapid.SampledFrom([]float64{0, 1e-9, 0.01, 0.2, 50}).Draw(t, "step")
		want, size := 0.0, 1.0
		for r, stops := range n {
			term := stops * math.Log(x+float64(r)*step)
			want, size = want+term, size+math.Abs(term)
		}
		if got := sumOfLogs(n, x, step); math.Abs(got-want) > 1e-13*size {
			t.Fatalf("%.17g, term by term %.17g", got, want)
		}
	})
}

// A field of 12 stops of 20 plants.
func BenchmarkFitRho(b *testing.B) {
	stops := []StopCount{}
	for _, x := range []int{3, 0, 5, 1, 8, 2, 4, 6, 0, 3, 2, 7} {
		stops = append(stops, StopCount{20, x})
	}
	for b.Loop() {
		if _, err := FitRho(stops, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}

// Many fields of few kinds, their stops in any order: what is reckoned once for those
// alike is what each says for itself.
func TestFieldsAlike(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	d := &pilot.Data{Layout: pilot.PerStop}
	var all []clump
	for i := range manyFields + 100 {
		f := pilot.Field{Name: strconv.Itoa(i)}
		for s := range 3 {
			plants := 4 + s%2
			f.Stops = append(f.Stops, pilot.Stop{Name: strconv.Itoa(s), Plants: plants, Infested: r.IntN(1 + plants)})
		}
		r.Shuffle(len(f.Stops), func(i, j int) { f.Stops[i], f.Stops[j] = f.Stops[j], f.Stops[i] })
		d.Fields = append(d.Fields, f)
		c, err := newClump(StopCounts(f))
		if err != nil {
			t.Fatal(err)
		}
		if c.informative() {
			all = append(all, c)
		}
	}
	some := alike(all)
	if len(some) > len(all)/2 {
		t.Errorf("%d of %d fields are taken apart", len(some), len(all))
	}
	for _, rho := range []float64{0, .1, .6} {
		got, want := adjustedProfile(some).value(rho), adjustedProfile(all).value(rho)
		if math.Abs(got-want) > 1e-11*math.Abs(want) {
			t.Errorf("rho %v: log-likelihood %v, field by field %v", rho, got, want)
		}
	}
	res, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range d.Fields {
		own, err := FitRho(StopCounts(f), .95)
		if err != nil {
			t.Fatal(err)
		}
		one := res.PerField[i]
		if one.Label != f.Name || one.Infested != f.Infested() || one.Rho.ML.Missing != own.ML.Missing ||
			own.ML.Known() && math.Abs(one.Rho.ML.Value-own.ML.Value) > 1e-9 {
			t.Fatalf("field %v: %v, by itself %v", f, one.Rho.ML, own.ML)
		}
	}
}
