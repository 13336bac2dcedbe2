package validate

import (
	"fmt"
	"strconv"
	"strings"

	"stopwise/plans"
	"stopwise/sampling"
)

// A Quantity is what a requirement is on.
type Quantity string

// The quantities.
const (
	NeedlessRisk Quantity = "needless" // chance of acting at or below the lower bound
	MissedRisk   Quantity = "missed"   // chance of leaving at or above the upper bound
	StopsWalked  Quantity = "stops"    // expected stops, where most are expected
	MinutesSpent Quantity = "minutes"  // expected minutes, where most are expected
)

var quantities = []Quantity{NeedlessRisk, MissedRisk, StopsWalked, MinutesSpent}

// A Requirement says what must hold: a quantity is at most a limit.
type Requirement struct {
	Quantity Quantity
	Limit    float64
	// Own holds it against the worlds only that the plan was made for.
	Own bool
}

// Promise is the word for what a stage promises, among requirements.
const Promise = "promise"

// ParseRequirements reads requirements such as "needless<=10%,stops<=9". The word
// promise stands for the two risks that the stage allows, in the worlds that the
// promise speaks of.
func ParseRequirements(text string, s plans.Stage) ([]Requirement, error) {
	var all []Requirement
	for part := range strings.SplitSeq(text, ",") {
		part = strings.TrimSpace(part)
		if part == Promise {
			all = append(all, Requirement{NeedlessRisk, s.NeedlessRisk, true}, Requirement{MissedRisk, s.MissedRisk, true})
			continue
		}
		q, err := parseRequirement(part)
		if err != nil {
			return nil, err
		}
		all = append(all, q)
	}
	return all, nil
}

// HasPromise reports whether the word promise is among the requirements: then the
// worlds in which the promise of a stage must hold besides are judged too.
func HasPromise(text string) bool {
	for part := range strings.SplitSeq(text, ",") {
		if strings.TrimSpace(part) == Promise {
			return true
		}
	}
	return false
}

// HeldLines returns what a plan risks in the worlds besides in which its promise must
// hold: exact, and the worst over the clumping range.
func HeldLines(s *plans.StagePlan) []Line {
	var all []Line
	for _, r := range s.Held {
		needless, missed := exactNeedless(s, r.Needless), Exact(r.Missed)
		all = append(all, Line{Name: "held under " + r.World, Needless: &needless, Missed: &missed})
	}
	return all
}

func parseRequirement(text string) (Requirement, error) {
	name, limit, found := strings.Cut(text, "<=")
	q := Requirement{Quantity: Quantity(strings.TrimSpace(name))}
	if !found {
		return q, sampling.RefuseName(strings.TrimSpace(name), []string{Promise}, "%q is not a requirement; write promise, or such as needless<=10%% or stops<=9", text)
	}
	switch q.Quantity {
	case NeedlessRisk, MissedRisk:
		x, err := plans.ParseShare(limit)
		if err != nil {
			return q, err
		}
		q.Limit = x
	case StopsWalked, MinutesSpent:
		x, err := strconv.ParseFloat(strings.TrimSpace(limit), 64)
		if err != nil || !(x > 0 && x < 1e9) {
			return q, fmt.Errorf("%q is not a number above 0", limit)
		}
		q.Limit = x
	default:
		var known []string
		for _, k := range quantities {
			known = append(known, string(k))
		}
		return q, sampling.RefuseName(strings.TrimSpace(name), known, "nothing known as %q; what can be required: %s", name, strings.Join(known, ", "))
	}
	return q, nil
}

// A Line is one line of results that can be judged.
type Line struct {
	Name     string // for people
	Own      bool   // these are the worlds that the plan was made for
	Needless *Chance
	Missed   *Chance
	Stops    []Mean
	Minutes  []Mean
}

// OwnLine returns the exact risks of a plan in the worlds that its promise speaks of.
func OwnLine(s *plans.StagePlan) Line {
	needless, missed := assumed(s, plans.World.Population).risks(s)
	n, m := exactNeedless(s, needless), Exact(missed)
	return Line{Name: "the plan's own clumping range", Own: true, Needless: &n, Missed: &m}
}

// Line returns the row for judging, under a name for people.
func (r Row) Line(name string) Line {
	return Line{Name: name, Needless: &r.Needless, Missed: &r.Missed, Stops: r.Stops[:], Minutes: r.Minutes[:]}
}

// Line returns the row for judging.
func (r WalkRow) Line() Line {
	needless, missed := r.Needless(), r.Missed()
	l := Line{Name: string(r.Pattern) + " walked by " + string(r.Route), Needless: &needless, Missed: &missed}
	stops, minutes := r.Effort()
	l.Stops, l.Minutes = stops[:], minutes[:]
	return l
}

// PoolLines returns the lines of resampled fields: the fields of each zone
// together. Between the bounds only stops count.
func PoolLines(pools [3]Pool) []Line {
	var all []Line
	for _, p := range pools {
		if p.Fields == 0 {
			continue
		}
		l := Line{Name: "fields " + zoneWords[p.Zone], Stops: []Mean{p.Stops}, Minutes: []Mean{p.Minutes}}
		switch p.Zone {
		case Low:
			l.Needless = &p.Wrong
		case High:
			l.Missed = &p.Wrong
		}
		all = append(all, l)
	}
	return all
}

var zoneWords = [...]string{Low: "at or below the lower bound", Between: "between the bounds", High: "at or above the upper bound"}

// A Fault is a requirement that a line does not meet.
type Fault struct {
	Requirement Requirement
	Line        string
	Standing    Standing // Beyond, Open where the simulation cannot tell, or Unknown
	Value       float64
	SE          float64 // 0 where the value is exact
}

// Judge returns what does not hold, line by line. A requirement holds where the
// value is shown to be within the limit: a simulated value that is too close to
// call does not count as holding. A requirement that no line says anything of is
// returned as an error: it would hold by silence.
func Judge(requirements []Requirement, lines []Line) ([]Fault, error) {
	var faults []Fault
	for _, q := range requirements {
		spoken := false
		for _, l := range lines {
			if q.Own && !l.Own {
				continue
			}
			for _, v := range l.values(q) {
				spoken = true
				if v.Standing != Within {
					v.Requirement, v.Line = q, l.Name
					faults = append(faults, v)
				}
			}
		}
		if !spoken {
			return nil, fmt.Errorf("nothing that was tried says anything of what is required, %s", q.Quantity)
		}
	}
	return faults, nil
}

// values returns what a line says of a quantity.
func (l Line) values(q Requirement) []Fault {
	switch q.Quantity {
	case NeedlessRisk:
		return l.Needless.values(q.Limit)
	case MissedRisk:
		return l.Missed.values(q.Limit)
	case StopsWalked:
		return worst(l.Stops, q.Limit)
	}
	return worst(l.Minutes, q.Limit)
}

func (c *Chance) values(limit float64) []Fault {
	if c == nil {
		return nil
	}
	return []Fault{{Standing: c.Against(limit), Value: c.Value, SE: c.SE()}}
}

// worst returns the largest of the means.
func worst(means []Mean, limit float64) []Fault {
	if len(means) == 0 {
		return nil
	}
	w := means[0]
	for _, m := range means[1:] {
		if m.Value > w.Value {
			w = m
		}
	}
	return []Fault{{Standing: w.Against(limit), Value: w.Value, SE: w.SE}}
}
