package plans

import (
	"errors"
	"fmt"
	"math"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// PrecisionAs says what a relative precision is.
type PrecisionAs string

// The two ways in which a precision is stated, both relative to the estimate.
const (
	HalfWidth     PrecisionAs = "half-width"     // half of the confidence interval
	StandardError PrecisionAs = "standard-error" // one standard error
)

// PrecisionSpec says how precise an estimate must be and how it is sampled.
type PrecisionSpec struct {
	Title   string     `json:"title,omitempty"`
	Unit    SampleUnit `json:"sample_unit"`
	Stop    StopRules  `json:"stop"`
	Measure Measure    `json:"measure"`
	// How counts vary over the leaves of a field, for a mean per leaf: one of
	// these. A common k is Iwao's law with A = 0 and B = 1 + 1/k.
	Taylor *Taylor  `json:"taylor,omitempty"`
	Iwao   *Iwao    `json:"iwao,omitempty"`
	K      *float64 `json:"k,omitempty"`
	Rho    *float64 `json:"rho,omitempty"` // how alike the plants of a stop are, for a share
	// CountRho is how alike the counts of a stop are, for a mean per leaf: the
	// correlation of two of them. Nil and 0 are leaves drawn one by one.
	CountRho *float64 `json:"count_rho,omitempty"`
	// Precision is relative to what is estimated: 0.25 for plus or minus 25%.
	Precision  float64     `json:"precision"`
	As         PrecisionAs `json:"precision_as"`
	Confidence float64     `json:"confidence"` // of the interval
}

// A PrecisionPlan says after each stop whether what was seen suffices for an
// estimate with a relative precision laid down beforehand. It estimates, and
// decides nothing.
type PrecisionPlan struct {
	Program string
	PrecisionSpec
	Effort []PrecisionEffort // what an estimate takes at the levels asked for
}

// DesignPrecision returns the plan of a specification, with what it takes in fields
// of the given levels, or a FieldError for a value out of its range. It returns a Failure where there is no stop line, or none that
// can be reached within the maximum of stops.
func DesignPrecision(s PrecisionSpec, levels ...float64) (*PrecisionPlan, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	p := &PrecisionPlan{PrecisionSpec: s}
	if err := p.solvable(); err != nil {
		return nil, err
	}
	for _, level := range levels {
		e, err := p.EffortAt(level)
		if err != nil {
			return nil, err
		}
		p.Effort = append(p.Effort, e)
	}
	return p, nil
}

func (s PrecisionSpec) check() error {
	var errs []error
	wrong := func(path, quantity string, value any, accepted string) {
		errs = append(errs, &FieldError{Path: path, Quantity: quantity, Value: value, Accepted: accepted})
	}
	if s.Unit.Leaves < 1 || s.Unit.Leaves > protocol.MaxLeaves {
		wrong("sample_unit.leaves", "leaves per plant", s.Unit.Leaves, fmt.Sprintf("a whole number from 1 to %d", protocol.MaxLeaves))
	}
	errs = append(errs, s.Stop.Check())
	if !(s.Precision > 0 && s.Precision < 1) {
		wrong("precision", "precision", s.Precision, "a share above 0% and below 100% of what is estimated")
	}
	if s.As != HalfWidth && s.As != StandardError {
		wrong("precision_as", "the kind of precision", s.As, fmt.Sprintf("%q or %q", HalfWidth, StandardError))
	}
	if sampling.CheckConfidence(s.Confidence) != nil {
		wrong("confidence", "confidence", s.Confidence, "above 0% and below 100%")
	}
	return errors.Join(append(errs, s.checkLaw())...)
}

// SetLaw takes the clumped end of a law.
func (s *PrecisionSpec) SetLaw(l Law) {
	s.Rho, s.K, s.Taylor, s.Iwao, s.CountRho = nil, nil, nil, nil, nil
	if high := l.CountRho.High; l.Counts() && high > 0 {
		s.CountRho = &high
	}
	switch l.Kind {
	case protocol.RhoLaw:
		s.Rho = &l.Range.High
	case protocol.KLaw:
		s.K = &l.Range.Low
	case protocol.TaylorLaw:
		s.Taylor = &Taylor{A: l.A, B: l.B}
	case protocol.IwaoLaw:
		s.Iwao = &Iwao{A: l.A, B: l.B}
	case protocol.PoissonLaw:
		s.Iwao = &Iwao{A: 0, B: 1} // variance = mean
	}
}

// clumping returns what is said of clumping.
func (s PrecisionSpec) clumping() Clumping {
	c := Clumping{Taylor: s.Taylor, Iwao: s.Iwao}
	if s.K != nil {
		c.K = &Range{Low: *s.K, High: *s.K}
	}
	if s.Rho != nil {
		c.Rho = &Range{Low: *s.Rho, High: *s.Rho}
	}
	if s.CountRho != nil {
		c.CountRho = &Range{Low: *s.CountRho, High: *s.CountRho}
	}
	return c
}

func (s PrecisionSpec) checkLaw() error {
	laws := 0
	for _, given := range []bool{s.Taylor != nil, s.Iwao != nil, s.K != nil} {
		if given {
			laws++
		}
	}
	refuse := func(message string) error { return &FieldError{Path: "clumping", Message: message} }
	switch {
	case !s.Measure.Known():
		return &FieldError{Path: "measure", Quantity: "measure", Value: s.Measure, Accepted: fmt.Sprintf("%q or %q", ShareInfested, MeanPerLeaf)}
	case s.Measure.Bounded() && (s.Rho == nil || laws > 0 || s.CountRho != nil):
		return refuse("the share infested takes rho, and no law of counts")
	case !s.Measure.Bounded() && (s.Rho != nil || laws != 1):
		return refuse("the mean per leaf takes one of k, Taylor's law and Iwao's, and no rho")
	case s.Measure.Bounded():
		law, _ := s.clumping().Law(s.Measure)
		return law.Check()
	}
	if law := s.law(); law.Check() != nil {
		return refuse(fmt.Sprintf("%s; accepted: k, Taylor's a and Iwao's A + 1 above 0", law))
	}
	return nil
}

// law returns the law of the variance of counts per leaf.
func (s PrecisionSpec) law() sampling.VarianceLaw {
	law, _ := s.clumping().Counts()
	return law.VarianceLaw()
}

// z returns how many standard errors half an interval has.
func (s PrecisionSpec) z() float64 { return sampling.CriticalNormal(s.Confidence) }

// D returns the precision as the standard error relative to the estimate.
func (s PrecisionSpec) D() float64 {
	if s.As == HalfWidth {
		return s.Precision / s.z()
	}
	return s.Precision
}

// Half returns the half width of the interval relative to the estimate.
func (s PrecisionSpec) Half() float64 { return s.D() * s.z() }

// Units returns the sample units on plants plants: leaves for a mean.
func (s PrecisionSpec) Units(plants int) int { return plants * s.Measure.UnitsPerPlant(s.Unit) }

// alike returns how alike the units of a stop are: rho, or the correlation of two
// counts.
func (s PrecisionSpec) alike() float64 {
	switch {
	case s.Measure == ShareInfested:
		return *s.Rho
	case s.CountRho != nil:
		return *s.CountRho
	}
	return 0
}

// deff returns the design effect of a planned stop. Of few insects it is that of a
// correlation larger than there can be (see [sampling.MaxCountRho]): the careful
// side.
func (s PrecisionSpec) deff() float64 {
	return sampling.DesignEffect(s.Units(s.Stop.Plants), s.alike())
}

// A sample is what was examined at stops: units in all, and how many independent
// units tell as much.
type sample struct{ units, effective float64 }

// sampleOf returns the sample of stops with the given plants.
func (s PrecisionSpec) sampleOf(plants []int) sample {
	units, all := make([]int, len(plants)), 0
	for i, m := range plants {
		units[i] = s.Units(m)
		all += units[i]
	}
	return sample{float64(all), sampling.PooledEffectiveSize(units, s.alike())}
}

func (s PrecisionSpec) planned(stops int) sample {
	units := float64(stops * s.Units(s.Stop.Plants))
	return sample{units, units / s.deff()}
}

// relativeError returns the standard error of an estimate from a sample, relative
// to it; +Inf for an estimate of 0.
func (s PrecisionSpec) relativeError(estimate float64, n sample) float64 {
	switch {
	case !(estimate > 0):
		return math.Inf(1)
	case s.Measure == ShareInfested:
		return math.Sqrt((1 - estimate) / (estimate * n.effective))
	}
	return math.Sqrt(math.Max(0, s.law().Variance(estimate))/n.effective) / estimate
}

// GreenLine returns the cumulative total T at which n units give a mean with a
// standard error of d times the mean, under Taylor's law:
//
//	ln T = ln(d^2/a)/(b-2) + (b-1)/(b-2) ln n
//
// Sampling stops at or above T. It returns false where b is 2 or more: a larger
// mean is then no easier to estimate, and there is no line to stop at.
//
// Green, R.H. (1970) On fixed precision level sequential sampling. Res. Popul.
// Ecol. 12: 249-251.
func GreenLine(law sampling.Taylor, d, n float64) (total float64, ok bool) {
	if law.B >= 2 {
		return math.Inf(1), false
	}
	return math.Exp(math.Log(d*d/law.A)/(law.B-2) + (law.B-1)/(law.B-2)*math.Log(n)), true
}

// KunoLine returns the total of the same meaning under Iwao's law:
//
//	T = (A+1) / (d^2 - (B-1)/n)
//
// It returns false where n is (B-1)/d^2 or less: no total suffices yet.
//
// Kuno, E. (1969) A new method of sequential sampling to obtain the population
// estimates with a fixed level of precision. Res. Popul. Ecol. 11: 127-136.
func KunoLine(law sampling.Iwao, d, n float64) (total float64, ok bool) {
	if over := d*d - (law.B-1)/n; over > 0 {
		return (law.A + 1) / over, true
	}
	return math.Inf(1), false
}

// ShareLine returns the number of infested units T among n at which their share
// has a standard error of d times itself, deff being the design effect of clumped
// stops (1 for independent units):
//
//	T = n deff / (n d^2 + deff)
//
// Kuno, E. (1986) Evaluation of statistical precision and design of efficient
// sampling for the population estimation based on frequency of occurrence. Res.
// Popul. Ecol. 28: 305-319, for deff = 1.
func ShareLine(deff, d, n float64) float64 { return n * deff / (n*d*d + deff) }

// line returns the total at which sampling stops, before rounding up. The lines of
// Green and Kuno are of units drawn one by one: of alike ones, as many as tell as
// much are put into them, and the mean at which they stop is that of all units. For
// with two levels of variance, between stops and within, a mean over stops of m units
// has the variance v [1 + (m-1) rho]/n (Cochran, W.G. 1977, Sampling Techniques, 3rd
// ed., 9.4).
func (s PrecisionSpec) line(n sample) (float64, bool) {
	var total float64
	var ok bool
	switch {
	case s.Measure == ShareInfested:
		return ShareLine(n.units/n.effective, s.D(), n.units), true
	case s.Taylor != nil:
		total, ok = GreenLine(sampling.Taylor(*s.Taylor), s.D(), n.effective)
	case s.Iwao != nil:
		total, ok = KunoLine(sampling.Iwao(*s.Iwao), s.D(), n.effective)
	default:
		total, ok = KunoLine(sampling.Iwao{A: 0, B: 1 + 1 / *s.K}, s.D(), n.effective)
	}
	return total * (n.units / n.effective), ok
}

// mostTotal is more than anyone counts: a larger stop number is none.
const mostTotal = 1e9

// stopAt returns the smallest whole total at which a sample suffices, or NeverAct.
func (s PrecisionSpec) stopAt(n sample) int {
	t, ok := s.line(n)
	if !ok || t > mostTotal {
		return NeverAct
	}
	return max(1, int(math.Ceil(t-rule.NearInteger)))
}

// StopAt returns the total at or above which the estimate is precise enough after
// a stop (from 1) with the planned plants, or NeverAct: before the minimum number
// of stops, and where no total suffices yet.
func (p *PrecisionPlan) StopAt(stop int) int {
	if stop < p.Stop.Minimum {
		return NeverAct
	}
	return p.stopAt(p.planned(stop))
}

// solvable returns a Failure where there is nothing to stop at.
func (p *PrecisionPlan) solvable() error {
	if t := p.Taylor; t != nil && t.B >= 2 {
		return &Failure{fmt.Sprintf("no stop line: with Taylor's b of %g, 2 or more, a denser field is no easier to estimate; a fixed number of stops is needed", t.B)}
	}
	if p.StopAt(p.Stop.Maximum) != NeverAct {
		return nil
	}
	needed := math.Inf(1)
	switch {
	case p.Iwao != nil:
		needed = (p.Iwao.B - 1) / (p.D() * p.D())
	case p.K != nil:
		needed = 1 / (*p.K * p.D() * p.D())
	}
	if math.IsInf(needed, 1) {
		return &Failure{fmt.Sprintf("no total that can be counted gives this precision within %d stops; allow more stops, or less precision", p.Stop.Maximum)}
	}
	needed = math.Floor(needed*p.deff() + rule.NearInteger)
	return &Failure{fmt.Sprintf("no count gives this precision within %d stops: even in the densest field it takes more than %.0f leaves, %.0f stops; allow more stops, or less precision",
		p.Stop.Maximum, needed, math.Floor(needed/float64(p.Units(p.Stop.Plants)))+1)}
}

// A PrecisionRow is one stop of a precision plan; a nil number means never.
type PrecisionRow struct {
	Stop   int      `json:"stop"`
	Plants int      `json:"plants"` // in all, up to this stop
	Units  int      `json:"units"`  // plants, or leaves for a mean
	StopAt *int     `json:"stop_at"`
	Level  *float64 `json:"level"` // the estimate at that total
}

// Rows returns the plan stop by stop.
func (p *PrecisionPlan) Rows() []PrecisionRow {
	rows := make([]PrecisionRow, p.Stop.Maximum)
	for j := range rows {
		plants := p.Stop.Plants * (j + 1)
		rows[j] = PrecisionRow{Stop: j + 1, Plants: plants, Units: p.Units(plants)}
		if t := p.StopAt(j + 1); t != NeverAct {
			level := float64(t) / float64(rows[j].Units)
			rows[j].StopAt, rows[j].Level = &t, &level
		}
	}
	return rows
}

// NeededUnits returns the units that give the precision in a field of a known
// level, as if they were all examined at once: leaves for a mean, plants for a
// share. It is what size formulas give (Karandinos, M.G. 1976, Optimum sample size
// and comments on some published formulae. Bull. Entomol. Soc. Am. 22: 417-421),
// times the design effect of the stops.
func (p *PrecisionPlan) NeededUnits(level float64) float64 {
	d2 := p.D() * p.D()
	if p.Measure == ShareInfested {
		return p.deff() * (1 - level) / (level * d2)
	}
	return p.deff() * math.Max(0, p.law().Variance(level)) / (level * level * d2)
}
