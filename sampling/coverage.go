package sampling

import (
	"math"
)

// Coverage is what confidence intervals do at one true share: the chances that
// the interval holds the share, lies below it, lies above it, or is not there at
// all. They sum to 1.
type Coverage struct {
	Holds   float64 `json:"coverage"`    // chance that Lower <= share <= Upper
	TooLow  float64 `json:"too_low"`     // chance that Upper < share
	TooHigh float64 `json:"too_high"`    // chance that Lower > share
	None    float64 `json:"no_interval"` // chance that the stops give no interval
	// Width is the expected width of an interval, where there is one.
	Width float64 `json:"expected_width"`
}

// add counts an interval that comes with chance p.
func (c *Coverage) add(in Interval, share, p float64) {
	switch {
	case in.Upper < share:
		c.TooLow += p
	case in.Lower > share:
		c.TooHigh += p
	default:
		c.Holds += p
	}
	c.Width += p * (in.Upper - in.Lower)
}

// TotalIntervals returns the intervals of a method for each total that stops
// stops of plants plants can give: 0, 1, ..., stops*plants infested. rho is the
// intraclass correlation that the intervals take account of, by the effective
// size (see [ClumpedProportion]); 0 takes all plants as independent.
func TotalIntervals(method Method, stops, plants int, rho, confidence float64) ([]Interval, error) {
	if stops < 1 || plants < 1 {
		return nil, Refusef("%d stops of %d plants, must be at least 1 of 1", stops, plants)
	}
	if err := CheckRho(rho); err != nil {
		return nil, err
	}
	n := stops * plants
	deff := DesignEffect(plants, rho)
	out := make([]Interval, n+1)
	for x := range out {
		size := float64(n) / deff
		in, err := Proportion(method, math.Min(size, float64(x)/deff), size, confidence)
		if err != nil {
			return nil, err
		}
		out[x] = in
	}
	return out, nil
}

// Cover returns the exact coverage of intervals at a true share, where total x
// of infested plants comes with chance totals[x] and gives intervals[x] (see
// [TotalIntervals] and [Total]). It sums over all totals.
//
// Brown, L.D., Cai, T.T. & DasGupta, A. (2001) Interval estimation for a
// binomial proportion. Stat. Sci. 16: 101-133.
func Cover(intervals []Interval, totals []float64, share float64) Coverage {
	var c Coverage
	for x, p := range totals {
		c.add(intervals[x], share, p)
	}
	return c
}

// maxSpreads bounds the work of [CoverBetweenStops], so that a curve over the
// share takes no more than a second or so.
const maxSpreads = 100_000_000

// CoverBetweenStops returns the exact coverage of [BetweenStops] in a field,
// over stops stops of plants plants. That interval depends on the differences
// between the stops, so the sum runs over all pairs of the total and the sum of
// squares. Totals with stops that are all alike give no interval. There is an
// error where the pairs are too many: from 9 stops of 20 plants on.
func CoverBetweenStops(f Infested, stops, plants int, confidence float64) (Coverage, error) {
	if stops < 2 || plants < 1 {
		return Coverage{}, Refusef("%d stops of %d plants, must be at least 2 of 1", stops, plants)
	}
	if err := CheckConfidence(confidence); err != nil {
		return Coverage{}, err
	}
	if _, err := NewInfested(f.P, f.Rho); err != nil {
		return Coverage{}, err
	}
	if work := math.Pow(float64(stops*plants), 3) * float64(plants+1); work > maxSpreads {
		return Coverage{}, Refusef("%d stops of %d plants are too many to go through all their differences", stops, plants)
	}
	t := CriticalStudent(confidence, float64(stops-1))
	n, j := float64(stops*plants), float64(stops)
	var c Coverage
	for total, row := range spreads(f.Stop(plants).Probs(plants), stops) {
		for squares, p := range row {
			if p == 0 {
				continue
			}
			about := float64(squares*stops-total*total) / j // sum of (x - mean)^2
			if squares*stops == total*total {
				c.None += p
				continue
			}
			share := float64(total) / n
			half := t * math.Sqrt(j/(j-1)*about) / n
			c.add(Interval{math.Max(0, share-half), math.Min(1, share+half), confidence}, f.P, p)
		}
	}
	if c.None < 1 {
		c.Width /= 1 - c.None
	}
	return c, nil
}

// spreads returns the joint distribution of the total and of the sum of squares
// over stops: out[total][squares].
func spreads(one []float64, stops int) [][]float64 {
	sum := [][]float64{{1}}
	m := len(one) - 1
	for j := 1; j <= stops; j++ {
		next := make([][]float64, j*m+1)
		for total := range next {
			next[total] = make([]float64, m*total+1) // squares are at most m times the total
		}
		for total, row := range sum {
			for squares, p := range row {
				if p == 0 {
					continue
				}
				for x, q := range one {
					next[total+x][squares+x*x] += p * q
				}
			}
		}
		sum = next
	}
	return sum
}
