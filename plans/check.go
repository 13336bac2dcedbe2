package plans

import (
	"fmt"
	"strconv"
	"strings"

	"stopwise/plans/protocol"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A Count is what was seen at one stop.
type Count struct {
	Total  int // infested plants, or insects
	Plants int // plants examined; 0 means the planned number
	// OrMore says that so many or more are at the stop: looking ended once they were
	// found, as it may where a stop counts at most so many.
	OrMore bool
	// Sign says that the stage's further sign was seen at the stop.
	Sign bool
}

// ParseCount reads "3", or "2/18" where another number of plants was seen than
// planned, with an s behind it where the further sign was seen: "3s", "2/18s". A capital S,
// as phones write it, is the same. "8+" is 8 or more.
func ParseCount(s string) (Count, error) {
	c := Count{}
	text := strings.TrimSpace(s)
	if n := len(text) - 1; n >= 0 && (text[n] == 's' || text[n] == 'S') {
		text, c.Sign = text[:n], true
	}
	total, plants, given := strings.Cut(text, "/")
	var err error
	total, c.OrMore = strings.CutSuffix(total, "+")
	if c.Total, err = parseCount(total); err != nil {
		return Count{}, sampling.Refusef("count %q: write a whole number of 0 or more, or seen/plants such as 2/18", s)
	}
	if given {
		if c.Plants, err = parseCount(plants); err != nil || c.Plants == 0 {
			return Count{}, sampling.Refusef("count %q: after the slash write the plants seen, 1 or more", s)
		}
	}
	return c, nil
}

func parseCount(s string) (int, error) {
	n, err := strconv.ParseUint(strings.TrimPrefix(s, "+"), 10, 31)
	return int(n), err
}

// An Answer is what a scout is told after a stop.
type Answer struct {
	Verdict Verdict
	Stop    int // stops walked
	Plants  int // plants seen; at stops that ended at a cap, those planned where it is not said
	Total   int // infested plants, or insects
	Counted int // what the stops count together, to be held against Leave and Act: Total, unless there is a cap or points
	Ended   int // stops at which the cap was reached, so that looking may have ended there
	Leave   int // leave number at the plants seen, or NeverLeave
	Act     int // act number at the plants seen, or NeverAct
	// Signs is at how many stops the further sign was seen up to the verdict, and
	// SignMissing says that the count reached the act number while it was not seen
	// at enough of them: the verdict is then Leave.
	Signs       int
	SignMissing bool
	// DecidedAt is the stop at which the verdict came; later ones do not change
	// it. 0 while there is none.
	DecidedAt int
	// Next says what the next stop would have to show; nil after a verdict.
	Next *Next
	// Known is what the visit tells of the level: the median-unbiased estimate, its
	// 95% interval, and the upper limit from which the pest is taken to grow.
	Known
	// FromHere are the chances of how the visit ends, at the lower and the upper
	// bound in the most clumped world, with what was seen of the sign so far; NaN
	// where a chance of the sign is not known, nil after a verdict.
	FromHere *FromHere
	// Uneven is set where not every stop had the planned number of plants. Risks
	// then holds the exact risks of the path walked, continued as planned.
	Uneven bool
	Risks  []Risk

	ToldPlants []int // plants of the stops up to the verdict, as they count: a stop at the cap is a full one
	ToldTotal  int   // what these stops count together
}

// Seen returns the share or mean that was seen.
func (a Answer) Seen(s *StagePlan) float64 { return float64(a.Total) / float64(s.Units(a.Plants)) }

// Next is what would have to be found at the next stop, with the planned plants.
type Next struct {
	Plants int
	Leave  int // at most this many bring leave; NeverLeave if none can
	Act    int // at least this many bring act; NeverAct if none can
	// AnyLeaves says that any count of insects brings leave: more than Leave too.
	AnyLeaves bool
}

// FromHere holds chances of the verdicts that are still open.
type FromHere struct {
	ActAtLower, LeaveAtLower float64
	ActAtUpper, LeaveAtUpper float64
	Clump                    ClumpValue
}

// A CountError refuses what was counted at one stop.
type CountError struct {
	Stop    int // from 1
	Message string
}

func (e *CountError) Error() string { return fmt.Sprintf("stop %d: %s", e.Stop, e.Message) }

// AtStop returns a CountError of a stop (from 1).
func AtStop(stop int, format string, args ...any) error {
	return &CountError{stop, fmt.Sprintf(format, args...)}
}

// Check answers the scout after the stops seen so far. It refuses counts with a
// [CountError].
func (s *StagePlan) Check(counts []Count) (Answer, error) {
	if len(counts) == 0 {
		return Answer{}, sampling.Refusef("no counts; give one for each stop, for example 3 5 2/18")
	}
	if n := s.Table.Stops(); len(counts) > n {
		return Answer{}, sampling.Refusef("%d counts, but the plan ends at stop %d", len(counts), n)
	}
	a := Answer{Stop: len(counts)}
	units := make([]int, len(counts))
	plants, inAll := make([]int, len(counts)), 0
	full := make([]int, len(counts))
	for i, c := range counts {
		if c.Total < 0 || c.Plants < 0 {
			return Answer{}, AtStop(i+1, "%d of %d; accepted: 0 or more", c.Total, c.Plants)
		}
		plants[i] = c.Plants
		if c.Plants == 0 {
			plants[i] = s.Plants()
		}
		if plants[i] > protocol.MaxPlants {
			return Answer{}, AtStop(i+1, "%d plants; accepted: up to %d", plants[i], protocol.MaxPlants)
		}
		if err := s.checkOrMore(i+1, c); err != nil {
			return Answer{}, err
		}
		if c.Sign && s.Sign == nil {
			return Answer{}, AtStop(i+1, "a sign was given, but the stage asks for none; leave the s away")
		}
		if s.bounded() && c.Total > plants[i] {
			return Answer{}, AtStop(i+1, "%d infested of %d plants; write %d/PLANTS if more plants were seen", c.Total, plants[i], c.Total)
		}
		if s.AtCap(c) {
			a.Ended++
		}
		full[i] = s.fullPlants(c)
		units[i] = s.Units(full[i])
		a.Uneven = a.Uneven || full[i] != s.Plants()
		inAll += plants[i]
	}
	if most := s.mostPlants(); inAll > most {
		return Answer{}, sampling.Refusef("%d plants in all; accepted: up to %d", inAll, most)
	}
	seen := 0
	standings := s.Standings(counts)
	for i, c := range counts {
		a.Total += c.Total
		a.Plants += plants[i]
		seen += units[i]
		a.Counted, a.Leave, a.Act = standings[i].Counted, standings[i].Leave, standings[i].Act
		if a.Verdict != Continue {
			continue
		}
		a.ToldPlants, a.ToldTotal = full[:i+1], a.Counted
		if c.Sign {
			a.Signs++
		}
		if a.Verdict = rule.Read(a.Counted, a.Leave, a.Act); a.Verdict != Continue {
			a.DecidedAt = i + 1
		}
		if a.Verdict == Act && s.Sign != nil && !s.Sign.Met(a.Signs) {
			a.Verdict, a.SignMissing = Leave, true
		}
	}
	var err error
	if a.Known, err = s.Known(a, knownConfidence, s.Sure()); err != nil {
		return Answer{}, err
	}
	if a.Verdict == Continue {
		a.lookAhead(s, seen)
	}
	if a.Uneven {
		a.Risks = s.pathRisks(units)
	}
	return a, nil
}

// checkOrMore returns what is wrong with "8+".
func (s *StagePlan) checkOrMore(stop int, c Count) error {
	switch most := s.Worth.Cap; {
	case !c.OrMore:
	case most == 0:
		return AtStop(stop, "%d+ is for plans that count no more than so many at a stop; write the number found", c.Total)
	case c.Total < most:
		return AtStop(stop, "%d+, but a stop counts up to %d; look on until %d are found or all plants were seen", c.Total, most, most)
	}
	return nil
}

// AtCap reports whether a count reached the most that a stop counts. Looking may have
// ended there, so that the plants seen say nothing: it counts as a full stop.
func (s *StagePlan) AtCap(c Count) bool { return s.Worth.Cap > 0 && c.Total >= s.Worth.Cap }

// fullPlants returns the plants that a count is held against: those seen, or those
// planned where that is not said or looking ended at the cap.
func (s *StagePlan) fullPlants(c Count) int {
	if c.Plants == 0 || s.AtCap(c) {
		return s.Plants()
	}
	return c.Plants
}

// A Standing is where a walk stands after a stop.
type Standing struct {
	Counted    int // what the stops so far count together
	Leave, Act int // NeverLeave and NeverAct where no total can bring the verdict
}

// Standings returns where a walk stands after each stop of the table: on what was seen,
// and after that with the planned plants, Counted then being that of the last count.
func (s *StagePlan) Standings(counts []Count) []Standing {
	out := make([]Standing, s.Table.Stops())
	seen, counted, most := 0, 0, 0
	for j := range out {
		units := s.Table.Units
		if j < len(counts) {
			units = s.Units(s.fullPlants(counts[j]))
			counted += s.Worth.Value(counts[j].Total, units)
		}
		seen += units
		if m := s.mostAt(units); m == NeverAct || most == NeverAct {
			most = NeverAct
		} else {
			most += m
		}
		leave, act := s.Worth.At(s.Table, j+1, seen)
		if act > most && j+1 < len(out) {
			act = NeverAct
		}
		out[j] = Standing{counted, leave, act}
	}
	return out
}

// mostAt returns the most that a stop of units units can count, NeverAct where there
// is no such number.
func (s *StagePlan) mostAt(units int) int {
	if !s.bounded() && s.Worth.Plain() {
		return NeverAct
	}
	return s.Worth.Top(units)
}

// mostPlants is up to how many plants in a visit the risks are computed.
func (s *StagePlan) mostPlants() int {
	if s.bounded() {
		return protocol.MaxPlants * protocol.MaxStops
	}
	return int(2 * protocol.MaxInsects / (s.Upper * float64(s.Units(1))))
}

func (a *Answer) lookAhead(s *StagePlan, seen int) {
	leave, act := s.Worth.At(s.Table, a.Stop+1, seen+s.Table.Units)
	next := &Next{Plants: s.Plants(), Leave: NeverLeave, Act: NeverAct}
	most := s.mostAt(s.Table.Units)
	switch {
	case leave < a.Counted:
	case most == NeverAct || leave-a.Counted < most:
		next.Leave = s.Worth.Least(leave-a.Counted+1, s.Table.Units) - 1
	case s.bounded():
		next.Leave = s.Table.Units
	default:
		next.Leave, next.AnyLeaves = s.Worth.Least(most, s.Table.Units), true
	}
	if act != NeverAct && (most == NeverAct || act-a.Counted <= most) {
		next.Act = s.Worth.Least(act-a.Counted, s.Table.Units)
	}
	a.Next = next
	steps := s.Table.Path(nil)[a.Stop:]
	for i := range steps {
		steps[i].Leave, steps[i].Act = s.Worth.At(s.Table, a.Stop+1+i, seen+(i+1)*s.Table.Units)
	}
	lower, upper := s.Clumped(s.Lower), s.Clumped(s.Upper)
	// The sign counts from what was seen of it so far.
	follow := func(w World) Evaluation {
		e := rule.Follow(steps, a.Counted, s.Worth.Of(w.Population()))
		if s.Sign == nil {
			return e
		}
		chance := s.SignChance(w.Level)
		return e.WithSign(func(stop int) float64 { return s.Sign.MetAfter(a.Signs, stop, chance) })
	}
	l, u := follow(lower), follow(upper)
	a.FromHere = &FromHere{l.Act, l.Leave, u.Act, u.Leave, lower.Value()}
}

// pathRisks returns the exact risks of a walk whose first stops had the given
// units and whose others follow the plan.
func (s *StagePlan) pathRisks(units []int) []Risk {
	steps := s.Worth.Path(s.Table, units)
	lower, upper := s.Worlds(s.Lower), s.Worlds(s.Upper)
	risks := make([]Risk, len(lower))
	for i := range risks {
		risks[i] = Risk{
			Clump:    lower[i].Value(),
			Needless: s.needless(rule.Follow(steps, 0, s.Worth.Of(lower[i].Population()))),
			Missed:   s.missed(rule.Follow(steps, 0, s.Worth.Of(upper[i].Population()))),
		}
	}
	return risks
}
