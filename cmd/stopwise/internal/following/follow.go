// Package following holds the command that follows fields through a season of
// visits.
package following

import (
	"context"
	"errors"
	"math"
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/season"
)

// FollowCommand follows fields through the season of a plan.
func FollowCommand(e shell.Env) *cli.Command {
	f := newFlags()
	return shell.Question{
		Name:      "follow",
		Usage:     "show what a season of visits does: fields that stay, fields that grow",
		Arguments: "PLAN.json|PROTOCOL.toml",
		Description: `A plan's risks are for one visit, and a field is visited again and again while the pest grows. Computes exactly, with the plan's tables and its rule for coming back: how often fields that stay at a level are treated in the season; for fields that grow, how often they are treated too early, and how many days after the threshold and the upper bound; visits, stops, plants and minutes of a field.

$ stopwise follow plan.json --stage leafing --at 2%,6%,8% --days 49
$ stopwise follow plan.json --stage leafing --growth 0.12 --start 0.4% --late-days 3
$ stopwise follow plan.json --stage leafing --until-found 10 --once-found 4 --no-growth-limit

With a protocol that has [season] and [region] it compares schedules, or adds up the work of the region.

$ stopwise follow testdata/marrow-vale/season.toml --schedules
$ stopwise follow testdata/marrow-vale/season.toml --region`,
		Flags: f.list(),
		Answer: func(ctx context.Context, c *cli.Context) (out report.Output, err error) {
			file, err := shell.Only(c, "plan")
			if err != nil {
				return out, err
			}
			if f.schedules || f.region {
				return f.wide(ctx, e, file)
			}
			plan, err := shell.ReadPlan(e, file)
			if err != nil {
				return out, err
			}
			stages, err := shell.ChosenStages(plan, f.stage)
			if err != nil {
				return out, err
			}
			v, err := f.follow(plan, stages)
			if err != nil {
				return out, err
			}
			out = v.output()
			return out, shell.Draw(out.Doc, f.plot, v.picture)
		},
	}.Command(e)
}

// follow follows the fields that were asked for, or the usual ones.
func (f *flags) follow(plan *plans.Plan, stages []*plans.StagePlan) (*view, error) {
	o, err := f.options(plan, stages)
	if err != nil {
		return nil, err
	}
	staying, err := plans.SeasonOf(stages, o)
	if err != nil {
		return nil, seasonError(err)
	}
	v := &view{stages: stages, seasonal: plan.Protocol.Seasonal, lateDays: f.lateDays.Value, options: o, staying: staying, growing: staying}
	if !f.days.Set && plan.Protocol.Seasonal == nil {
		v.growing.LastDay = longDays
	}
	switch {
	case f.lateDays.Set:
	case v.seasonal != nil:
		v.lateDays = v.seasonal.LateDays
	default:
		v.lateDays = usualLateDays
	}
	if f.firstDay.Set {
		v.firstDay = []int{f.firstDay.Value}
		if f.firstDay.Value > staying.LastDay {
			return nil, shell.UsageError("--first-day %d is after the last day, %d", f.firstDay.Value, staying.LastDay)
		}
	}
	stays, grows, err := f.courses(stages, plan.Protocol.Seasonal)
	if err != nil {
		return nil, err
	}
	chain, err := season.New(staying)
	if err != nil {
		return nil, err
	}
	for _, c := range stays {
		p, err := chain.Follow(c, v.firstDay...)
		if err != nil {
			return nil, err
		}
		v.stay = append(v.stay, p)
	}
	if chain, err = season.New(v.growing); err != nil {
		return nil, err
	}
	for _, c := range grows {
		p, err := chain.Follow(c, v.firstDay...)
		if err != nil {
			return nil, err
		}
		v.grow = append(v.grow, p)
	}
	return v, nil
}

// seasonError rewords what a plan leaves unsaid.
func seasonError(err error) error {
	field, ok := errors.AsType[*plans.FieldError](err)
	if !ok {
		return err
	}
	switch field.Path {
	case "coming_back":
		return shell.UsageHint("give --until-found and --once-found", "%v", err)
	case "lasts_days":
		return shell.UsageHint("follow one stage with --stage", "%v", err)
	}
	return shell.UsageError("%w", err)
}

// courses returns the fields to follow: those asked for, or fields below the lower
// bound and one that grows as the protocol says.
func (f *flags) courses(stages []*plans.StagePlan, promised *plans.Seasonal) (stay, grow []season.Course, err error) {
	first := stages[0]
	usual := !f.at.Set && !f.growth.Set && !f.start.Set
	switch {
	case f.at.Set:
		levels, err := shell.ParseLevels(f.at.Name, first.Measure, f.at.Value)
		if err != nil {
			return nil, nil, err
		}
		for _, l := range levels {
			stay = append(stay, season.Course{Start: l})
		}
	case usual:
		for i := range 4 {
			stay = append(stay, season.Course{Start: first.Lower * float64(i) / 4})
		}
		stay = append(stay, season.Course{AtLower: true})
	}
	if f.at.Set && !f.growth.Set && !f.start.Set {
		return stay, nil, nil
	}
	start := first.Lower / 20
	if promised != nil {
		start = promised.Start
	}
	if f.start.Set {
		levels, err := shell.ParseLevels(f.start.Name, first.Measure, []string{f.start.Value})
		if err != nil || !(levels[0] > 0) {
			return nil, nil, shell.UsageError("--start: %q is not a level above 0 of a %s", f.start.Value, first.Measure)
		}
		start = levels[0]
	}
	rates := f.growth.Value
	switch {
	case f.growth.Set:
	case promised != nil:
		rates = slices.Compact([]float64{promised.Growth.Low, promised.Growth.High})
	default:
		back := first.ComingBack
		if back == nil || back.GrowthPerDay == 0 {
			if f.start.Set {
				return nil, nil, shell.UsageHint("give --growth", "the protocol does not say how the pest grows")
			}
			return stay, nil, nil
		}
		rates = []float64{back.GrowthPerDay}
	}
	for _, r := range rates {
		grow = append(grow, season.Course{Start: start, Growth: r})
	}
	return stay, grow, nil
}

// A view is what was followed.
type view struct {
	stages           []*plans.StagePlan
	seasonal         *plans.Seasonal
	options          plans.SeasonOptions
	staying, growing season.Season
	firstDay         []int
	lateDays         float64
	stay, grow       []*season.Path
}

// level returns the level at which a staying field is on a day, NaN where that is
// another one in every stage.
func level(v *view, c season.Course) float64 {
	switch {
	case !c.AtLower:
		return c.Start
	case len(v.stages) == 1:
		return v.stages[0].Lower
	}
	return math.NaN()
}
