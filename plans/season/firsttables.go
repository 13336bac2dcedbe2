package season

import (
	"math"
	"slices"

	"stopwise/plans/rule"
	"stopwise/sampling"
)

// tablesPerStage returns the number of different tables in a stage.
func (p Problem) tablesPerStage() int {
	if p.OneTable {
		return 1
	}
	return p.Classes
}

// tableOf returns the index of the table of a stage and class.
func (p Problem) tableOf(stage, class int) int {
	n := p.tablesPerStage()
	return stage*n + min(class, n-1)
}

// The risks of the lines that a search starts from.
const firstNeedless, firstMissed = .01, .1

// firstTables returns the tables that a search starts from: Wald's lines, their gaps as
// many times wider as the units of a stop are alike.
func (p Problem) firstTables() []rule.Table {
	var ts []rule.Table
	for i, w := range p.Walks {
		st := p.Season.Stages[i]
		field := p.field(len(p.Worlds)-1, i)
		if !st.Worth.Plain() {
			ts = append(ts, p.firstCounting(i, field)...)
			continue
		}
		pop := field(st.Threshold)
		one := pop.Stop(1)
		l, err := rule.BinomialLines(st.Lower, st.Upper, firstNeedless, firstMissed)
		if p.Season.Means {
			k := math.Inf(1)
			if over := one.Variance() - one.Mean(); over > 0 {
				k = one.Mean() * one.Mean() / over
			}
			l, err = rule.CountLines(st.Lower, st.Upper, k, firstNeedless, firstMissed)
		}
		if err != nil { // the bounds touch: any lines do to start from
			l = rule.LinePair{Slope: st.Threshold, LeaveGap: 1, ActGap: 1}
		}
		alike := math.Max(1, pop.Stop(w.Units).Variance()/(float64(w.Units)*one.Variance()))
		l.LeaveGap, l.ActGap = l.LeaveGap*alike, l.ActGap*alike
		t := l.Table(w.Units, w.Minimum, w.Maximum, !p.Season.Means)
		for range p.tablesPerStage() {
			ts = append(ts, t)
		}
	}
	return ts
}

// firstCounting returns the first tables of a stage whose stops count something else
// than what was found.
func (p Problem) firstCounting(stage int, field func(float64) sampling.Population) []rule.Table {
	w, st := p.Walks[stage], p.Season.Stages[stage]
	each := st.Worth.Top(w.Units)
	l, err := rule.NormalLines(field(st.Lower).Stop(w.Units), field(st.Upper).Stop(w.Units), firstNeedless, firstMissed)
	if err != nil { // the bounds touch: any lines do to start from
		l = rule.LinePair{Slope: field(st.Threshold).Stop(w.Units).Mean(), LeaveGap: 1, ActGap: 1}
	}
	l.Slope /= float64(each)
	t := l.Table(each, w.Minimum, w.Maximum, true)
	t.Units = w.Units
	return slices.Repeat([]rule.Table{t}, p.tablesPerStage())
}
