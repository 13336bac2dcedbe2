package rule

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling/root"
)

// A curve is a chance that falls as the level rises. Its levels are looked for on
// the logit scale (the log scale where they have no largest), and the chances as
// normal deviates: there the curve is nearly straight, and a few evaluations
// find a level.
type curve struct {
	low, high float64
	far       float64 // beyond it no level is told apart; 0 = none is
	start     float64 // a level to look from
	step      float64 // the first step from it, on the scale
	chance    func(level float64) float64
	known     []point // by rising x
}

type point struct{ x, chance float64 }

// closeEnough is how near its chance a level's is: far below what is printed, and
// above the rounding of the chance.
const closeEnough = 1e-10

// farthest is the logit beyond which a level is the end of the range.
const farthest = 600

func (c *curve) at(x float64) float64 {
	if math.IsInf(c.high, 1) {
		return c.low + math.Exp(x)
	}
	return c.low + (c.high-c.low)/(1+math.Exp(-x))
}

func (c *curve) scale(level float64) float64 {
	if math.IsInf(c.high, 1) {
		return math.Log(level - c.low)
	}
	return math.Log(level-c.low) - math.Log(c.high-level)
}

// eval returns the chance at a place of the scale, and remembers it.
func (c *curve) eval(x float64) float64 {
	p := c.chance(c.at(x))
	i := len(c.known)
	for i > 0 && c.known[i-1].x > x {
		i--
	}
	c.known = append(c.known, point{})
	copy(c.known[i+1:], c.known[i:])
	c.known[i] = point{x, p}
	return p
}

// level returns the level that has a chance: the lowest one where the chance is
// nowhere larger, the highest where it is nowhere smaller.
func (c *curve) level(chance float64) (float64, error) {
	if c.chance(c.low) <= chance {
		return c.low, nil
	}
	if !math.IsInf(c.high, 1) && c.chance(c.high) >= chance {
		return c.high, nil
	}
	lo, hi, end := c.bracket(chance)
	if end != nil {
		return *end, nil
	}
	z := distuv.UnitNormal.Quantile(chance)
	x, err := root.Brent(func(x float64) float64 {
		var p float64
		switch x {
		case lo.x:
			p = lo.chance
		case hi.x:
			p = hi.chance
		default:
			p = c.eval(x)
		}
		if math.Abs(p-chance) < closeEnough {
			return 0
		}
		return distuv.UnitNormal.Quantile(min(max(p, 1e-300), 1-0x1p-53)) - z
	}, lo.x, hi.x)
	if err != nil {
		return 0, fmt.Errorf("rule: the level at which a chance is %g: %w", chance, err)
	}
	return c.at(x), nil
}

// bracket returns places below and above the level that has a chance, or the end
// of the range where there is none before it.
func (c *curve) bracket(chance float64) (lo, hi point, end *float64) {
	if len(c.known) == 0 {
		c.eval(c.scale(c.start))
	}
	for step := c.step; c.known[0].chance < chance; step *= 2 {
		if c.known[0].x < -farthest {
			return lo, hi, &c.low
		}
		c.eval(c.known[0].x - step)
	}
	for step := c.step; c.known[len(c.known)-1].chance >= chance; step *= 2 {
		last := c.known[len(c.known)-1].x
		if last > farthest || c.far > 0 && c.at(last) > c.far {
			return lo, hi, &c.high
		}
		c.eval(last + step)
	}
	i := len(c.known) - 1
	for c.known[i-1].chance < chance {
		i--
	}
	return c.known[i-1], c.known[i], nil
}
