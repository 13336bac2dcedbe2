package precision

import (
	"errors"
	"fmt"

	"stopwise/plans/protocol"
	"stopwise/sampling"
)

// As says what a relative precision is.
type As string

// The two ways in which a precision is stated, both relative to the estimate.
const (
	HalfWidth     As = "half-width"     // half of the confidence interval
	StandardError As = "standard-error" // one standard error
)

// Spec says how precise an estimate must be and how it is sampled.
type Spec struct {
	Title   string              `json:"title,omitempty"`
	Unit    protocol.SampleUnit `json:"sample_unit"`
	Stop    protocol.StopRules  `json:"stop"`
	Measure protocol.Measure    `json:"measure"`
	// How counts vary over the leaves of a field, for a mean per leaf: one of
	// these. A common k is Iwao's law with A = 0 and B = 1 + 1/k.
	Taylor *protocol.Taylor `json:"taylor,omitempty"`
	Iwao   *protocol.Iwao   `json:"iwao,omitempty"`
	K      *float64         `json:"k,omitempty"`
	Rho    *float64         `json:"rho,omitempty"` // how alike the plants of a stop are, for a share
	// CountRho is how alike the counts of a stop are, for a mean per leaf: the
	// correlation of two of them. Nil and 0 are leaves drawn one by one.
	CountRho *float64 `json:"count_rho,omitempty"`
	// Precision is relative to what is estimated: 0.25 for plus or minus 25%.
	Precision  float64 `json:"precision"`
	As         As      `json:"precision_as"`
	Confidence float64 `json:"confidence"` // of the interval
}

func (s Spec) check() error {
	var errs []error
	wrong := func(path, quantity string, value any, accepted string) {
		errs = append(errs, &protocol.FieldError{Path: path, Quantity: quantity, Value: value, Accepted: accepted})
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
func (s *Spec) SetLaw(l protocol.Law) {
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
		s.Taylor = &protocol.Taylor{A: l.A, B: l.B}
	case protocol.IwaoLaw:
		s.Iwao = &protocol.Iwao{A: l.A, B: l.B}
	case protocol.PoissonLaw:
		s.Iwao = &protocol.Iwao{A: 0, B: 1} // variance = mean
	}
}

// clumping returns what is said of clumping.
func (s Spec) clumping() protocol.Clumping {
	c := protocol.Clumping{Taylor: s.Taylor, Iwao: s.Iwao}
	if s.K != nil {
		c.K = &protocol.Range{Low: *s.K, High: *s.K}
	}
	if s.Rho != nil {
		c.Rho = &protocol.Range{Low: *s.Rho, High: *s.Rho}
	}
	if s.CountRho != nil {
		c.CountRho = &protocol.Range{Low: *s.CountRho, High: *s.CountRho}
	}
	return c
}

func (s Spec) checkLaw() error {
	laws := 0
	for _, given := range []bool{s.Taylor != nil, s.Iwao != nil, s.K != nil} {
		if given {
			laws++
		}
	}
	refuse := func(message string) error { return &protocol.FieldError{Path: "clumping", Message: message} }
	switch {
	case !s.Measure.Known():
		return &protocol.FieldError{Path: "measure", Quantity: "measure", Value: s.Measure, Accepted: fmt.Sprintf("%q or %q", protocol.ShareInfested, protocol.MeanPerLeaf)}
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
func (s Spec) law() sampling.VarianceLaw {
	law, _ := s.clumping().Counts()
	return law.VarianceLaw()
}

// z returns how many standard errors half an interval has.
func (s Spec) z() float64 { return sampling.CriticalNormal(s.Confidence) }

// D returns the precision as the standard error relative to the estimate.
func (s Spec) D() float64 {
	if s.As == HalfWidth {
		return s.Precision / s.z()
	}
	return s.Precision
}

// Half returns the half width of the interval relative to the estimate.
func (s Spec) Half() float64 { return s.D() * s.z() }

// Units returns the sample units on plants plants: leaves for a mean.
func (s Spec) Units(plants int) int { return plants * s.Measure.UnitsPerPlant(s.Unit) }

// alike returns how alike the units of a stop are: rho, or the correlation of two
// counts.
func (s Spec) alike() float64 {
	switch {
	case s.Measure == protocol.ShareInfested:
		return *s.Rho
	case s.CountRho != nil:
		return *s.CountRho
	}
	return 0
}

// deff returns the design effect of a planned stop. Of few insects it is that of a
// correlation larger than there can be (see [sampling.MaxCountRho]): the careful
// side.
func (s Spec) deff() float64 {
	return sampling.DesignEffect(s.Units(s.Stop.Plants), s.alike())
}
