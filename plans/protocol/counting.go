package protocol

import (
	"fmt"
	"strings"

	"stopwise/plans/rule"
)

// Counting says what of a stop's count is added to the running total of a visit.
type Counting string

// The ways of counting.
const (
	// Total adds what was found; the default, and what the zero value is.
	Total Counting = "total"
	// Capped adds at most so many of one stop: the scout may stop looking there once
	// so many are found.
	Capped Counting = "capped"
	// Points adds points: what so many found at a stop say for the upper against the
	// lower bound (see [rule.Points]).
	Points Counting = "points"
)

// Countings lists the ways of counting, the default first.
var Countings = []Counting{Total, Capped, Points}

// Auto is written for the cap, or the points, that a design is to choose, and with a
// promise for the season for the way of counting itself.
const Auto = "auto"

// PaperPoints is how many points a stop is worth at most where it is not said: few
// enough to be added up on paper.
const PaperPoints = 12

// leastPoints and MostPoints bound the points of a stop.
const leastPoints, MostPoints = 2, 200

// MaxCap is the largest cap where insects are counted.
const MaxCap = 10000

// Plain reports whether what was found is added up as it is.
func (s StopRules) Plain() bool { return s.Counting == "" || s.Counting == Total }

// SetCounting sets the way of counting, with the usual cap or points of it.
func (s *StopRules) SetCounting(c Counting) {
	s.Counting, s.Cap, s.Points = c, 0, 0
	switch c {
	case Total:
		s.Counting = ""
	case Points:
		s.Points = PaperPoints
	}
}

// Worth returns what a stop of the terms counts, false where a design is to choose
// the cap or the map of the points. The map of points is taken at one rho: for a
// range of rho it is to be chosen, and for insects always.
func (t Terms) Worth() (rule.Worth, bool) {
	switch t.Stop.Counting {
	case Capped:
		return t.CappedAt(t.Stop.Cap), t.Stop.Cap > 0
	case Points:
		if !t.Measure.Bounded() {
			return rule.Worth{}, false
		}
		r := t.Law().Range
		return t.PointsAt(r.Low, t.Stop.Points), t.Stop.Points > 0 && r.Single()
	}
	return rule.Worth{}, true
}

// CappedAt returns counts that end at a cap. Plants are looked at one by one.
func (t Terms) CappedAt(most int) rule.Worth {
	w := rule.Worth{Cap: most}
	if most > 0 && !t.Measure.Bounded() {
		w.Step = t.UnitsPerPlant()
	}
	return w
}

// InsectPoints returns points up to top of insects, with a map for fields at the bounds
// that are as clumped as two worlds; full insects or more at a full stop are worth all
// of them.
func (t Terms) InsectPoints(lower, upper World, top, full int) rule.Worth {
	p := &rule.Points{Lower: t.Lower, Upper: t.Upper, Units: t.Units(t.Stop.Plants), Top: top, Insects: rule.Insects{Full: full}}
	for i, w := range []World{lower, upper} {
		p.Insects.Unit[i] = 1 / w.Clump
		p.Insects.Stop[i] = w.CountRho * (1/w.Level + 1/w.Clump)
	}
	return rule.Worth{Points: p}
}

// PointsAt returns points up to top with the map at one rho.
func (t Terms) PointsAt(rho float64, top int) rule.Worth {
	return rule.Worth{Points: &rule.Points{Lower: t.Lower, Upper: t.Upper, Rho: rho, Units: t.Units(t.Stop.Plants), Top: top}}
}

// counting reads the key counting.
func (s *section) counting(key string, to *StopRules) {
	c := Counting(strings.ToLower(s.text(key)))
	if !c.known() {
		s.r.unknown(s.at(key), string(c), names(Countings), "%s: %s is not accepted; write %s", key, shown(s.values[key]), c.accepted())
		return
	}
	to.SetCounting(c)
	for _, k := range []struct {
		of    Counting
		name  string
		usual any
	}{{Capped, "cap", Auto}, {Points, "points", PaperPoints}} {
		if c == k.of && !s.has(k.name) {
			s.r.tookDefault(s.at(k.name), k.usual)
		}
	}
}

func (c Counting) known() bool {
	return c == "" || c == Total || c == Capped || c == Points || c == Auto
}

func (c Counting) accepted() string {
	return fmt.Sprintf("%q, %q or %q", Total, Capped, Points)
}

// orAuto reads a whole number, or "auto" as 0.
func (s *section) orAuto(key string) int {
	v, _ := s.get(key)
	if text, isText := v.(string); isText {
		if text != Auto {
			s.wrong(key, `a whole number, without quotes, or "auto" for the best`)
		}
		return 0
	}
	return s.wholeOr(key, 0)
}

// counting checks what a stop counts.
func (c *checker) counting(t Terms) {
	s := t.Stop
	switch {
	case !s.Counting.known():
		c.wrong("stop.counting", "counting", fmt.Sprintf("%q", string(s.Counting)), s.Counting.accepted())
		return
	}
	if s.Counting == Capped {
		if most := s.Plants; s.Cap != 0 {
			if !t.Measure.Bounded() {
				most = MaxCap
			}
			c.between("stop.cap", "cap", s.Cap, 1, max(1, most))
		}
	} else if s.Cap != 0 {
		c.add("stop.cap", `cap is for counting = "capped"; add it, or leave the cap out`)
	}
	if s.Counting == Points {
		if s.Points != 0 {
			c.between("stop.points", "points", s.Points, leastPoints, MostPoints)
		}
	} else if s.Points != 0 {
		c.add("stop.points", `points is for counting = "points"; add it, or leave the points out`)
	}
}
