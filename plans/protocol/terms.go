package protocol

import (
	"fmt"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// Terms is all that holds in one growth stage. It is complete: what a stage does
// not say itself was put in when the protocol was read, so that nothing else has
// to be asked.
type Terms struct {
	Name      string  `json:"name"`
	Measure   Measure `json:"measure"`
	Lower     float64 `json:"lower"`     // at or below it a treatment is needless
	Threshold float64 `json:"threshold"` // the action threshold, between the bounds
	Upper     float64 `json:"upper"`     // at or above it a missed treatment is harmful
	// NeedlessRisk is the largest allowed chance of acting at or below Lower.
	NeedlessRisk float64 `json:"needless_risk"`
	// MissedRisk is the largest allowed chance of leaving at or above Upper.
	MissedRisk float64     `json:"missed_risk"`
	Sign       *Sign       `json:"sign,omitempty"`
	Unit       SampleUnit  `json:"sample_unit"`
	Stop       StopRules   `json:"stop"`
	Clumping   Clumping    `json:"clumping"`
	HoldUnder  HoldUnder   `json:"hold_under,omitzero"` // worlds beside those of Clumping in which the risks must be kept
	ComingBack *ComingBack `json:"coming_back,omitempty"`
	LateLoss   float64     `json:"late_loss,omitempty"`  // share of the crop's value lost when treatment comes late
	LastsDays  float64     `json:"lasts_days,omitempty"` // days from the stage's start to the next one's; 0 = not said
}

// SampleUnit is what is examined at a stop.
type SampleUnit struct {
	Text   string `json:"text"`
	Leaves int    `json:"leaves"`          // leaves examined on a plant
	Tally  int    `json:"tally,omitempty"` // a plant is infested when a leaf carries this many insects; 0 = not said
	// Word names one unit, such as "stem" or "sweep"; empty for the measure's own,
	// see [Terms.UnitWord].
	Word string `json:"unit,omitempty"`
}

// StopRules says how a field is walked.
type StopRules struct {
	Plants       int     `json:"plants"`        // examined at each stop
	Minimum      int     `json:"minimum_stops"` // no verdict before this stop
	Maximum      int     `json:"maximum_stops"` // always a verdict at this stop
	WalkMinutes  float64 `json:"walk_minutes"`  // to walk to a stop
	PlantMinutes float64 `json:"plant_minutes"` // to examine a plant
	// Counting says what of a stop's count is added up; empty is [Total]. Cap is the
	// most that a stop counts where it is [Capped], and Points the most points that a
	// stop is worth where it is [Points]; 0 is left for a design to choose.
	Counting Counting `json:"counting,omitempty"`
	Cap      int      `json:"cap,omitempty"`
	Points   int      `json:"points,omitempty"`
}

// Minutes returns the time that stops stops and plants plants take.
func (s StopRules) Minutes(stops, plants float64) float64 {
	return s.WalkMinutes*stops + s.PlantMinutes*plants
}

// ComingBack says when a field is visited again.
type ComingBack struct {
	DaysUntilFound float64 `json:"days_until_found"`
	DaysOnceFound  float64 `json:"days_once_found"`
	LeadDays       float64 `json:"lead_days"`      // from a decision to the treatment
	GrowthPerDay   float64 `json:"growth_per_day"` // r of the pest's growth e^(rt)
	// MoreFrom, if above 0, is the share or mean seen at a visit from which on the field
	// is visited again after DaysMoreFound: both are chosen for a season. Where stops
	// count something else than what was found it is what they count per stop.
	DaysMoreFound float64 `json:"days_more_found,omitempty"`
	MoreFrom      float64 `json:"more_from,omitempty"`
	// Confidence of the upper limit from which the pest is taken to grow,
	// one-sided.
	Confidence float64 `json:"confidence,omitempty"`
	// ByIntervals says that the intervals alone give the next visit: they were chosen
	// for a season with the pest's growth in it.
	ByIntervals bool `json:"by_intervals,omitempty"`
}

// UnitWord returns the word for one unit that is judged or counted on: the
// protocol's own, else "plant" or "leaf" by the measure.
func (t Terms) UnitWord() string {
	if t.Unit.Word != "" {
		return t.Unit.Word
	}
	return t.Measure.Unit()
}

// UnitsPerPlant returns how many units of the measure a plant carries.
func (t Terms) UnitsPerPlant() int { return t.Measure.UnitsPerPlant(t.Unit) }

// Units returns the units on plants plants.
func (t Terms) Units(plants int) int { return plants * t.UnitsPerPlant() }

// Minutes returns the time that stops stops and plants plants take.
func (t Terms) Minutes(stops, plants float64) float64 { return t.Stop.Minutes(stops, plants) }

// Law returns the law of clumping of the measure. The terms must have passed
// [Terms.Check].
func (t Terms) Law() Law {
	law, _ := t.Clumping.Law(t.Measure)
	return law
}

// Worlds returns the field situations at a level over the range of clumping,
// from the least to the most clumped.
func (t Terms) Worlds(level float64) []World { return t.Law().Worlds(level) }

// Clumped returns the most clumped field situation at a level.
func (t Terms) Clumped(level float64) World { return t.Law().Clumped(level) }

// World returns the field situation at a level that is as clumped as clump says
// (rho, or k), and otherwise as the most clumped one.
func (t Terms) World(level, clump float64) World { return t.Law().At(level, clump) }

// TextbookLines returns Wald's lines for the bounds and risks of the stage.
func (t Terms) TextbookLines() (rule.LinePair, error) { return t.Measure.form().lines(t) }

// Interval returns a confidence interval of the level from an estimate and the
// plants of each stop: for shares Wilson's on the effective number of plants at
// the clumped end of the range; for means the normal interval with the variance
// there. It takes the stops as fixed beforehand: after a walk that may stop early
// it misses more often than it says.
func (t Terms) Interval(estimate float64, plants []int, confidence float64) sampling.Interval {
	return t.Measure.form().interval(t, estimate, plants, confidence)
}

// InStage begins a message about a stage that has a name: the only one of a protocol
// needs none.
func InStage(name string) string {
	if name == "" {
		return ""
	}
	return fmt.Sprintf("stage %q: ", name)
}
