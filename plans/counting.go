package plans

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"stopwise/plans/internal/search"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// Counting says what of a stop's count is added to the running total.
type Counting = protocol.Counting

// The ways of counting.
const (
	CountTotal  = protocol.Total
	CountCapped = protocol.Capped
	CountPoints = protocol.Points
)

// phonePoints are the most points of a stop that are tried where the best is asked
// for: beyond the last hardly anything is gained.
var phonePoints = []int{protocol.PaperPoints, 20, 40}

// worths returns what a stop may count: one where the terms say it, else those that a
// design chooses from.
func worths(t Stage) []rule.Worth {
	if w, ok := t.Worth(); ok {
		return []rule.Worth{w}
	}
	if t.Stop.Counting == CountCapped {
		if t.Measure.Bounded() {
			return search.Caps(t.Stop.Plants)
		}
		return search.InsectCaps(t.Clumped(t.Upper).Population(), t.Units(t.Stop.Plants), t.UnitsPerPlant())
	}
	tops := phonePoints
	if t.Stop.Points > 0 {
		tops = []int{t.Stop.Points}
	}
	if !t.Measure.Bounded() {
		return insectMaps(t, tops)
	}
	r := t.Law().Range
	var ws []rule.Worth
	for _, top := range tops {
		ws = append(ws, search.PointMaps(t.Lower, t.Upper, t.Stop.Plants, top, r.Low, r.High)...)
	}
	return ws
}

// reached are the parts of the stops at the upper bound that may be worth all of the
// points: what more insects there say is given away, and finer points won.
var reached = []float64{.25, .1, .03, .005}

// usualReached is that part where it is not searched for.
const usualReached = .1

// insectMaps returns maps of points of insects for the even end of what the stage takes
// clumping to be, the middle and the clumped end.
func insectMaps(t Stage, tops []int) []rule.Worth {
	var ws []rule.Worth
	law := t.Law()
	for _, top := range tops {
		for _, at := range []func(float64) World{law.Even, law.Between, law.Clumped} {
			for _, part := range reached {
				ws = append(ws, insectPoints(t, at, top, part))
			}
		}
	}
	units := t.Units(t.Stop.Plants)
	var different []rule.Worth
	for _, w := range ws {
		same := func(v rule.Worth) bool { return slices.Equal(v.Edges(units), w.Edges(units)) }
		if !slices.ContainsFunc(different, same) {
			different = append(different, w)
		}
	}
	return different
}

// insectPoints returns the points that a part of the clumped stops at the upper bound
// are worth all of. Where k falls so fast with the mean that insects say nothing for
// the upper one, the map is one for counts that vary at both as at the upper one.
func insectPoints(t Stage, at func(float64) World, top int, part float64) rule.Worth {
	full := search.Reached(t.Clumped(t.Upper).Population(), t.Units(t.Stop.Plants), part)
	w := t.InsectPoints(at(t.Lower), at(t.Upper), top, full)
	if n := &w.Points.Insects; w.Check() != nil {
		n.Unit[0], n.Stop[0] = n.Unit[1], n.Stop[1]
	}
	return w
}

// UsualWorth returns what a stop counts where the cap, or the map of the points, was
// not searched for: two fifths of the plants, and the map at the lower end of the
// clumping range, where it keeps the risks over the range.
func UsualWorth(t Stage) rule.Worth {
	w, ok := t.Worth()
	switch {
	case ok:
	case t.Stop.Counting == CountCapped && !t.Measure.Bounded():
		w = t.CappedAt(max(2, int(math.Round(t.Upper*float64(t.Units(t.Stop.Plants))))))
	case t.Stop.Counting == CountPoints && !t.Measure.Bounded():
		w = insectPoints(t, t.Law().Even, cmp.Or(t.Stop.Points, protocol.PaperPoints), usualReached)
	case t.Stop.Counting == CountCapped:
		w.Cap = max(2, t.Stop.Plants*2/5)
	case t.Stop.Points == 0:
		w.Points.Top = protocol.PaperPoints
	}
	return w
}

// countable returns an error for a method that is of totals only.
func (s *StagePlan) countable(m Method) error {
	if s.Stop.Plain() || m != Lines && m != IwaoCurves {
		return nil
	}
	return &FieldError{Path: "stop.counting", Stage: s.Name, Message: protocol.InStage(s.Name) + fmt.Sprintf(
		"counting is %s, and the method %s is of running totals only; take another method, or count totals", s.Stop.Counting, m)}
}

// counting returns the design problem with stops that count what w says.
func (s *StagePlan) counting(p *search.Problem, w rule.Worth) *search.Problem {
	s.Worth = w
	return p.Counting(w)
}

// textbook returns the lines that a search for lines starts from.
func (s *StagePlan) textbook(p *search.Problem) (LinePair, error) {
	if s.Worth.Plain() {
		return s.TextbookLines()
	}
	l, ok := p.Textbook()
	if !ok {
		return l, fmt.Errorf("plans: no lines for these bounds and risks")
	}
	return l, nil
}

// bestOf calls make with every worth and keeps the table for which cost is least.
func (s *StagePlan) bestOf(p *search.Problem, ws []rule.Worth, make func(q *search.Problem) (Table, bool), cost func(q *search.Problem, t Table) float64) (Table, bool) {
	var best Table
	var worth rule.Worth
	least, found := 0.0, false
	for _, w := range ws {
		q := s.counting(p, w)
		if t, ok := make(q); ok {
			if c := cost(q, t); !found || c < least {
				best, worth, least, found = t, w, c, true
			}
		}
	}
	if found {
		s.Worth = worth
	}
	return best, found
}

// InPatches returns the worst exact risks over the clumping range where the pest sits in
// patches and nowhere else, whether or not the promise is to hold there.
func (s *StagePlan) InPatches() HeldRisk {
	return s.heldRisk(protocol.Held{Name: "patches", Field: World.Patchy})
}

// Expected returns the expected stops, plants and minutes of a visit in the most clumped
// fields, weighted as Weighted is.
func (s *StagePlan) Expected() (stops, plants, minutes float64) {
	stops, plants = s.visitEffort(s.Weights)
	return stops, plants, s.Minutes(stops, plants)
}

// visitEffort returns the expected stops and plants of a visit in the most clumped
// fields at the two bounds and the threshold, weighted.
func (s *StagePlan) visitEffort(weights [3]float64) (stops, plants float64) {
	for i, level := range []float64{s.Lower, s.Threshold, s.Upper} {
		e := s.Count(s.Clumped(level).Population())
		stops += weights[i] * e.ExpectedStops
		plants += weights[i] * e.ExpectedUnits / float64(s.UnitsPerPlant())
	}
	return stops, plants
}
