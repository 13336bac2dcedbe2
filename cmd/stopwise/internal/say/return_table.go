package say

import (
	"fmt"
	"slices"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/rule"
)

// mostReturns is the most rows of the table of next visits.
const mostReturns = 4

// returnTable says how soon the verdict leave brings the next visit in fields at
// the lower bound, which a plan should mostly leave.
func returnTable(d *report.Document, s *plans.StagePlan) {
	if s.ComingBack == nil || s.ComingBack.ByIntervals {
		return
	}
	limits, err := s.ReturnLimits()
	if err != nil {
		return // what check could not say either
	}
	share, leave := map[int][2]float64{}, 0.0
	for _, e := range rule.Ends(s.Table.Steps(), s.Worth.Of(s.Clumped(s.Lower).Population())) {
		i := slices.IndexFunc(limits, func(l rule.Limit) bool { return l.Stop == e.Stop && l.Total >= e.Total })
		if e.Verdict != plans.Leave || i < 0 {
			continue
		}
		leave += e.Chance
		for at, found := range []bool{false, true} {
			back := s.RevisitAfter(plans.Answer{Total: e.Total, Known: plans.Known{Limit: limits[i].Upper}}, plans.History{Found: found})
			of := share[back.Days]
			of[at] += e.Chance
			share[back.Days] = of
		}
	}
	if leave == 0 {
		return
	}
	var days []int
	for n := range share {
		days = append(days, n)
	}
	slices.Sort(days)
	of := "leave verdicts"
	if s.Sign != nil {
		of = "verdicts that the count alone leaves"
	}
	t := report.NewTable(fmt.Sprintf("When the next visit is due after leave, exact: shares of the %s in the most clumped fields at the lower bound (%s), where it is not known for how long the crop has been in its stage.",
		of, report.Level(s.Measure, s.Lower)),
		"next visit in", ">pest not found before", ">found before")
	for _, run := range runsOf(days) {
		var sum [2]float64
		for _, n := range run {
			for at := range sum {
				sum[at] += share[n][at] / leave
			}
		}
		first, last := run[0], run[len(run)-1]
		label := report.Count(last, "day", "days")
		if first < last {
			label = fmt.Sprintf("%d to %s", first, label)
		}
		t.Add(label, report.Percent(sum[0]), report.Percent(sum[1]))
	}
	d.Table(t)
}

// runsOf puts days into few runs: the soonest and the latest stay alone.
func runsOf(days []int) [][]int {
	n := len(days)
	if n <= mostReturns {
		return slices.Collect(slices.Chunk(days, 1))
	}
	middle := (n + 1) / 2
	return [][]int{days[:1], days[1:middle], days[middle : n-1], days[n-1:]}
}
