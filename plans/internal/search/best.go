package search

import (
	"math"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// RiskTrue returns the best table found that keeps every limit. It is never worse
// than one of starts that does; it reports false where none was found. Of
// visits of one length that keep the limits it is the most even one.
func (p *Problem) RiskTrue(starts []Table) (Table, bool) {
	find := p.countTable
	if q := *p; p.Bounded {
		// Where even the fixed plan of all stops breaks a limit, a table that keeps
		// them hardly exists: the search for it is kept short.
		q.unlikely = !p.Rough && p.Affordable() > 1
		p = &q
		find = p.riskTrue
	} else if p.Each > 0 {
		find = p.cappedTable
	}
	t, ok := find(starts)
	if ok && !p.stopped() {
		t = p.evened(t)
	}
	return t, ok
}

// Lines returns the best straight lines found that keep every limit, and their
// table.
func (p *Problem) Lines(textbook rule.LinePair) (rule.LinePair, Table, bool) {
	if p.Bounded {
		return p.riskLines(textbook)
	}
	return p.countLines(textbook)
}

// Starts returns the tables that the search for the best one begins from beside
// its own, so that it is never worse than the best lines or the fixed plan. lines
// is nil where the textbook has none.
func (p *Problem) Starts(lines *rule.LinePair) []Table {
	var ts []Table
	if p.large() {
		// The search brings its result to full size; where it starts from need not be exact.
		q, step := p.onLattice(max(coarseTotals, coarseStop*p.Maximum))
		if lines != nil {
			lines = &rule.LinePair{Slope: lines.Slope / float64(step), LeaveGap: lines.LeaveGap / float64(step), ActGap: lines.ActGap / float64(step)}
		}
		for _, t := range q.Starts(lines) {
			ts = append(ts, fullSize(t, step))
		}
		return ts
	}
	if lines != nil {
		if _, t, ok := p.Lines(*lines); ok {
			ts = append(ts, t)
		}
	}
	if t, ok := p.anyFixed(p.Maximum); ok {
		// The fixed plan may be shorter than the maximum; the stops after its
		// last are never reached.
		ts = append(ts, t.Lengthened(p.Maximum))
	}
	return ts
}

// hopeless is how many times the allowed risks those of the fixed plan of all
// stops may be for a search to be worth its time: what walks that may end early
// learn beyond the last total is worth a few percent of a risk.
const hopeless = 1.5

// Hopeless reports whether a search is not worth its time, by far too few stops
// being allowed.
func (p *Problem) Hopeless() bool { return p.Affordable() > hopeless }

// Searched is the longest visit looked at where a longer plan is looked for.
const Searched = 300

// searchedStops is the longest fixed plan below which shorter sequential ones are
// searched for; what they save is a stop at the most.
const searchedStops = 20

// Needed returns a maximum of stops that suffices where the problem's does not,
// or 0 if none up to [Searched] does. With early it looks for plans that may stop
// early, which can do with a little less than a fixed one.
func (p *Problem) Needed(early bool) int {
	t, ok := p.anyFixed(max(Searched, p.Maximum))
	if !ok {
		return 0
	}
	needed := t.Stops()
	if !early || needed > searchedStops {
		return needed
	}
	for low, high := p.Maximum+1, needed-1; low <= high && !p.stopped(); {
		q := *p
		q.Maximum, q.Rough = (low+high)/2, true
		if !p.Bounded {
			q.Top = q.CountCeiling()
		}
		if _, ok := q.RiskTrue(nil); ok {
			needed, high = q.Maximum, q.Maximum-1
		} else {
			low = q.Maximum + 1
		}
	}
	return needed
}

// CountCeiling returns a total of all stops above which a field of the last world of Effort is hardly
// ever: no act number of a sensible plan lies higher.
func (p *Problem) CountCeiling() int {
	return p.topOf(p.Effort[len(p.Effort)-1].Population, p.Maximum, 4)
}

// topOf returns a total that lies so many standard deviations above the mean of
// stops stops in a field.
func (p *Problem) topOf(field sampling.Population, stops int, deviations float64) int {
	one, n := field.Stop(p.Units), float64(stops)
	return int(n*one.Mean() + deviations*math.Sqrt(n*one.Variance()))
}
