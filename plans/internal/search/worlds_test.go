package search

import (
	"flag"
	"slices"
	"testing"

	"stopwise/sampling"
)

var all = flag.Bool("all", false, "design under every set of worlds, and judge a hundred small cases by every table there is; takes a minute")

// heldUnder states the problems of the table below: 20 plants a stop, 4 to 40
// stops, rho .083 to .153, the effort averaged over the plain clumped worlds.
func heldUnder(p0, pm, p1, alpha, beta float64, worlds ...string) *Problem {
	p := &Problem{Units: 20, Minimum: 4, Maximum: 40, Bounded: true}
	for _, level := range []float64{p0, pm, p1} {
		p.Effort = append(p.Effort, Weighted{sampling.Infested{P: level, Rho: .153}, 1. / 3})
	}
	add := func(lower, upper sampling.Population) {
		p.Limits = append(p.Limits, Needless(lower, alpha, nil), Missed(upper, beta, nil))
	}
	rhos := []float64{.083, .1, .118, .135, .153}
	plain := func(p0, p1 float64) {
		for _, rho := range rhos {
			add(sampling.Infested{P: p0, Rho: rho}, sampling.Infested{P: p1, Rho: rho})
		}
	}
	plain(p0, p1)
	for _, w := range worlds {
		for _, rho := range rhos {
			switch w {
			case "patches":
				add(sampling.Patches{P: p0, Rho: rho}, sampling.Patches{P: p1, Rho: rho})
			case "patches with rho .03 inside":
				add(sampling.Patches{P: p0, Rho: rho, Inside: .03}, sampling.Patches{P: p1, Rho: rho, Inside: .03})
			}
		}
		switch w {
		case "5% overlooked":
			plain(p0, .95*p1)
		case "1% false finds":
			plain(p0+.01*(1-p0), p1)
		}
	}
	return p
}

// The prices of promises that hold under more. The expected stops were found
// outside the project by a search with two prices (6.95 and 40 are limits that were
// set, not found); ours must not need half a percent more.
func TestHeldUnderMore(t *testing.T) {
	type bounds struct{ p0, pm, p1, alpha, beta float64 }
	a, b, c := bounds{.10, .17, .25, .10, .05}, bounds{.15, .22, .30, .10, .10}, bounds{.08, .14, .22, .10, .05}
	every := []string{"patches with rho .03 inside", "5% overlooked", "1% false finds"}
	for _, x := range []struct {
		bounds
		worlds []string
		most   float64
		slow   bool
	}{
		{a, nil, 6.31, true},
		{a, []string{"patches"}, 7.27, false},
		{a, []string{"5% overlooked"}, 7.00, true},
		{a, []string{"1% false finds"}, 7.06, true},
		{a, every, 8.41, true},
		{b, nil, 6.22, true},
		{b, []string{"patches with rho .03 inside"}, 6.60, true},
		{b, []string{"patches"}, 6.95, true},
		{b, []string{"5% overlooked"}, 7.13, true},
		{b, []string{"1% false finds"}, 6.86, true},
		{b, every, 7.98, true},
		{c, nil, 6.27, true},
		{c, every, 40, true},
	} {
		if x.slow && !*all {
			continue
		}
		p := heldUnder(x.p0, x.pm, x.p1, x.alpha, x.beta, x.worlds...)
		table, ok := p.RiskTrue(p.Starts(nil))
		if !ok {
			t.Errorf("%v under %v: no plan found; fixed needs %d", x.bounds, x.worlds, p.Needed(false))
			continue
		}
		if slices.ContainsFunc(p.Limits, func(l Limit) bool { return l.Risk(table) > l.Allowed+1e-9 }) {
			t.Errorf("%v under %v: a risk is not kept", x.bounds, x.worlds)
		}
		got := p.Stops(table)
		t.Logf("%v under %v: %.3f stops, at most %.3f", x.bounds, x.worlds, got, x.most)
		if got > 1.005*x.most {
			t.Errorf("%v under %v: %.3f stops, want at most %.3f", x.bounds, x.worlds, got, x.most)
		}
	}
}
