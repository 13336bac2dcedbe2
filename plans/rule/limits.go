package rule

import "stopwise/sampling"

// A Limit is the upper limit of the level after one end of a walk.
type Limit struct {
	Stop    int // from 1
	Total   int
	Verdict Verdict // Leave, or Continue where the walk was cut off
	Upper   float64
}

// Limit returns the one-sided upper limit of [Visit.Known] alone.
func (v Visit) Limit(stop, total int, sure float64) (float64, error) {
	if err := v.check(stop, total, sure); err != nil {
		return 0, err
	}
	return v.atMost(v.endedAt(stop, total), v.key(stop, total), v.guess(stop, total)).level(1 - sure)
}

// Limits returns the one-sided upper limit of [Visit.Known] for every total that
// a walk can have at a stop without the verdict act, by stop and total: those that
// bring leave, and those at which it was cut off. Where a stop's totals have no
// largest value and none of them brings act, it goes up to the next act number.
func (v Visit) Limits(sure float64) ([]Limit, error) {
	return v.limits(sure, func(int) bool { return true })
}

// LeaveLimits returns those of [Visit.Limits] that bring leave.
func (v Visit) LeaveLimits(sure float64) ([]Limit, error) {
	return v.limits(sure, func(aboveLeave int) bool { return aboveLeave <= 0 })
}

func (v Visit) limits(sure float64, wanted func(aboveLeave int) bool) ([]Limit, error) {
	if err := v.check(1, 0, sure); err != nil {
		return nil, err
	}
	var limits []Limit
	base, most := 0, 0
	for j, s := range v.Steps {
		if base >= s.Act {
			break
		}
		most = v.most(most, s.Units)
		top := most
		if s.Act != NeverAct || most == NeverAct {
			top = min(top, v.act(j)-1)
		}
		near := 0.0
		for total := base; total <= top && wanted(total-s.Leave); total++ {
			limit := Limit{Stop: j + 1, Total: total, Verdict: Read(total, s.Leave, s.Act)}
			up := v.atMost(v.endedAt(j+1, total), v.key(j+1, total), v.guess(j+1, total))
			if near > v.Low && near < v.High { // the limit of one less is near
				up.start, up.step = near, 0.05
			}
			var err error
			if limit.Upper, err = up.level(1 - sure); err != nil {
				return nil, err
			}
			near = limit.Upper
			limits = append(limits, limit)
		}
		if s.Act == s.Leave+1 {
			break // no walk goes on
		}
		base = max(base, s.Leave+1)
	}
	return limits, nil
}

// most returns the largest total after a stop, given that before it.
func (v Visit) most(before, units int) int {
	top := v.Family(v.Low).Stop(units).Max()
	if top == sampling.Unbounded || before == NeverAct {
		return NeverAct
	}
	return before + top
}

// act returns the act number of the first step from j on that has one.
func (v Visit) act(j int) int {
	for _, s := range v.Steps[j:] {
		if s.Act != NeverAct {
			return s.Act
		}
	}
	return NeverAct
}
