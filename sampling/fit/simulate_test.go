package fit

import (
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling/pilot"
)

// Counts of known constants, drawn with gonum's distributions.

func drawStops(r *rand.Rand, stops, plants int, p, rho float64) []StopCount {
	out := make([]StopCount, stops)
	for j := range out {
		q := p
		if rho > 0 {
			q = distuv.Beta{Alpha: p * (1 - rho) / rho, Beta: (1 - p) * (1 - rho) / rho, Src: r}.Rand()
		}
		x := 0
		for range plants {
			if r.Float64() < q {
				x++
			}
		}
		out[j] = StopCount{plants, x}
	}
	return out
}

func drawCount(r *rand.Rand, mean, k float64) int {
	return int(distuv.Poisson{Lambda: distuv.Gamma{Alpha: k, Beta: k / mean, Src: r}.Rand(), Src: r}.Rand())
}

func drawCounts(r *rand.Rand, units int, mean, k float64) Counts {
	freq := map[int]int{}
	for range units {
		freq[drawCount(r, mean, k)]++
	}
	var table []pilot.Frequency
	for x, n := range freq {
		table = append(table, pilot.Frequency{Count: x, Leaves: n})
	}
	sort.Slice(table, func(i, j int) bool { return table[i].Count < table[j].Count })
	c, err := NewCounts(table)
	if err != nil {
		panic(err)
	}
	return c
}
