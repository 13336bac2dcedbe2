package validate

import (
	"math"
	"testing"

	"stopwise/sampling"
)

func asked(rho float64) EffortAsked {
	return EffortAsked{Lower: 0.15, Threshold: 0.22, Upper: 0.30, Rho: rho, Confidence: 0.95, WalkMinutes: 3, PlantMinutes: 0.25}
}

func effort(t *testing.T, a EffortAsked, l Layout) Effort {
	t.Helper()
	e, err := a.Compare(l)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Each number by a second route: the sum over all totals.
func TestEffortBySums(t *testing.T) {
	for _, rho := range []float64{0, 0.1, 0.4} {
		for _, l := range []Layout{{4, 20}, {8, 10}, {16, 5}, {80, 1}, {1, 7}} {
			a := asked(rho)
			e := effort(t, a, l)
			act := int(math.Ceil(a.Threshold * float64(l.Total())))
			at := func(p float64) []float64 {
				return sampling.Total(sampling.Infested{P: p, Rho: rho}.Stop(l.Plants), l.Stops)
			}
			needless, missed, mean, square, half := 0.0, 0.0, 0.0, 0.0, 0.0
			for x, p := range at(a.Lower) {
				if x >= act {
					needless += p
				}
			}
			for x, p := range at(a.Upper) {
				if x < act {
					missed += p
				}
			}
			in, err := sampling.TotalIntervals(sampling.MethodWilson, l.Stops, l.Plants, rho, a.Confidence)
			if err != nil {
				t.Fatal(err)
			}
			for x, p := range at(a.Threshold) {
				s := float64(x) / float64(l.Total())
				mean += s * p
				square += s * s * p
				half += p * (in[x].Upper - in[x].Lower) / 2
			}
			for name, d := range map[string]float64{
				"needless": e.Needless - needless, "missed": e.Missed - missed, "standard error": e.StandardError - math.Sqrt(square-mean*mean), "half-width": e.HalfWidth - half,
				"minutes": e.Minutes - 3*float64(l.Stops) - 0.25*float64(l.Total()), "wrong": e.Wrong() - (needless+missed)/2,
				"independent": e.Independent*(1+float64(l.Plants-1)*rho) - float64(l.Total()),
			} {
				if math.Abs(d) > 1e-9 {
					t.Errorf("rho %g, %v: %s is off by %g", rho, l, name, d)
				}
			}
		}
	}
}

// The same plants over more stops tell more, and where plants are independent it
// makes no difference.
func TestSamePlantsOverMoreStops(t *testing.T) {
	for _, rho := range []float64{0, 0.1} {
		before := effort(t, asked(rho), Layout{4, 20})
		for _, l := range []Layout{{8, 10}, {16, 5}, {80, 1}} {
			e := effort(t, asked(rho), l)
			if rho == 0 && math.Abs(e.StandardError-before.StandardError) > 1e-12 || rho > 0 && !(e.StandardError < before.StandardError && e.Wrong() < before.Wrong()) {
				t.Errorf("rho %g: %v %+v after %+v", rho, l, e, before)
			}
			before = e
		}
	}
}

// More and more plants at the same stops approach an error that they do not pass.
func TestLeastError(t *testing.T) {
	a := asked(0.1)
	limit := a.LeastError(4)
	before := math.Inf(1)
	for _, plants := range []int{5, 20, 80, 320, 1280} {
		e := effort(t, a, Layout{4, plants})
		if !(e.StandardError > limit && e.StandardError < before) {
			t.Errorf("%d plants: standard error %g, before %g, limit %g", plants, e.StandardError, before, limit)
		}
		before = e.StandardError
	}
	if before > limit*1.01 {
		t.Errorf("standard error %g stays away from its limit %g", before, limit)
	}
	if a := asked(0); a.LeastError(4) != 0 {
		t.Errorf("independent plants have the limit %g", a.LeastError(4))
	}
}

func TestEffortRefuses(t *testing.T) {
	for _, change := range []func(*EffortAsked, *Layout){
		func(a *EffortAsked, _ *Layout) { a.Lower = 0 }, func(a *EffortAsked, _ *Layout) { a.Lower = 0.25 },
		func(a *EffortAsked, _ *Layout) { a.Upper = 0.2 }, func(a *EffortAsked, _ *Layout) { a.Upper = 1 },
		func(a *EffortAsked, _ *Layout) { a.Rho = 1 }, func(a *EffortAsked, _ *Layout) { a.Confidence = 1 },
		func(a *EffortAsked, _ *Layout) { a.WalkMinutes = -1 }, func(a *EffortAsked, _ *Layout) { a.PlantMinutes = math.Inf(1) },
		func(_ *EffortAsked, l *Layout) { l.Stops = 0 }, func(_ *EffortAsked, l *Layout) { l.Plants = 0 },
	} {
		a, l := asked(0.1), Layout{4, 20}
		change(&a, &l)
		if _, err := a.Compare(l); err == nil {
			t.Errorf("%+v, %+v is not refused", a, l)
		}
	}
}
