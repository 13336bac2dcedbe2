package report

import (
	"testing"

	"stopwise/plans/protocol"
)

func TestLevel(t *testing.T) {
	for _, c := range []struct {
		m    protocol.Measure
		x    float64
		want string
	}{
		{protocol.ShareInfested, 0.15, "15%"}, {protocol.ShareInfested, 0.0725, "7.25%"}, {protocol.ShareInfested, 1, "100%"}, {protocol.ShareInfested, 0.07, "7%"}, {protocol.ShareInfested, 0.0000005, "5e-05%"}, {protocol.ShareInfested, 0, "0%"},
		{protocol.MeanPerLeaf, 75, "75 per leaf"}, {protocol.MeanPerLeaf, 0.5, "0.5 per leaf"}, {protocol.MeanPerLeaf, 100, "100 per leaf"},
	} {
		if got := Level(c.m, c.x); got != c.want {
			t.Errorf("Level(%q, %g) = %q, want %q", c.m, c.x, got, c.want)
		}
	}
}

// A bound is never rounded to the side on which it would promise too much.
func TestBounds(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{AtMost(.1001), "10.1%"}, {AtMost(.1), "10%"}, {AtMost(.07), "7%"}, {AtMost(0), "0%"}, {AtMost(1e-9), "0.1%"},
		{ShareAtLeast(.9009), "90%"}, {ShareAtLeast(.9), "90%"}, {ShareAtLeast(.29), "29%"},
	} {
		if c.got != c.want {
			t.Errorf("got %s, want %s", c.got, c.want)
		}
	}
}
