package validate

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// TestFieldsDifferInArrangementOnly: whatever the pattern, the mean share over
// the field and the correlation of two plants at a stop anywhere are those asked
// for. By the law of total covariance rho p(1-p) = V + near E[q(1-q)].
func TestFieldsDifferInArrangementOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(Patterns).Draw(t, "pattern")
		share, rho := rapid.Float64Range(0.001, 0.999).Draw(t, "share"), rapid.Float64Range(0, 0.9).Draw(t, "rho")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		f := MakeField(DefaultGround, p, share, rho, r)
		var sum, squares, within float64
		along, across := f.Cells()
		for i := range along {
			for j := range across {
				q := f.Cell(i, j)
				if !(q >= 0 && q <= 1) {
					t.Fatalf("share %v in a cell", q)
				}
				sum += q
				squares += q * q
				within += q * (1 - q)
			}
		}
		n := float64(along * across)
		mean := sum / n
		variance := squares/n - mean*mean
		if math.Abs(mean-share) > 1e-9 {
			t.Errorf("mean share %v, want %v", mean, share)
		}
		if got := (variance + f.Near*within/n) / (mean * (1 - mean)); math.Abs(got-rho) > 1e-6 {
			t.Errorf("%s: rho %v, want %v", p, got, rho)
		}
		if p == Uniform && (f.Near != rho || f.Cell(0, 0) != share) {
			t.Error("a uniform field differs from place to place")
		}
	})
}

// TestPatternsAreWhatTheySay looks at one field of each.
func TestPatternsAreWhatTheySay(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	side := func(f Field) [4]float64 { // mean shares at the four sides
		var m [4]float64
		along, across := f.Cells()
		for j := range across {
			m[0] += f.Cell(0, j) / float64(across)
			m[1] += f.Cell(along-1, j) / float64(across)
		}
		for i := range along {
			m[2] += f.Cell(i, 0) / float64(along)
			m[3] += f.Cell(i, across-1) / float64(along)
		}
		return m
	}
	for range 20 {
		edge := MakeField(DefaultGround, Edge, .2, .15, r)
		above := 0
		for _, m := range side(edge) {
			if m > 2*.2 {
				above++
			}
		}
		if above != 1 {
			t.Errorf("edge: %d sides are heavily infested", above)
		}
		m := side(MakeField(DefaultGround, Gradient, .2, .15, r))
		if math.Abs((m[0]+m[1])/2-.2) > 1e-9 || math.Abs((m[2]+m[3])/2-.2) > 1e-9 {
			t.Errorf("gradient: opposite sides %v do not average to the mean", m)
		}
		// In spots most of the field is below the mean.
		f := MakeField(GroundOf(40, 4, 40), HotSpots, .2, .15, r)
		below := 0
		for i := range cellsAlong {
			for j := range cellsAcross {
				if f.Cell(i, j) < .2 {
					below++
				}
			}
		}
		if share := float64(below) / (cellsAlong * cellsAcross); share < .6 {
			t.Errorf("hot spots: %v of the field is below the mean", share)
		}
	}
}

func TestGround(t *testing.T) {
	g := GroundOf(40, 8, 50)
	if math.Abs(g.Length*g.Width-400000) > 1e-6 || math.Abs(g.Length/g.Width-1.5) > 1e-12 {
		t.Errorf("%+v", g)
	}
	for _, bad := range []Ground{GroundOf(.1, 8, 50), GroundOf(40, 0, 50), GroundOf(40, 8, 0), GroundOf(math.Inf(1), 8, 50), {}} {
		if bad.Check() == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
}
