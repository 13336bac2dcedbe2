package plans

import (
	"math"
	"testing"

	"stopwise/sampling"
)

// A two-stage design stops early at n1 with r1 or fewer, and otherwise decides at
// n, above r or not.
type twoStage struct{ r1, n1, r, n int }

// search returns the optimal (least expected size at p0) and the minimax (least
// n, then least expected size) design that keep both risks, among all of at most
// most patients. The chances are products of the package's distributions.
func searchTwoStage(p0, p1, alpha, beta float64, most int) (optimal, minimax twoStage) {
	tails := func(n int, p float64) []float64 { return sampling.Binomial{Plants: n, P: p}.Tails(n + 1) }
	bestEN, minimaxEN := math.Inf(1), math.Inf(1)
	for n := 2; n <= most; n++ {
		for n1 := 1; n1 < n; n1++ {
			first0, first1 := sampling.Binomial{Plants: n1, P: p0}.Probs(n1), sampling.Binomial{Plants: n1, P: p1}.Probs(n1)
			rest0, rest1 := tails(n-n1, p0), tails(n-n1, p1)
			beyond := func(first, rest []float64, r1, r int) float64 { // P(X1 > r1, X > r)
				sum := 0.0
				for x := r1 + 1; x <= n1; x++ {
					need := max(0, r+1-x)
					if need < len(rest) {
						sum += first[x] * rest[need]
					}
				}
				return sum
			}
			stop0 := 0.0
			for r1 := 0; r1 < n1; r1++ {
				stop0 += first0[r1]
				en := float64(n1) + (1-stop0)*float64(n-n1)
				if en >= bestEN && (minimax.n > 0 && n > minimax.n || en >= minimaxEN) {
					continue
				}
				for r := r1; r < n; r++ {
					if beyond(first0, rest0, r1, r) > alpha {
						continue
					}
					if beyond(first1, rest1, r1, r) >= 1-beta {
						d := twoStage{r1, n1, r, n}
						if en < bestEN {
							bestEN, optimal = en, d
						}
						if minimax.n == 0 || n == minimax.n && en < minimaxEN {
							minimaxEN, minimax = en, d
						}
					}
					break // a larger r only loses power
				}
			}
		}
	}
	return optimal, minimax
}

// Simon, R. (1989) Optimal two-stage designs for phase II clinical trials.
// Controlled Clinical Trials 10: 1-10, tables 1 and 2 (from memory, reproduced by
// an exhaustive search outside the project).
func TestSearchFindsSimonsDesigns(t *testing.T) {
	for _, c := range []struct {
		p0, p1, alpha, beta float64
		optimal, minimax    twoStage
	}{
		{.05, .25, .05, .20, twoStage{0, 9, 2, 17}, twoStage{0, 12, 2, 16}},
		{.05, .25, .10, .10, twoStage{0, 9, 2, 24}, twoStage{0, 13, 2, 20}},
		{.10, .30, .05, .20, twoStage{1, 10, 5, 29}, twoStage{1, 15, 5, 25}},
		{.20, .40, .05, .20, twoStage{3, 13, 12, 43}, twoStage{4, 18, 10, 33}},
		{.20, .40, .10, .10, twoStage{3, 17, 10, 37}, twoStage{3, 19, 10, 36}},
		{.30, .50, .05, .20, twoStage{5, 15, 18, 46}, twoStage{6, 19, 16, 39}},
	} {
		optimal, minimax := searchTwoStage(c.p0, c.p1, c.alpha, c.beta, 50)
		if optimal != c.optimal || minimax != c.minimax {
			t.Errorf("%g/%g: optimal %+v, minimax %+v; want %+v, %+v", c.p0, c.p1, optimal, minimax, c.optimal, c.minimax)
		}
	}
}
