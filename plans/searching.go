package plans

import (
	"slices"

	"stopwise/plans/internal/search"
	"stopwise/sampling"

	"gonum.org/v1/gonum/stat/distuv"
)

// SingleCut returns the table of a visit that always walks stops stops and acts
// when the share of units seen reaches share ("25% seen or more").
var SingleCut = search.SingleCut

const searchLimit = search.Searched

// problem states the stage's design problem for the full counts: effort in the most
// clumped worlds, risks in all.
func (s *StagePlan) problem(weights [3]float64) *search.Problem {
	p := &search.Problem{
		Units: s.Units(s.Stop.Plants), Minimum: s.Stop.Minimum, Maximum: s.Stop.Maximum,
		Bounded: s.bounded(),
	}
	for i, level := range []float64{s.Lower, s.Threshold, s.Upper} {
		p.Effort = append(p.Effort, search.Weighted{Population: s.Clumped(level).Population(), Weight: weights[i]})
	}
	atLower, atUpper := s.designSigns()
	atLower, atUpper = tabled(atLower, p.Maximum), tabled(atUpper, p.Maximum)
	for _, w := range populations(s.Worlds(s.Lower)) {
		p.Limits = append(p.Limits, search.Needless(w, s.NeedlessRisk, atLower))
	}
	for _, w := range populations(s.Worlds(s.Upper)) {
		p.Limits = append(p.Limits, search.Missed(w, s.MissedRisk, atUpper))
	}
	p.Limits = append(p.Limits, s.heldLimits(atLower, atUpper)...)
	if s.SignKnown() {
		p.Acts = s.SignMet(s.Threshold)
	}
	if !p.Bounded {
		p.Top = p.CountCeiling()
	}
	return p
}

// tabled returns a function that knows the chances after up to so many stops, which a
// search asks for again and again.
func tabled(chance func(stop int) float64, stops int) func(stop int) float64 {
	if chance == nil {
		return nil
	}
	known := make([]float64, stops+1)
	for j := range stops {
		known[j+1] = chance(j + 1)
	}
	return func(stop int) float64 {
		if stop <= stops {
			return known[stop]
		}
		return chance(stop)
	}
}

// Spare returns the fewest stops after which one number would keep the promise, where
// every visit of the plan ends at its minimum of stops and that is more than the
// promise needs; else 0.
func (s *StagePlan) Spare() int {
	t := s.Table.Trimmed()
	promises := s.Method == RiskTrue || s.Method == RiskTrueLines || s.Method == Fixed
	if !promises || t.First() != t.Stops() || t.Stops() != s.Stop.Minimum || !s.Keeps() {
		return 0
	}
	p := *s.problem(evenWeights).Counting(s.Worth)
	p.Minimum = 1
	fewest, ok := p.Fixed(s.Stop.Minimum)
	if !ok || fewest.Stops() == s.Stop.Minimum {
		return 0
	}
	return fewest.Stops()
}

// populations returns the distributions of worlds, each once: where few insects make a
// correlation impossible, several worlds are the same.
func populations(ws []World) []sampling.Population {
	var ps []sampling.Population
	for _, w := range ws {
		if p := w.Population(); !slices.Contains(ps, p) {
			ps = append(ps, p)
		}
	}
	return ps
}

// starts returns the tables that the search begins from beside its own.
func (s *StagePlan) starts(p *search.Problem) []Table {
	l, err := s.textbook(p)
	if err != nil {
		return p.Starts(nil)
	}
	return p.Starts(&l)
}

func (s *StagePlan) infeasible(p *search.Problem) error {
	grow := p.Affordable()
	alone := s.SignAlone()
	if alone <= s.MissedRisk+riskSlack {
		alone = 0
	}
	return &Infeasible{
		SignAlone: alone,
		Stage:     s.Name, Maximum: p.Maximum, Needed: p.Needed(s.Method == RiskTrue), Looked: max(searchLimit, p.Maximum),
		NeedlessRisk: grow * s.NeedlessRisk, MissedRisk: grow * s.MissedRisk,
	}
}

// noLines says that lines do not reach.
func (s *StagePlan) noLines(p *search.Problem) error {
	return &Infeasible{Stage: s.Name, Maximum: p.Maximum, Lines: true}
}

// iwaoTable returns the table of Iwao's decision curves around the threshold c
// after n units,
//
//	n c - z sqrt(n v)  and  n c + z sqrt(n v)
//
// where v is the variance per unit at the threshold: of a count, or of a clumped
// share c(1-c) times the design effect. z belongs to the allowed missed risk on
// the lower curve and to the needless risk on the upper one. The curves test the
// threshold anew at every stop and have no risk guarantee at all: the exact risks
// at the bounds are what to go by.
//
// Iwao, S. (1975) A new method of sequential sampling to classify populations
// relative to a critical density. Res. Popul. Ecol. 16: 281-288.
func (s *StagePlan) iwaoTable(p *search.Problem) Table {
	c := s.Threshold
	perUnit := s.Law().Variance(c, p.Units) / float64(p.Units)
	low := distuv.UnitNormal.Quantile(1 - s.MissedRisk)
	high := distuv.UnitNormal.Quantile(1 - s.NeedlessRisk)
	return p.Curves(c, perUnit, low, high)
}
