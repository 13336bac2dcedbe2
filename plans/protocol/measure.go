package protocol

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Measure is what a threshold is stated in.
type Measure string

// The measures a stage can have.
const (
	ShareInfested Measure = "share infested"
	MeanPerLeaf   Measure = "mean per leaf"
)

// Measures lists the measures, the default first.
var Measures = []Measure{ShareInfested, MeanPerLeaf}

// A form is all that is particular to one measure. A further measure is one more
// form, in a file of its own, and a line below.
type form struct {
	unit, noun string // one unit, and what is counted, in the plural
	bounded    bool   // a unit counts for one at the most
	// perPlant returns the units on a plant.
	perPlant func(SampleUnit) int
	// law returns the law of clumping that the measure needs.
	law     func(Clumping) (Law, bool)
	missing string // says how to state the law, with the stage's name in it
	lawKey  string
	// valid reports whether a level can be a bound; accepted says which can.
	valid    func(float64) bool
	accepted string
	top      float64 // no level lies above
	// gap is the distance from a level to a threshold on the scale on which the
	// pest grows by r a day.
	gap      func(level, threshold float64) float64
	lines    func(Terms) (rule.LinePair, error)
	interval func(t Terms, estimate float64, plants []int, confidence float64) sampling.Interval
	read     func(s *section, key string) float64
	text     func(float64) string // as a protocol writes it, for errors and defaults
}

var forms []*form // in the order of Measures

func init() { forms = []*form{shareForm(), meanForm()} }

// form returns the measure's form; that of the default for one that is not known,
// which no checked protocol has.
func (m Measure) form() *form {
	return forms[max(0, slices.Index(Measures, m))]
}

// Known reports whether the measure is one of [Measures].
func (m Measure) Known() bool { return slices.Contains(Measures, m) }

// fault says of a measure that is not known which are.
func (m Measure) fault() string {
	known := make([]string, len(Measures))
	for i, k := range Measures {
		known[i] = strconv.Quote(string(k))
	}
	return fmt.Sprintf("measure is %q; accepted: %s", string(m), strings.Join(known, " or "))
}

// Bounded reports whether a unit counts for one at the most: an act number above
// the units seen is then never reached.
func (m Measure) Bounded() bool { return m.form().bounded }

// Unit returns the usual word for one unit: "plant" or "leaf".
func (m Measure) Unit() string { return m.form().unit }

// Noun returns what is counted: "infested plants" or "insects".
func (m Measure) Noun() string { return m.form().noun }

// UnitsPerPlant returns how many units a plant carries: one for a share of
// plants, the number of leaves for a mean per leaf.
func (m Measure) UnitsPerPlant(u SampleUnit) int { return m.form().perPlant(u) }

// Valid reports whether a level can be a bound or a threshold.
func (m Measure) Valid(level float64) bool { return m.form().valid(level) }

// Top returns the largest level: 1 for a share, +Inf for a mean.
func (m Measure) Top() float64 { return m.form().top }

// Days returns in how many days a level grows to a threshold at r per day: 0
// where it is there, +Inf where it never comes. A mean grows as e^(rt), a share on
// the logit scale.
func (m Measure) Days(level, threshold, growth float64) float64 {
	gap := m.form().gap(level, threshold)
	switch {
	case gap <= 0:
		return 0
	case growth == 0:
		return math.Inf(1)
	}
	return gap / growth
}

// Grown returns the level that a level has grown to after days at r per day.
func (m Measure) Grown(level, growth, days float64) float64 {
	if m.Bounded() {
		return 1 / (1 + math.Exp(-(logit(level) + growth*days)))
	}
	return level * math.Exp(growth*days)
}

func logit(p float64) float64 { return math.Log(p) - math.Log1p(-p) }
