package search

import (
	"testing"

	"stopwise/plans/rule"
)

// A whole design: lines, fixed plan, table and bound. Beside each, in user seconds
// of the command on two cores, what it took before combinations of moves were
// chosen by the prices of the risks, and after. Since then another tenth to a third less,
// most combinations being passed over by a sum of a few numbers; and of that .3 to .4,
// side by side, with the bound as sums over runs of nodes and tables scored as far as they
// differ.
func BenchmarkDesign(b *testing.B) {
	for _, c := range []struct {
		name string
		p    *Problem
	}{
		{"20 plants x 20 stops", shares(.15, .30, .10, .10, .1, 20, 4, 20)},               // .86 -> .5
		{"20 plants x 40 stops", shares(.15, .30, .10, .10, .1, 20, 4, 40)},               // 2.5 -> 1.0
		{"20 plants x 80 stops", shares(.15, .30, .10, .10, .1, 20, 4, 80)},               // 7.4 -> 3.2
		{"1 plant x 100 stops", shares(.15, .30, .10, .10, 0, 1, 4, 100)},                 // 58 -> 2.1
		{"too few stops", shares(.104, .203, .1, .1, .4, 23, 1, 16)},                      // 45 -> 4.5
		{"held under all", heldUnder(.15, .22, .30, .1, .1, "patches", "1% false finds")}, // new
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				l, err := rule.BinomialLines(.15, .30, .10, .10)
				if err != nil {
					b.Fatal(err)
				}
				if _, ok := c.p.RiskTrue(c.p.Starts(&l)); !ok {
					c.p.Needed(true)
				}
				c.p.LowerBound()
			}
		})
	}
}
