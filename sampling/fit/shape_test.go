package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

func drawPatches(r *rand.Rand, stops, plants int, p, rho float64) []StopCount {
	q := p + rho*(1-p)
	out := make([]StopCount, stops)
	for j := range out {
		out[j].Plants = plants
		if r.Float64() < p/q {
			out[j] = drawStops(r, 1, plants, q, 0)[0]
		}
	}
	return out
}

// TestShapeByHand: two stops of two plants, one with both infested, one with
// none, so p is 1/2. Patches at rho: q = (1+rho)/2, w = 1/(1+rho), and the
// likelihood is w q^2 (w (1-q)^2 + 1 - w) = (1+rho)/4 ((1-rho)^2/4 + rho)/(1+rho)
// = ((1+rho)/4)^2, highest as rho goes to 1; the beta-binomial has
// ((1+rho)/4)^2 as well (by hand).
func TestShapeByHand(t *testing.T) {
	stops := []StopCount{{2, 2}, {2, 0}}
	c := must(newClump(stops))
	patches := patchCurve([]clump{c}, [][]StopCount{stops})
	for _, rho := range []float64{0, .2, .7} {
		want := 2 * math.Log((1+rho)/4)
		if got := patches.value(rho); math.Abs(got-want) > 1e-12 {
			t.Errorf("rho %g: patches %g, want %g", rho, got, want)
		}
		if got := c.logLik(.5, thetaOf(rho)); math.Abs(got-want) > 1e-12 {
			t.Errorf("rho %g: beta-binomial %g, want %g", rho, got, want)
		}
	}
}

func TestShapeSlope(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	stops := append(drawPatches(r, 12, 20, .2, .2), drawPatches(r, 5, 7, .3, .1)...)
	c := must(newClump(stops))
	patches := patchCurve([]clump{c}, [][]StopCount{stops})
	for _, rho := range []float64{.01, .1, .3} {
		const h = 1e-6
		want := (patches.value(rho+h) - patches.value(rho-h)) / (2 * h)
		if got := patches.slope(rho); math.Abs(got-want) > 1e-4*math.Abs(want) {
			t.Errorf("rho %g: slope %g, want %g", rho, got, want)
		}
	}
}

func TestShapeMissing(t *testing.T) {
	s, err := CompareShapes([][]StopCount{{{5, 0}, {5, 0}}})
	if err != nil || s.Missing == "" || s.SpeaksFor != "" {
		t.Errorf("%+v, %v", s, err)
	}
}

// TestShapeRecovery counts how often made counts of either shape are taken for
// the right one and for the wrong one: 14 fields x 12 stops x 20 plants, shares
// of 3 to 45%, rho .1; 200 seeds with -recovery, otherwise 20.
func TestShapeRecovery(t *testing.T) {
	n := 20
	if *recovery {
		n = 200
	}
	for _, rho := range []float64{.05, .1, .2} {
		for truth, draw := range map[string]func(*rand.Rand, int, int, float64, float64) []StopCount{ShapeBeta: drawStops, ShapePatches: drawPatches} {
			found := map[string]int{}
			for seed := range n {
				r := rand.New(rand.NewPCG(77, uint64(seed)))
				var data [][]StopCount
				for _, p := range pilotShares(14) {
					data = append(data, draw(r, 12, 20, p, rho))
				}
				s := must(CompareShapes(data))
				found[s.SpeaksFor]++
				seen, beta, patches := 0, 0.0, 0.0
				for _, c := range s.Counts {
					seen, beta, patches = seen+c.Seen, beta+c.Beta, patches+c.Patches
				}
				if math.Abs(beta-float64(seen)) > 1e-6 || math.Abs(patches-float64(seen)) > 1e-6 || seen != s.Stops {
					t.Fatalf("%d stops seen, %g and %g expected, %d in all", seen, beta, patches, s.Stops)
				}
			}
			wrong := ShapeBeta
			if truth == ShapeBeta {
				wrong = ShapePatches
			}
			t.Logf("rho %g, true %s: right %d, not told %d, wrong %d of %d", rho, truth, found[truth], found[""], found[wrong], n)
			if found[truth] < 10*found[wrong] || found[truth] < n/2 {
				t.Errorf("rho %g, true %s: right %d, wrong %d of %d", rho, truth, found[truth], found[wrong], n)
			}
		}
	}
}
