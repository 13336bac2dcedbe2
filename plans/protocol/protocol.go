package protocol

import (
	"slices"
	"strings"

	"stopwise/sampling"
)

// A Protocol is what a specialist lays down for a region: for each growth stage
// what is examined, how a field is walked, how the pest sits in it, when a field
// must be treated and how sure one must be.
type Protocol struct {
	Title  string  `json:"title"`
	Region string  `json:"region,omitempty"`
	Season string  `json:"season,omitempty"`
	Pest   string  `json:"pest,omitempty"`
	Crop   string  `json:"crop,omitempty"`
	Stages []Terms `json:"stages"`
	Route  *Route  `json:"route,omitempty"`
	Costs  *Costs  `json:"costs,omitempty"`
	// Seasonal is what is promised for a season of visits, and Regional the fields it
	// is promised for; nil where nothing is.
	Seasonal *Season `json:"seasonal,omitempty"`
	Regional *Region `json:"regional,omitempty"`
	Cautions string  `json:"cautions,omitempty"` // added to the standing ones, never instead of them
	// AutoPlants says that the plants per stop are to be searched for; until then
	// the stages have the default number.
	AutoPlants bool `json:"-"`
	// Defaults lists what the protocol left unsaid and what was taken instead.
	Defaults []string `json:"defaults"`
}

// About is what a protocol says of itself, for headings.
type About struct {
	Title, Region, Season, Pest, Crop string
	Cautions                          string // added to the standing ones
}

// About returns what the protocol says of itself.
func (p Protocol) About() About {
	return About{p.Title, p.Region, p.Season, p.Pest, p.Crop, p.Cautions}
}

// Everywhere returns the stages with the common sample unit, stop rules,
// clumping and coming back put in where a stage has none of its own (nothing set).
func Everywhere(common Terms, stages ...Terms) []Terms {
	out := slices.Clone(stages)
	for i := range out {
		t := &out[i]
		if t.Unit == (SampleUnit{}) {
			t.Unit = common.Unit
		}
		if t.Stop == (StopRules{}) {
			t.Stop = common.Stop
		}
		if t.Clumping == (Clumping{}) {
			t.Clumping = common.Clumping
		}
		if !t.HoldUnder.Any() {
			t.HoldUnder = common.HoldUnder
		}
		if t.ComingBack == nil {
			t.ComingBack = common.ComingBack
		}
	}
	return out
}

// Each returns the protocol with a change made in every stage. The protocol
// itself is left as it is.
func (p Protocol) Each(change func(*Terms)) Protocol {
	p.Stages = slices.Clone(p.Stages)
	for i := range p.Stages {
		if b := p.Stages[i].ComingBack; b != nil {
			own := *b
			p.Stages[i].ComingBack = &own
		}
		change(&p.Stages[i])
	}
	return p
}

// Later returns the stages after the named one, in their order.
func (p Protocol) Later(name string) []Terms {
	for i, s := range p.Stages {
		if strings.EqualFold(s.Name, name) {
			return p.Stages[i+1:]
		}
	}
	return nil
}

// Costs are what a field and a visit are worth, in any one currency.
type Costs struct {
	Currency       string  `json:"currency"`
	CropPerHa      float64 `json:"crop_per_ha"`
	TreatmentPerHa float64 `json:"treatment_per_ha"`
	ScoutPerHour   float64 `json:"scout_per_hour"`
	FieldHa        float64 `json:"field_ha"`
	// Prior says how levels of the pest are spread over the fields visited; nil
	// for [DefaultPrior].
	Prior *BetaPrior `json:"prior,omitempty"`
}

// NeedlessCost returns what a needless treatment of a field costs.
func (k Costs) NeedlessCost() float64 { return k.TreatmentPerHa * k.FieldHa }

// MissedCost returns what is lost in a field that is treated late at a stage.
func (k Costs) MissedCost(s Terms) float64 { return s.LateLoss * k.CropPerHa * k.FieldHa }

// A BetaPrior says how the share infested is spread over the fields that are
// visited: as Beta(A, B), with the mean A/(A+B).
type BetaPrior struct {
	A float64 `json:"a"`
	B float64 `json:"b"`
}

// Check returns an error unless both parameters are from 0.1 to 1000.
func (b BetaPrior) Check() error {
	for _, x := range []float64{b.A, b.B} {
		if !(x >= 0.1 && x <= 1000) {
			return sampling.Refusef("prior Beta(%g, %g), both must be from 0.1 to 1000", b.A, b.B)
		}
	}
	return nil
}

// DefaultPrior is taken where costs have no prior: low levels are commonest, and
// the average field lies at the action threshold. An assumption without a source.
func DefaultPrior(threshold float64) BetaPrior { return BetaPrior{1, 1/threshold - 1} }
