package precision

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/sampling"
	"stopwise/sampling/tally"
)

// Effort is what an estimate takes in a field of a given level, exactly.
type Effort struct {
	Level float64 `json:"level"`
	// NeededUnits is what would do if the level were known: see
	// [Plan.NeededUnits].
	NeededUnits float64 `json:"needed_units"`
	NeededStops int     `json:"needed_stops"`
	Stops       float64 `json:"expected_stops"`
	Plants      float64 `json:"expected_plants"`
	Minutes     float64 `json:"expected_minutes"`
	Within90    int     `json:"stops_90_percent"` // nine visits in ten need no more stops
	// Short is the chance that the last stop is reached before the precision.
	Short float64 `json:"p_short"`
	// Inside is the chance that the estimate differs from the truth by no more
	// than the half width, the visits that fall short included.
	Inside float64 `json:"p_inside"`
}

// mostTracked bounds the expected total of a visit that goes to the last stop, so
// that every field is followed within seconds.
const mostTracked = 200000

// Population returns the field situation of a level under the plan's law: negative
// binomial leaves with its variance (a Poisson where that is below the mean), those
// of a stop as alike as it says, or as there can be; or plants as alike as its rho
// says.
func (p *Plan) Population(level float64) sampling.Population {
	if p.Measure == protocol.ShareInfested {
		return sampling.Infested{P: level, Rho: *p.Rho}
	}
	k := tally.K(p.law(), level)
	if rho := math.Min(p.alike(), sampling.MaxCountRho(level, k)); rho > 0 {
		return sampling.AlikeCounts{Mean: level, K: k, Rho: rho}
	}
	return sampling.Counts{Mean: level, K: k}
}

// EffortAt returns what an estimate takes in a field of a level above 0 (below 1 for
// a share), by carrying the chance of every total from stop to stop. It returns a
// FieldError where the counts are too high for that.
func (p *Plan) EffortAt(level float64) (Effort, error) {
	if !(level > 0) || math.IsInf(level, 1) || p.Measure == protocol.ShareInfested && level >= 1 {
		return Effort{}, &protocol.FieldError{Path: "level", Message: fmt.Sprintf("level %g; accepted: above 0, and below 100%% for a share", level)}
	}
	if level*float64(p.Units(p.Stop.Plants*p.Stop.Maximum)) > mostTracked {
		return Effort{}, &protocol.FieldError{Path: "level", Message: fmt.Sprintf("level %g is too high on %d leaves to be followed exactly; accepted: up to %.4g", level, p.Units(p.Stop.Plants*p.Stop.Maximum), mostTracked/float64(p.Units(p.Stop.Plants*p.Stop.Maximum)))}
	}
	e := Effort{Level: level, NeededUnits: p.NeededUnits(level)}
	e.NeededStops = max(1, int(math.Ceil(e.NeededUnits/float64(p.Units(p.Stop.Plants))-rule.NearInteger)))
	v := estimation{plan: p, pop: p.Population(level), level: level, effort: &e}
	v.run()
	e.Plants = e.Stops * float64(p.Stop.Plants)
	e.Minutes = p.Stop.Minutes(e.Stops, e.Plants)
	return e, nil
}

// negligible is the chance below which a total is not followed: all of them together
// weigh less than rounding.
const negligible = 1e-16

// An estimation follows the totals of a visit: chance[t] is the chance of going on
// with the total t.
type estimation struct {
	plan   *Plan
	pop    sampling.Population
	level  float64
	effort *Effort
	chance []float64
	ended  float64 // chance that it has ended
}

func (v *estimation) run() {
	p := v.plan
	first := p.Stop.Minimum
	for first < p.Stop.Maximum && v.goesOn(first) {
		first++
	}
	v.start(first)
	units := p.Units(p.Stop.Plants)
	var probs, heads []float64
	for j := first + 1; j <= p.Stop.Maximum && len(v.chance) > 0; j++ {
		_, high := v.inside(j)
		n := max(high, min(p.StopAt(j)-1, v.ceiling(j)))
		if stop := v.pop.Stop(units); stop.Max() != sampling.Unbounded {
			n = min(n, stop.Max())
		}
		if len(probs) < n+1 {
			probs = v.pop.Stop(units).Probs(n)
			heads = headsOf(probs)
		}
		v.step(j, probs, heads)
	}
}

// goesOn reports whether a visit that has not ended before never ends at a stop.
func (v *estimation) goesOn(j int) bool {
	at := v.plan.StopAt(j)
	if at == rule.NeverAct || v.plan.Measure == protocol.ShareInfested {
		return at == rule.NeverAct
	}
	if at > v.ceiling(j) {
		return true
	}
	if v.plan.alike() > 0 {
		return false
	}
	units := float64(j * v.plan.Units(v.plan.Stop.Plants))
	return tally.AtLeast(at, units*v.level, units*tally.K(v.plan.law(), v.level)) < negligible
}

// top returns the total from which a visit ends at a stop: 0 at the last.
func (v *estimation) top(j int) int {
	if j == v.plan.Stop.Maximum {
		return 0
	}
	return v.plan.StopAt(j)
}

// inside returns the totals at a stop whose estimates lie within the half width.
func (v *estimation) inside(j int) (low, high int) {
	n := float64(v.plan.Units(v.plan.Stop.Plants * j))
	half := v.plan.Half()
	return int(math.Ceil(n*v.level*(1-half) - rule.NearInteger)), int(math.Floor(n*v.level*(1+half) + rule.NearInteger))
}

// start takes the stops up to the first at which the visit can end, all at once.
func (v *estimation) start(j int) {
	p := v.plan
	low, high := v.inside(j)
	top, stopAt := v.top(j), p.StopAt(j)
	units := p.Units(p.Stop.Plants)
	var all []float64
	switch n := min(max(high, stopAt), v.ceiling(j)); {
	case p.Measure == protocol.ShareInfested:
		all = sampling.Total(v.pop.Stop(units), j)
	case p.alike() > 0: // stops have means of their own: their totals do not add up to one of the same kind
		one := v.pop.Stop(units).Probs(n)
		all = one
		for range j - 1 {
			all = sampling.ConvolveLong(all, one)[:n+1]
		}
	default:
		all = v.pop.Stop(units * j).Probs(n)
	}
	heads := headsOf(all)
	v.chance = append([]float64(nil), all[:min(top, len(all))]...)
	v.end(j, 1-floats.Sum(v.chance), headUpTo(heads, high)-headUpTo(heads, max(low, top)-1))
	if j == p.Stop.Maximum {
		v.effort.Short = headUpTo(heads, stopAt-1)
	}
}

// ceiling returns a total that j stops hardly ever exceed.
func (v *estimation) ceiling(j int) int {
	one := v.pop.Stop(v.plan.Units(v.plan.Stop.Plants))
	stops := float64(j)
	return int(stops*one.Mean()+60*math.Sqrt(stops*one.Variance())) + 100
}

func (v *estimation) step(j int, probs, heads []float64) {
	low, high := v.inside(j)
	top, last := v.top(j), v.plan.StopAt(j)
	before, inside := floats.Sum(v.chance), 0.0
	size := 0
	if top > 0 {
		size = min(top, len(v.chance)+len(probs)-1)
	}
	next := make([]float64, size)
	for t, f := range v.chance {
		if f == 0 {
			continue
		}
		if n := min(len(probs), size-t); n > 0 {
			floats.AddScaled(next[t:t+n], f, probs[:n])
		}
		if from := max(low, top); from <= high {
			inside += f * (headUpTo(heads, high-t) - headUpTo(heads, from-1-t))
		}
		if j == v.plan.Stop.Maximum {
			v.effort.Short += f * headUpTo(heads, last-1-t)
		}
	}
	v.chance = next
	v.end(j, before-floats.Sum(next), inside)
}

// end books the visits that end at a stop.
func (v *estimation) end(j int, chance, inside float64) {
	chance = math.Max(0, chance)
	v.effort.Stops += float64(j) * chance
	v.effort.Inside += math.Max(0, inside)
	if v.ended += chance; v.effort.Within90 == 0 && v.ended >= 0.9-plans.Slack {
		v.effort.Within90 = j
	}
	if v.ended > 1-1e-14 {
		v.chance = nil
	}
}

// headsOf returns P(X < x) for x = 0..len(probs).
func headsOf(probs []float64) []float64 {
	heads := make([]float64, len(probs)+1)
	floats.CumSum(heads[1:], probs)
	return heads
}

// headUpTo returns P(X <= x).
func headUpTo(heads []float64, x int) float64 {
	switch {
	case x < 0:
		return 0
	case x+1 < len(heads):
		return heads[x+1]
	}
	return heads[len(heads)-1]
}
