package size

import (
	"cmp"
	"math"

	"stopwise/sampling"
)

// A ClassifyRequest asks for the fewest stops that tell a low share from a high
// one.
type ClassifyRequest struct {
	// Lower is the share at or below which a treatment is needless, and Upper
	// the one at or above which missing it is harmful: 0 <= Lower < Upper <= 1.
	Lower, Upper float64
	// NeedlessRisk is the largest allowed chance to act at Lower, and
	// MissedRisk the largest allowed chance to leave at Upper; each above 0 and
	// below 0.5.
	NeedlessRisk, MissedRisk float64
	// PlantsPerStop is at least 1.
	PlantsPerStop int
	// Rho is the intraclass correlation, 0 <= Rho < 1.
	Rho float64
	// MinStops and MaxStops bound the numbers of stops looked at; 0 is 1, and as
	// many as make [MaxPlants] plants.
	MinStops, MaxStops int
}

// A ClassifyDesign is a visit of fixed size with its rule: leave at Cutoff
// infested plants or fewer, act at more.
type ClassifyDesign struct {
	Stops  int
	Plants int
	// Cutoff is the largest total at which the field is left.
	Cutoff int
	// LowestCutoff and HighestCutoff bound the cutoffs that keep both risks. Cutoff
	// is the lowest of them, which makes a missed treatment least likely. Where
	// LowestCutoff > HighestCutoff none does, and Cutoff exceeds the risks least.
	LowestCutoff, HighestCutoff int
	// NeedlessRisk is the exact chance to act at the lower bound and MissedRisk
	// the exact chance to leave at the upper bound.
	NeedlessRisk, MissedRisk float64
}

// A ClassifyResult answers a [ClassifyRequest].
type ClassifyResult struct {
	Request ClassifyRequest
	ClassifyDesign
	// EveryFrom is the number of stops from which on every larger number keeps
	// both risks too, each with its own cutoff; it is proven, not sampled. It is
	// 0 where the proof is out of reach.
	EveryFrom int
	// Failing lists the numbers of stops above Stops and below EveryFrom that do
	// not keep both risks: whole numbers of plants make the risks jump.
	Failing     []int
	Sensitivity Sensitivity
}

// Classify returns the fewest stops J for which a whole number c exists with
//
//	P(S > c given Lower) <= NeedlessRisk and P(S <= c given Upper) <= MissedRisk
//
// S being the exact total of infested plants over the J stops. Feasibility is
// not monotone in J; the result says from which J on every number of stops
// works.
//
// Fleming, T.R. (1982) One-sample multiple testing procedure for phase II
// clinical trials. Biometrics 38: 143-151. A'Hern, R.P. (2001) Sample size
// tables for exact single-stage phase II designs. Stat. Med. 20: 859-866.
func Classify(r ClassifyRequest) (ClassifyResult, error) {
	res, err := r.answer()
	if err != nil {
		return res, err
	}
	if err := r.everyFrom(&res); err != nil {
		return res, err
	}
	res.Sensitivity = r.sensitivity(res)
	return res, nil
}

// answer returns the result without what surrounds it.
func (r ClassifyRequest) answer() (ClassifyResult, error) {
	res := ClassifyResult{Request: r}
	if err := r.check(); err != nil {
		return res, err
	}
	design, ok := r.fewest(r.limit())
	if !ok {
		return res, r.outOfReach()
	}
	res.ClassifyDesign = design
	return res, nil
}

func (r ClassifyRequest) check() error {
	return cmp.Or(checkStopRange(r.MinStops, r.MaxStops), checkBounds(r.Lower, r.Upper), checkRisks(r.NeedlessRisk, r.MissedRisk), checkPlantsPerStop(r.PlantsPerStop), checkRho(r.Rho))
}

// limit returns the largest number of stops to look at.
func (r ClassifyRequest) limit() int {
	limit := MaxPlants / r.PlantsPerStop
	if r.MaxStops > 0 {
		limit = min(limit, r.MaxStops)
	}
	return limit
}

// outOfReach says why no design was found.
func (r ClassifyRequest) outOfReach() error {
	limit := r.limit()
	return &OutOfReachError{
		Classify: &ClassifyGoal{r.Lower, r.Upper, r.NeedlessRisk, r.MissedRisk},
		Stops:    limit, Plants: r.PlantsPerStop, Rho: r.Rho, NeededStops: math.Max(r.roughStops(), float64(limit+1)),
	}
}

// roughStops returns the stops of the normal approximation.
func (r ClassifyRequest) roughStops() float64 {
	sd := func(p float64) float64 { return math.Sqrt(p * (1 - p)) }
	z := func(risk float64) float64 { return sampling.CriticalNormal(1 - 2*risk) }
	a := (z(r.NeedlessRisk)*sd(r.Lower) + z(r.MissedRisk)*sd(r.Upper)) / (r.Upper - r.Lower)
	return math.Ceil(a * a * sampling.DesignEffect(r.PlantsPerStop, r.Rho) / float64(r.PlantsPerStop))
}

// fewest returns the first design up to limit stops that keeps both risks.
func (r ClassifyRequest) fewest(limit int) (ClassifyDesign, bool) {
	if r.roughStops() > 2*float64(limit)+100 {
		return ClassifyDesign{}, false // far out of reach: do not spend the time
	}
	for s := r.scan(); s.stops < limit; {
		s.next()
		if s.stops >= r.MinStops && s.keeps() {
			return s.design(), true
		}
	}
	return ClassifyDesign{}, false
}

// A scan walks through the numbers of stops.
type scan struct {
	request         ClassifyRequest
	stops           int
	oneLow, oneHigh total // at one stop, given Lower and Upper
	low, high       total // over all stops
}

func (r ClassifyRequest) scan() *scan {
	none := total{p: []float64{1}}
	return &scan{
		request: r,
		oneLow:  stopTotal(r.Lower, r.Rho, r.PlantsPerStop),
		oneHigh: stopTotal(r.Upper, r.Rho, r.PlantsPerStop),
		low:     none,
		high:    none,
	}
}

// at returns the scan at a given number of stops.
func (r ClassifyRequest) at(stops int) *scan {
	s := r.scan()
	s.stops, s.low, s.high = stops, totalOver(s.oneLow, stops), totalOver(s.oneHigh, stops)
	return s
}

func (s *scan) next() {
	s.stops++
	s.low = s.low.add(s.oneLow)
	s.high = s.high.add(s.oneHigh)
}

// lowest returns the smallest cutoff that keeps the needless-treatment risk.
func (s *scan) lowest() int {
	bound := s.request.NeedlessRisk * (1 + tie)
	sum := 0.0
	for i := len(s.low.p) - 1; i >= 0; i-- {
		if sum += s.low.p[i]; sum > bound {
			return s.low.from + i
		}
	}
	return -1
}

// highest returns the largest cutoff that keeps the missed-treatment risk.
func (s *scan) highest() int {
	bound := s.request.MissedRisk * (1 + tie)
	sum := 0.0
	for i, p := range s.high.p {
		if sum += p; sum > bound {
			return s.high.from + i - 1
		}
	}
	return s.high.from + len(s.high.p)
}

func (s *scan) keeps() bool { return s.lowest() <= s.highest() }

// design returns the visit with these stops. If it keeps both risks its cutoff is
// the lowest that does; otherwise it exceeds the risks least.
func (s *scan) design() ClassifyDesign {
	d := ClassifyDesign{Stops: s.stops, Plants: s.stops * s.request.PlantsPerStop, LowestCutoff: s.lowest(), HighestCutoff: s.highest()}
	d.Cutoff = d.LowestCutoff
	if d.LowestCutoff > d.HighestCutoff {
		d.Cutoff, _ = s.balanced()
	}
	d.NeedlessRisk, d.MissedRisk = s.low.above(d.Cutoff), s.high.atMost(d.Cutoff)
	return d
}

// balanced returns the cutoff whose larger risk, over the one allowed, is least,
// and that ratio.
func (s *scan) balanced() (cutoff int, ratio float64) {
	r := s.request
	ratio = math.Inf(1)
	lo, hi := s.lowest(), s.highest()
	for c := min(lo, hi); c <= max(lo, hi); c++ {
		if w := math.Max(s.low.above(c)/r.NeedlessRisk, s.high.atMost(c)/r.MissedRisk); w < ratio {
			cutoff, ratio = c, w
		}
	}
	return cutoff, ratio
}

// sensitivity shows other values of rho: the stops they would need, and the
// risks of this answer's own rule.
func (r ClassifyRequest) sensitivity(res ClassifyResult) Sensitivity {
	s := Sensitivity{Of: "rho"}
	for _, rho := range rhosAround(r.Rho, r.PlantsPerStop) {
		q := r
		q.Rho = rho
		row := SensitivityRow{
			Value:         rho,
			Assumed:       rho == r.Rho,
			Reached:       totalOver(stopTotal(r.Lower, rho, r.PlantsPerStop), res.Stops).above(res.Cutoff),
			ReachedMissed: totalOver(stopTotal(r.Upper, rho, r.PlantsPerStop), res.Stops).atMost(res.Cutoff),
		}
		if d, ok := q.fewest(r.limit()); ok {
			row.Stops, row.Plants = d.Stops, d.Plants
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}
