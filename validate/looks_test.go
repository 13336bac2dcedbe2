package validate

import (
	"math"
	"testing"
)

// TestLooks: 18.9% and 56.3% were computed independently outside the project, for the
// threshold 22%, rho .1, 20 plants a stop and looks after stops 4 to 20, the band
// drawn for 10% on each side.
func TestLooks(t *testing.T) {
	l, err := Looks(0.22, 0.1, 20, 4, 20, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	last := l[len(l)-1]
	if len(l) != 17 || l[0].Stop != 4 || math.Abs(last.Alone-0.189) > 0.0005 || math.Abs(last.ByNow-0.563) > 0.0005 {
		t.Errorf("%d looks, the last %+v", len(l), last)
	}
	if math.Abs(l[0].Alone-l[0].ByNow) > 1e-12 {
		t.Errorf("the first look: alone %v, by now %v", l[0].Alone, l[0].ByNow)
	}
	if _, err := Looks(0.22, 0.1, 20, 5, 4, 0.1); err == nil {
		t.Error("looks that end before they begin are taken")
	}
}

// A plot has the share asked for, and plants of a place are alike as asked: the
// analysis of variance over places of many plots gives rho back.
func TestMakePlot(t *testing.T) {
	const share, rho = 0.15, 0.1
	between, within, n := 0.0, 0.0, 0.0
	for seed := range uint64(40) {
		p, err := MakePlot(share, rho, 10, 4, seed)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.Share-share) > plotNear || len(p.Scouts) != 10 || len(p.Scouts[0].Places) != 4 {
			t.Fatalf("share %v, %d scouts", p.Share, len(p.Scouts))
		}
		for x := range p.Along {
			for y := range p.Across {
				own := 0.0
				for i := range p.Wide {
					for j := range p.High {
						if p.Infested(x*p.Wide+i, y*p.High+j) {
							own++
						}
					}
				}
				own /= plotPlants
				between += (own - p.Share) * (own - p.Share)
				within += own * (1 - own) * plotPlants / (plotPlants - 1)
				n++
			}
		}
	}
	between, within = between/n, within/n
	component := between - within/plotPlants
	if got := component / (component + within); math.Abs(got-rho) > 0.01 {
		t.Errorf("rho %v, made for %v", got, rho)
	}
}

// Fields at the bounds are judged wrong about as often as the plan's exact risks say.
func TestSampleFields(t *testing.T) {
	s := usualPlan(t)
	levels := make([]float64, 4000)
	for i := range levels {
		levels[i] = s.Lower
	}
	seen, err := SampleFields(s, levels, 1)
	if err != nil {
		t.Fatal(err)
	}
	wrong := 0.0
	for _, f := range seen {
		if f.Wrong() {
			wrong++
		}
	}
	want := s.Evaluate(s.Clumped(s.Lower)).Act
	if got := wrong / 4000; math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/4000) {
		t.Errorf("wrong in %v, exact %v", got, want)
	}
}
