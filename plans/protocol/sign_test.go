package protocol

import (
	"math"
	"testing"
)

// By hand: between the bounds the chance of a sign lies on the straight line from
// that at the lower to that at the upper bound, and beyond them it stays.
func TestSignChanceByLevel(t *testing.T) {
	s := Terms{Lower: .2, Upper: .4, Sign: &Sign{Stops: 2, Chance: .75, ChanceLower: .35}}
	for _, c := range []struct{ level, want float64 }{{0, .35}, {.2, .35}, {.25, .45}, {.3, .55}, {.4, .75}, {1, .75}} {
		if got := s.SignChance(c.level); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("at %g: %g, want %g", c.level, got, c.want)
		}
	}
	// Seen at both of two stops, or at two of three: .75^2, and .75^3 + 3 .75^2 .25.
	met := s.SignMet(.4)
	for stops, want := range map[int]float64{1: 0, 2: .5625, 3: .84375} {
		if got := met(stops); math.Abs(got-want) > 1e-12 {
			t.Errorf("after %d stops: %g, want %g", stops, got, want)
		}
	}
}
