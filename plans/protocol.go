package plans

import (
	"stopwise/sampling"
)

// A Protocol is what a specialist lays down for a region: what is examined,
// how a field is walked, how the pest sits in it, and for each growth stage when
// a field must be treated and how sure one must be.
type Protocol struct {
	Title      string      `json:"title"`
	Region     string      `json:"region,omitempty"`
	Season     string      `json:"season,omitempty"`
	Pest       string      `json:"pest,omitempty"`
	Crop       string      `json:"crop,omitempty"`
	Unit       SampleUnit  `json:"sample_unit"`
	Stop       StopRules   `json:"stop"`
	Clumping   Clumping    `json:"clumping"`
	Stages     []Stage     `json:"stages"`
	ComingBack *ComingBack `json:"coming_back,omitempty"`
	Costs      *Costs      `json:"costs,omitempty"`
	Cautions   string      `json:"cautions,omitempty"` // added to the standing ones, never instead of them
	// Defaults lists what the protocol left unsaid and what was taken instead.
	Defaults []string `json:"defaults"`
}

// SampleUnit is what is examined on a plant.
type SampleUnit struct {
	Text   string `json:"text"`
	Leaves int    `json:"leaves"`          // leaves examined on a plant
	Tally  int    `json:"tally,omitempty"` // a plant is infested when a leaf carries this many insects; 0 = not said
}

// StopRules says how a field is walked.
type StopRules struct {
	Plants       int     `json:"plants"`        // examined at each stop
	Minimum      int     `json:"minimum_stops"` // no verdict before this stop
	Maximum      int     `json:"maximum_stops"` // always a verdict at this stop
	WalkMinutes  float64 `json:"walk_minutes"`  // to walk to a stop
	PlantMinutes float64 `json:"plant_minutes"` // to examine a plant
}

// Minutes returns the time that stops stops and plants plants take.
func (s StopRules) Minutes(stops, plants float64) float64 {
	return s.WalkMinutes*stops + s.PlantMinutes*plants
}

// Clumping says how alike the plants of a stop are. For shares infested it is
// the intraclass correlation rho, for counts the negative binomial k of one leaf,
// Taylor's power law or Iwao's law.
type Clumping struct {
	Rho    *Range  `json:"rho,omitempty"`
	K      *Range  `json:"k,omitempty"`
	Taylor *Taylor `json:"taylor,omitempty"`
	Iwao   *Iwao   `json:"iwao,omitempty"`
	Source string  `json:"source,omitempty"` // where the values come from
}

// Taylor is Taylor's power law of the counts per leaf.
type Taylor = sampling.Taylor

// Iwao is Iwao's law of the counts per leaf.
type Iwao = sampling.Iwao

// A Measure is what a threshold is stated in.
type Measure string

// The measures a stage can have.
const (
	ShareInfested Measure = "share infested"
	MeanPerLeaf   Measure = "mean per leaf"
)

// A Stage is a growth stage with its threshold and the risks allowed.
type Stage struct {
	Name      string  `json:"name"`
	Measure   Measure `json:"measure"`
	Lower     float64 `json:"lower"`     // at or below it a treatment is needless
	Threshold float64 `json:"threshold"` // the action threshold, between the bounds
	Upper     float64 `json:"upper"`     // at or above it a missed treatment is harmful
	// NeedlessRisk is the largest allowed chance of acting at or below Lower.
	NeedlessRisk float64 `json:"needless_risk"`
	// MissedRisk is the largest allowed chance of leaving at or above Upper.
	MissedRisk float64 `json:"missed_risk"`
	Sign       *Sign   `json:"sign,omitempty"`
	// Tally and PlantMinutes replace the protocol's for this stage where above 0.
	Tally        int     `json:"tally,omitempty"`
	PlantMinutes float64 `json:"plant_minutes,omitempty"`
	LateLoss     float64 `json:"late_loss,omitempty"`  // share of the crop's value lost when treatment comes late
	LastsDays    float64 `json:"lasts_days,omitempty"` // days from the stage's start to the next one's; 0 = not said
}

// A Sign is a further sight that must be met before a field is treated.
type Sign struct {
	Text  string `json:"text"`
	Stops int    `json:"stops"` // stops at which it must be seen
	// Chance is the chance of the sign at a stop of a field at the upper bound, and
	// ChanceLower that in a field at the lower bound; 0 = not known.
	Chance      float64 `json:"chance,omitempty"`
	ChanceLower float64 `json:"chance_lower,omitempty"`
}

// ComingBack says when a field is visited again.
type ComingBack struct {
	DaysUntilFound float64 `json:"days_until_found"`
	DaysOnceFound  float64 `json:"days_once_found"`
	LeadDays       float64 `json:"lead_days"`      // from a decision to the treatment
	GrowthPerDay   float64 `json:"growth_per_day"` // r of the pest's growth e^(rt)
	// Confidence of the upper limit from which the pest is taken to grow,
	// one-sided.
	Confidence float64 `json:"confidence,omitempty"`
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

// TallyOf returns the tally number that holds in a stage, 0 if none is given.
func (p Protocol) TallyOf(s Stage) int {
	if s.Tally > 0 {
		return s.Tally
	}
	return p.Unit.Tally
}

// MinutesOf returns the time that stops stops and plants plants take in a stage.
func (p Protocol) MinutesOf(s Stage, stops, plants float64) float64 {
	rules := p.Stop
	if s.PlantMinutes > 0 {
		rules.PlantMinutes = s.PlantMinutes
	}
	return rules.Minutes(stops, plants)
}

// A World is a field situation a plan is judged in: the level of the pest and
// how clumped it is.
type World struct {
	Level  float64 // share infested, or mean per leaf
	Clump  float64 // rho for shares; k for means (+Inf: Poisson)
	Counts bool    // the stop totals are insect counts, not infested plants
}

// Population returns the distribution of stop totals in the world.
func (w World) Population() sampling.Population {
	if w.Counts {
		return sampling.Counts{Mean: w.Level, K: w.Clump}
	}
	return sampling.Infested{P: w.Level, Rho: w.Clump}
}

// UnitsPerPlant returns how many sample units a plant carries for the measure:
// one for a share of plants, the number of leaves for a mean per leaf.
func (p Protocol) UnitsPerPlant(m Measure) int {
	if m == MeanPerLeaf {
		return p.Unit.Leaves
	}
	return 1
}

// clumpGrid is how many values of a clumping range are checked. The risks vary
// smoothly with clumping, so a worst case between two of them is closer than
// the third digit.
const clumpGrid = 9

// Worlds returns the field situations at a level over the protocol's clumping
// range, from the least to the most clumped.
func (p Protocol) Worlds(m Measure, level float64) []World {
	if m == ShareInfested {
		var ws []World
		for _, rho := range p.Clumping.Rho.Grid(clumpGrid) {
			ws = append(ws, World{Level: level, Clump: rho})
		}
		return ws
	}
	if t := p.Clumping.Taylor; t != nil {
		return []World{{Level: level, Clump: t.K(level), Counts: true}}
	}
	if w := p.Clumping.Iwao; w != nil {
		return []World{{Level: level, Clump: w.K(level), Counts: true}}
	}
	var ws []World
	ks := p.Clumping.K.Ratios(clumpGrid)
	for i := range ks {
		ws = append(ws, World{Level: level, Clump: ks[len(ks)-1-i], Counts: true})
	}
	return ws
}
