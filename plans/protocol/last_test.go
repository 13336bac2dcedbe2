package protocol

import "testing"

// A share seen that is exactly the one named counts as more, though its last digits
// may lie below it; each class has days of its own.
func TestLast(t *testing.T) {
	two, three := ComingBack{DaysUntilFound: 12, DaysOnceFound: 4}, ComingBack{DaysUntilFound: 12, DaysOnceFound: 4, MoreFrom: .06, DaysMoreFound: 2}
	sum := 0.0
	for range 6 {
		sum += .01 // just below .06
	}
	for _, c := range []struct {
		b     ComingBack
		found bool
		seen  float64
		want  Last
		days  float64
	}{
		{two, false, 0, LastNone, 12},
		{two, true, .5, LastFound, 4},
		{three, false, 0, LastNone, 12},
		{three, true, 0, LastLittle, 4},
		{three, true, .0599, LastLittle, 4},
		{three, true, .06, LastMore, 2},
		{three, true, sum, LastMore, 2},
	} {
		got := c.b.Last(c.found, c.seen)
		if days := c.b.Interval(got); got != c.want || days != c.days {
			t.Errorf("found %v, seen %v: %s, %v days; want %s, %v", c.found, c.seen, got, days, c.want, c.days)
		}
	}
}
