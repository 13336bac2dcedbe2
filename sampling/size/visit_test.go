package size_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling/size"
)

func TestVisitAgainstReference(t *testing.T) {
	ref := readReference(t).FixedFourStops
	enough(t, len(ref.Cases), 30)
	for _, c := range ref.Cases {
		got, err := size.Visit(size.VisitRequest{
			Stops: ref.Stops, PlantsPerStop: ref.PlantsPerStop, Rho: c.Rho, ActShare: .25, NeedlessRisk: .1, MissedRisk: .1, At: []float64{c.P},
		})
		if err != nil {
			t.Fatal(err)
		}
		if got.Act != ref.ActAt {
			t.Errorf("acts at %d, want %d", got.Act, ref.ActAt)
		}
		if p := got.Points[0]; !near(p.Act, c.PAct, 1e-13) || !near(p.Act+p.Leave, 1, 1e-13) {
			t.Errorf("p %g, rho %g: P(act) %.15g, want %.15g", c.P, c.Rho, p.Act, c.PAct)
		}
	}
}

// TestVisitAnchors: four stops of twenty that act at a quarter seen, rho .1;
// computed independently outside the project.
func TestVisitAnchors(t *testing.T) {
	got, err := size.Visit(size.VisitRequest{
		Stops: 4, PlantsPerStop: 20, Rho: .1, ActShare: .25, Lower: .15, Upper: .30, NeedlessRisk: .1, MissedRisk: .1,
		At: []float64{.15, .20, .25, .30},
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{.0948, .2686, .5067, .7289} {
		if p := got.Points[i]; !near(p.Act, want, 5e-5) {
			t.Errorf("P(act) %.5f at %g, want %.4f", p.Act, p.Share, want)
		}
	}
	if got.Bounds.Tells {
		t.Error("four stops of twenty tell 15% from 30%, though eight are needed")
	}
}

// TestVisitAgainstClassify: the stops that classify says can tell, and one fewer
// where those cannot.
func TestVisitAgainstClassify(t *testing.T) {
	c := size.ClassifyRequest{Lower: .15, Upper: .30, NeedlessRisk: .1, MissedRisk: .1, PlantsPerStop: 20, Rho: .1}
	design, err := size.Classify(c)
	if err != nil {
		t.Fatal(err)
	}
	for stops := 1; stops <= design.Stops; stops++ {
		got, err := size.Visit(size.VisitRequest{Stops: stops, PlantsPerStop: 20, Rho: .1, Lower: .15, Upper: .30, NeedlessRisk: .1, MissedRisk: .1})
		if err != nil {
			t.Fatal(err)
		}
		b := got.Bounds
		if b.Tells != (stops == design.Stops) {
			t.Errorf("%d stops tell: %v", stops, b.Tells)
		}
		if b.Tells && (b.Best.Cutoff != design.Cutoff || !near(b.Best.MissedRisk, design.MissedRisk, 1e-14) || got.Act != design.Cutoff+1) {
			t.Errorf("got %+v, want %+v", b.Best, design.ClassifyDesign)
		}
		if b.LeastUpper != nil && (b.LeastUpper.Upper <= .30) != b.Tells {
			t.Errorf("%d stops tell 15%% from %g, though %v", stops, b.LeastUpper.Upper, b.Tells)
		}
		if b.GreatestLower != nil && (b.GreatestLower.Lower >= .15) != b.Tells {
			t.Errorf("%d stops tell %g from 30%%, though %v", stops, b.GreatestLower.Lower, b.Tells)
		}
	}
}

// TestBands puts the ends of every band back into the exact risks, and looks for a
// narrower one among all act numbers.
func TestBands(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := size.VisitRequest{
			Stops:         rapid.IntRange(1, 4).Draw(t, "stops"),
			PlantsPerStop: rapid.IntRange(1, 8).Draw(t, "plants"),
			Rho:           rapid.Float64Range(0, 0.5).Draw(t, "rho"),
			NeedlessRisk:  rapid.Float64Range(0.02, 0.4).Draw(t, "needless"),
			MissedRisk:    rapid.Float64Range(0.02, 0.4).Draw(t, "missed"),
		}
		n := r.Stops * r.PlantsPerStop
		r.Act = rapid.IntRange(1, n).Draw(t, "act")
		got, err := size.Visit(r)
		if err != nil {
			t.Fatal(err)
		}
		share := float64(r.Act) / float64(n)
		narrowest := math.Inf(1)
		for act := 1; act <= n; act++ {
			q := r
			q.Act = act
			v, err := size.Visit(q)
			if err != nil {
				t.Fatal(err)
			}
			b := v.Own
			q.At = []float64{b.Lower, b.Upper}
			ends, err := size.Visit(q)
			if err != nil {
				t.Fatal(err)
			}
			if !near(ends.Points[0].Act, r.NeedlessRisk, 1e-9) || !near(ends.Points[1].Leave, r.MissedRisk, 1e-9) {
				t.Fatalf("band %+v has risks %g and %g", b, ends.Points[0].Act, ends.Points[1].Leave)
			}
			if act == r.Act || b.Lower <= share && share <= b.Upper {
				narrowest = math.Min(narrowest, b.Width())
			}
		}
		if got.Narrowest == nil || !near(got.Narrowest.Width(), narrowest, 1e-12) {
			t.Fatalf("narrowest %+v, search says width %g", got.Narrowest, narrowest)
		}
	})
}

func TestVisitOneOutcome(t *testing.T) {
	got, err := size.Visit(size.VisitRequest{Stops: 1, PlantsPerStop: 1, Act: 1, Rho: .3, NeedlessRisk: .1, MissedRisk: .2, At: []float64{0, .25, 1}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range got.Points {
		if !near(p.Act, p.Share, 1e-15) || !near(p.Leave, 1-p.Share, 1e-15) {
			t.Errorf("one plant: %+v", p)
		}
	}
	if !near(got.Own.Lower, .1, 1e-14) || !near(got.Own.Upper, .8, 1e-14) {
		t.Errorf("one plant tells %+v", got.Own)
	}
}

func TestVisitTooLargeForNarrowest(t *testing.T) {
	got, err := size.Visit(size.VisitRequest{Stops: 200, PlantsPerStop: 20, Rho: .1, ActShare: .25, NeedlessRisk: .1, MissedRisk: .1})
	if err != nil || got.Narrowest != nil {
		t.Errorf("got %+v, %v", got.Narrowest, err)
	}
}

func BenchmarkVisit(b *testing.B) {
	for _, stops := range []int{4, 20, 100} {
		b.Run(fmt.Sprintf("stops=%d", stops), func(b *testing.B) {
			for b.Loop() {
				if _, err := size.Visit(size.VisitRequest{Stops: stops, PlantsPerStop: 20, Rho: .1, ActShare: .25, NeedlessRisk: .1, MissedRisk: .1}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
