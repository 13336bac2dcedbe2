package validate

import (
	"math"

	"stopwise/plans"
	"stopwise/sampling"
)

// A Chance is the chance of a verdict: exact, or the share of simulated visits. Its
// value is NaN where it depends on a chance of the further sign that is not known.
type Chance struct {
	Value  float64
	Visits int // visits simulated; 0 where the value is exact
	// AtMost says that the chance is that of the count alone, which a sign whose
	// chance is not known can only lower: how much more it is than a limit is then
	// not known.
	AtMost bool
}

// Exact returns a chance that was computed.
func Exact(p float64) Chance { return Chance{Value: p} }

// exactNeedless returns a computed chance of acting at the lower bound.
func exactNeedless(s *plans.StagePlan, p float64) Chance {
	return Chance{Value: p, AtMost: !s.NeedlessKnown()}
}

// IsExact reports whether the chance was computed and not simulated.
func (c Chance) IsExact() bool { return c.Visits == 0 }

// SE returns the Monte Carlo standard error, sqrt(p(1-p)/visits); 0 for an exact
// chance.
func (c Chance) SE() float64 {
	if c.IsExact() {
		return 0
	}
	return math.Sqrt(c.Value * (1 - c.Value) / float64(c.Visits))
}

// judgeConfidence is the confidence of the interval that Against goes by. It is
// high because dozens of chances are judged side by side.
const judgeConfidence = 0.99

// Against compares the chance with a limit. A simulated chance is below or above
// it only where its whole 99% score interval is; otherwise it is Open.
func (c Chance) Against(limit float64) Standing {
	if math.IsNaN(c.Value) {
		return Unknown
	}
	if own := c; c.AtMost {
		own.AtMost = false
		if standing := own.Against(limit); standing != Beyond {
			return standing
		}
		return Unknown
	}
	if c.IsExact() {
		if c.Value <= limit+plans.Slack {
			return Within
		}
		return Beyond
	}
	i := sampling.Wilson(c.Value*float64(c.Visits), float64(c.Visits), judgeConfidence)
	switch {
	case i.Upper <= limit:
		return Within
	case i.Lower > limit:
		return Beyond
	}
	return Open
}

// A Standing says where a value stands against a limit.
type Standing int

// The standings.
const (
	Within  Standing = iota // at or below the limit
	Open                    // too close to the limit to call
	Unknown                 // for want of a chance of the further sign
	Beyond                  // above the limit
)

// A Mean is an expected number: exact, or the mean over simulated visits.
type Mean struct {
	Value float64
	SE    float64 // Monte Carlo standard error; 0 where the value is exact
}

// Against compares the mean with a limit: a simulated one is below or above it
// only where its whole 99% interval is, as with chances.
func (m Mean) Against(limit float64) Standing {
	z := sampling.CriticalNormal(judgeConfidence)
	switch {
	case m.Value+z*m.SE <= limit+plans.Slack:
		return Within
	case m.Value-z*m.SE > limit:
		return Beyond
	}
	return Open
}

// Visits is what simulated visits came to.
type Visits struct {
	N       int
	Act     int // visits that ended with act; the others ended with leave
	Stops   sum
	Plants  sum
	Minutes sum
	// CountAlone says that how often the further sign is seen is not known: Act is
	// then that of the count alone, which the sign can only lower.
	CountAlone bool
}

// sum holds what a mean and its standard error are made of.
type sum struct{ first, second float64 }

func (s *sum) add(x float64) {
	s.first += x
	s.second += x * x
}

func (s *sum) join(o sum) {
	s.first += o.first
	s.second += o.second
}

func (v *Visits) add(act bool, stops, plants int, minutes float64) {
	v.N++
	if act {
		v.Act++
	}
	v.Stops.add(float64(stops))
	v.Plants.add(float64(plants))
	v.Minutes.add(minutes)
}

func (v *Visits) join(o Visits) {
	v.CountAlone = v.CountAlone || o.CountAlone
	v.N += o.N
	v.Act += o.Act
	v.Stops.join(o.Stops)
	v.Plants.join(o.Plants)
	v.Minutes.join(o.Minutes)
}

// ActChance returns the chance of the verdict act; NaN where it is not known.
func (v Visits) ActChance() Chance { return v.known(v.Act) }

// LeaveChance returns the chance of the verdict leave; NaN where it is not known.
func (v Visits) LeaveChance() Chance { return v.known(v.N - v.Act) }

// ActAtMost returns the chance of the verdict act, or that of the count alone where
// no more is known.
func (v Visits) ActAtMost() Chance {
	return Chance{Value: float64(v.Act) / float64(v.N), Visits: v.N, AtMost: v.CountAlone}
}

func (v Visits) known(n int) Chance {
	if v.CountAlone {
		return Exact(math.NaN())
	}
	return Chance{Value: float64(n) / float64(v.N), Visits: v.N}
}

// MeanStops returns the expected stops.
func (v Visits) MeanStops() Mean { return v.mean(v.Stops) }

// MeanPlants returns the expected plants.
func (v Visits) MeanPlants() Mean { return v.mean(v.Plants) }

// MeanMinutes returns the expected time.
func (v Visits) MeanMinutes() Mean { return v.mean(v.Minutes) }

func (v Visits) mean(s sum) Mean {
	n := float64(v.N)
	m := s.first / n
	if v.N < 2 {
		return Mean{Value: m}
	}
	return Mean{m, math.Sqrt(math.Max(0, s.second-n*m*m) / (n - 1) / n)}
}
