package protocol

import "stopwise/sampling"

// Clumping is what a protocol states of how alike the plants of a stop are: for
// shares infested the intraclass correlation rho; for counts one law of the
// counts per leaf, and how alike those of one stop are. Whoever computes takes the
// [Law] from it.
type Clumping struct {
	Rho      *Range  `json:"rho,omitempty"`
	K        *Range  `json:"k,omitempty"`
	Taylor   *Taylor `json:"taylor,omitempty"`
	Iwao     *Iwao   `json:"iwao,omitempty"`
	Poisson  bool    `json:"poisson,omitempty"`
	CountRho *Range  `json:"count_rho,omitempty"`
	Source   string  `json:"source,omitempty"` // where the values come from
}

// Taylor is Taylor's power law of the counts per leaf.
type Taylor = sampling.Taylor

// Iwao is Iwao's law of the counts per leaf.
type Iwao = sampling.Iwao

// Law returns the law of clumping that a measure needs, false where it is not
// stated.
func (c Clumping) Law(m Measure) (Law, bool) { return m.form().law(c) }

func (c Clumping) shares() (Law, bool) {
	if c.Rho == nil {
		return Law{}, false
	}
	return Law{Kind: RhoLaw, Range: *c.Rho}, true
}

// Counts returns the law of the counts per leaf, false where none is stated.
func (c Clumping) Counts() (Law, bool) {
	var law Law
	switch {
	case c.Taylor != nil:
		law = Law{Kind: TaylorLaw, A: c.Taylor.A, B: c.Taylor.B}
	case c.Iwao != nil:
		law = Law{Kind: IwaoLaw, A: c.Iwao.A, B: c.Iwao.B}
	case c.K != nil:
		law = Law{Kind: KLaw, Range: *c.K}
	case c.Poisson:
		law = Law{Kind: PoissonLaw}
	default:
		return Law{}, false
	}
	if c.CountRho != nil {
		law.CountRho = *c.CountRho
	}
	return law, true
}

// WithCounts returns the clumping with a law of counts in place of its own; how
// alike the counts of a stop are stays as it is stated.
func (c Clumping) WithCounts(law Law) Clumping {
	c.K, c.Taylor, c.Iwao, c.Poisson = nil, nil, nil, false
	switch law.Kind {
	case KLaw:
		c.K = &law.Range
	case TaylorLaw:
		c.Taylor = &Taylor{A: law.A, B: law.B}
	case IwaoLaw:
		c.Iwao = &Iwao{A: law.A, B: law.B}
	case PoissonLaw:
		c.Poisson = true
	}
	return c
}
