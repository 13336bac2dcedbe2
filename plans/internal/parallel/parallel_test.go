package parallel

import "testing"

// Every number is done once, however many there are for the processors. The race
// detector sees two that share a number.
func TestEach(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 7, 64, 1000} {
		done := make([]int, n)
		Each(n, func(i int) { done[i]++ })
		for i, times := range done {
			if times != 1 {
				t.Fatalf("%d of %d done %d times", i, n, times)
			}
		}
	}
}
