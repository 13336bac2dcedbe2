package studying

import (
	"fmt"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/rule"
	"stopwise/sampling"
)

// A walkedJSON says how often intervals miss the truth when a plan is walked.
type walkedJSON struct {
	report.Envelope
	Stage      string        `json:"stage"`
	Measure    plans.Measure `json:"measure"`
	Confidence float64       `json:"confidence"`
	Sure       float64       `json:"upper_confidence"`
	Points     []walkedPoint `json:"points"`
	// CountAlone says that an act needs a sign too, which is not looked at.
	CountAlone bool `json:"count_alone,omitempty"`
}

// What is as if fixed is null where a stop counts something else than what was found:
// these formulas know shares and means only.
type walkedPoint struct {
	Level         float64  `json:"level"`
	Clump         string   `json:"clumping"`
	Missed        float64  `json:"interval_misses"`
	FixedMissed   *float64 `json:"interval_misses_as_if_fixed"`
	TooLow        float64  `json:"upper_limit_too_low"`
	FixedTooLow   *float64 `json:"upper_limit_too_low_as_if_fixed"`
	Leave         float64  `json:"p_leave"`
	LeaveTooLow   float64  `json:"leave_and_upper_limit_too_low"`
	FixedLeaveLow *float64 `json:"leave_and_upper_limit_too_low_as_if_fixed"`
}

func (f *coverageFlags) showPlan(c *cli.Context) (report.Output, error) {
	if err := shell.NoneOf("goes without a plan; "+c.Args().First()+" has its own", f.stops, f.plants, f.rho); err != nil {
		return report.Output{}, err
	}
	s, err := shell.OnlyTable(f.env, c, f.stage, f.last)
	if err != nil {
		return report.Output{}, err
	}
	levels := walkedLevels(s)
	if f.at.Set {
		if levels, err = shell.ParseLevels(f.at.Name, s.Measure, f.at.Value); err != nil {
			return report.Output{}, err
		}
	}
	j := walkedJSON{
		CountAlone: s.Sign != nil,
		Envelope:   report.Envelope{Kind: "stopwise study coverage of a plan", Version: 1},
		Stage:      s.Name, Measure: s.Measure, Confidence: f.confidence.Value, Sure: s.Sure(),
	}
	for _, level := range levels {
		j.Points = append(j.Points, walkedAt(s, level, f.confidence.Value))
	}
	return report.Output{Doc: walkedDocument(s, j), Records: report.RecordsOf(j.Points), JSON: j}, nil
}

// walkedLevels returns the levels from very low to twice the upper bound, and the
// plan's own.
func walkedLevels(s *plans.StagePlan) []float64 {
	low, high := s.Upper/20, 2*s.Upper
	if s.Measure.Bounded() {
		low, high = 0.01, math.Min(high, 0.99)
	}
	levels := []float64{s.Lower, s.Threshold, s.Upper}
	for _, x := range report.Evenly(low, high, 9) {
		digits := math.Pow(10, 1-math.Floor(math.Log10(x)))
		levels = append(levels, math.Round(x*digits)/digits)
	}
	slices.Sort(levels)
	return slices.Compact(levels)
}

// walkedAt takes fields at the clumped end of the plan's range.
func walkedAt(s *plans.StagePlan, level, confidence float64) walkedPoint {
	world, v := s.Clumped(level), s.Visit()
	field := s.Worth.Of(world.Population())
	fixed := func(confidence float64) rule.Misses {
		return rule.MissesOf(v.Steps, field, func(e rule.End) sampling.Interval {
			return s.Interval(float64(e.Total)/float64(e.Units), slices.Repeat([]int{s.Plants()}, e.Stop), confidence)
		})
	}
	oneSided := 2*s.Sure() - 1 // its upper limit is the one-sided one
	up := v.Misses(field, oneSided)
	p := walkedPoint{
		Level: level, Clump: report.Clumping(world.Value()), Missed: v.Misses(field, confidence).Missed(),
		TooLow: up.Below, Leave: up.Leave, LeaveTooLow: up.LeaveBelow,
	}
	if s.Worth.Plain() {
		missed, up := fixed(confidence).Missed(), fixed(oneSided)
		p.FixedMissed, p.FixedTooLow, p.FixedLeaveLow = &missed, &up.Below, &up.LeaveBelow
	}
	return p
}

func walkedDocument(s *plans.StagePlan, j walkedJSON) *report.Document {
	d := &report.Document{}
	title := "How often intervals miss the truth when the plan is walked"
	if s.Name != "" {
		title += ", stage " + s.Name
	}
	d.Heading(title)
	interval, limit := report.Share(j.Confidence), report.Share(j.Sure)
	t := report.NewTable(fmt.Sprintf("Exact, in the most clumped fields that the plan takes in: how often the %s interval misses the true level (meant: at most %s), and how often the one-sided upper limit of %s lies below it (meant: at most %s). As if fixed: by the formula for stops whose number was fixed beforehand.",
		interval, report.Share(1-j.Confidence), limit, report.Share(1-j.Sure)),
		"true level", ">interval misses", ">as if fixed", ">limit too low", ">as if fixed", ">ends with leave")
	var worst, worstFixed, low, lowFixed float64
	for _, p := range j.Points {
		fixed, fixedLow := "", ""
		if p.FixedMissed != nil {
			fixed, fixedLow = report.Percent(*p.FixedMissed), report.Percent(*p.FixedTooLow)
			worstFixed, lowFixed = max(worstFixed, *p.FixedMissed), max(lowFixed, *p.FixedTooLow)
		}
		t.Add(report.Level(s.Measure, p.Level), report.Percent(p.Missed), fixed, report.Percent(p.TooLow), fixedLow, report.Percent(p.Leave))
		worst, low = max(worst, p.Missed), max(low, p.TooLow)
	}
	d.Table(t)
	if !s.Worth.Plain() {
		d.Para("Counted over all ends that the walk can have, as check does, at worst the interval misses in %s of the visits to fields of one of these levels and the limit is too low in %s. As if fixed there is nothing to compare with: a stop does not count what was found there.",
			report.Percent(worst), report.Percent(low))
		return d
	}
	d.Para("A walk that may stop early stops where it happened to see little or much, so that a formula for a fixed number of stops need not hold what it says: at worst its interval misses in %s of the visits to fields of one of these levels and its limit is too low in %s. Counted over all ends that the walk can have, as check does, they are %s and %s.",
		report.Percent(worstFixed), report.Percent(lowFixed), report.Percent(worst), report.Percent(low))
	if s.Sign != nil {
		d.Para("The walks are those of the count alone; the sign does not change what the count tells.")
	}
	return d
}
