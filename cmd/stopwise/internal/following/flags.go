package following

import (
	"context"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
)

// The days that are followed where nobody says how long the season is: staying
// fields for six weeks (common practice, no source), growing ones until practically
// all are treated.
const (
	usualDays = 42
	longDays  = 400
	// usualLateDays after the upper bound a treatment counts as late.
	usualLateDays = 2
)

// flags are those of follow.
type flags struct {
	stage             *shell.Option[string]
	at                *shell.Option[[]string]
	days              *shell.Option[int]
	growth            *shell.Option[[]float64]
	start             *shell.Option[string]
	firstDay          *shell.Option[int]
	until, once, lead *shell.Option[float64]
	noLimit           bool
	schedules, region bool
	seed              *shell.Option[uint64]
	rho, k            *shell.Option[plans.Range]
	lateDays          *shell.Option[float64]
	plot              *shell.Option[string]
}

func newFlags() *flags {
	days := func(name, usage string) *shell.Option[float64] {
		return shell.NewOption(name, "`DAYS` "+usage, func(s string) (float64, error) {
			x, err := shell.Number(s)
			if err != nil || !(x >= 1 && x <= 366) {
				return 0, fmt.Errorf("%q is not a number of days from 1 to 366", s)
			}
			return x, nil
		}).WithoutValue("the protocol's")
	}
	f := &flags{
		stage: shell.StageFlag().WithoutValue("the stages follow each other by lasts_days"),
		at: shell.NewOption("at", "`LEVELS` of fields that stay as they are, such as 2%,6%,10% or, for a mean per leaf, 2,6", shell.ParseList).
			WithoutValue("quarters of the lower bound, up to it"),
		days: shell.NewOption("days", "`DAYS` the last day on which a visit can be; the first is day 0", shell.Whole(0, 1000)).
			WithoutValue(fmt.Sprintf("%d, or what the stages last; growing fields are followed until they are treated", usualDays)),
		growth: shell.NewOption("growth", "`RATES` r of fields that grow by e^(rt), for a share on the logit scale, such as 0.12 or 0.1,0.2", parseRates).
			WithoutValue("the protocol's growth_per_day"),
		start:    shell.NewOption("start", "`LEVEL` of growing fields on day 0, such as 0.5%", shell.NotEmpty).WithoutValue("a twentieth of the lower bound"),
		firstDay: shell.NewOption("first-day", "`DAY` of the first visit", shell.Whole(0, 1000)).WithoutValue("every day of the first interval, equally likely"),
		until:    days("until-found", "between visits until the pest is found"),
		once:     days("once-found", "between visits once it is found"),
		lead: shell.NewOption("lead", "`DAYS` from the verdict act to the treatment", shell.NotNegative).
			WithoutValue("the protocol's"),
		rho: shell.RhoFlag().WithoutValue("the clumped end of the protocol's range"),
		k:   shell.KFlag().WithoutValue("the clumped end of the protocol's range"),
		lateDays: shell.NewOption("late-days", "`DAYS` after the upper bound from which a treatment counts as late", shell.NotNegative).
			WithoutValue("the protocol's season, else 2"),
		plot: shell.PlotFlag("the chance to be treated over the season, how late treatments come, and the visits; with --schedules what they take and risk"),
		seed: shell.SeedFlag(),
	}
	return f
}

func (f *flags) list() []cli.Flag {
	return []cli.Flag{f.stage, f.at, f.days, f.growth, f.start, f.firstDay, f.until, f.once,
		&cli.BoolFlag{Name: "no-growth-limit", Usage: "come back by the intervals alone, however much was found", Destination: &f.noLimit}, f.lead,
		f.rho, f.k, f.lateDays, f.plot,
		&cli.BoolFlag{Name: "schedules", Usage: "compare intervals and stops a visit for the [season] of a protocol", Destination: &f.schedules},
		&cli.BoolFlag{Name: "region", Usage: "show the visits, hours and scouts by week for the [region] of a protocol or plan", Destination: &f.region},
		f.seed}
}

func parseRates(s string) ([]float64, error) {
	rates, err := shell.ParseEach(s, func(s string) (float64, error) {
		r, err := shell.Number(s)
		if err != nil || !(r > 0 && r <= 10) {
			return 0, fmt.Errorf("%q is not a growth rate above 0 and at most 10 a day", s)
		}
		return r, nil
	})
	slices.Sort(rates)
	return slices.Compact(rates), err
}

// wide compares schedules or adds up a region.
func (f *flags) wide(ctx context.Context, e shell.Env, file string) (out report.Output, err error) {
	if f.schedules && f.region {
		return out, shell.UsageError("--schedules and --region cannot be used together; give one of them")
	}
	const why = "does not go with --schedules and --region; the protocol says it"
	if f.noLimit {
		return out, shell.UsageError("--no-growth-limit %s", why)
	}
	if err := shell.NoneOf(why, f.stage, f.at, f.days, f.growth, f.start, f.firstDay, f.until, f.once, f.lead, f.rho, f.k, f.lateDays); err != nil {
		return out, err
	}
	if f.schedules {
		return trade(ctx, e, file, f.plot)
	}
	if err := shell.NoneOf("does not go with --region; it draws schedules and fields", f.plot); err != nil {
		return out, err
	}
	return region(ctx, e, file, f.seed.Value)
}

// options returns what the flags put in place of what the stages say.
func (f *flags) options(plan *plans.Plan, stages []*plans.StagePlan) (plans.SeasonOptions, error) {
	o := plan.SeasonOptions()
	o.NoGrowthLimit = f.noLimit
	promised := o.LastDay > 0
	if !promised {
		o.LastDay = usualDays
	}
	asked, other := f.rho, f.k
	if !stages[0].Measure.Bounded() {
		asked, other = f.k, f.rho
	}
	if other.Set {
		return o, shell.UsageError("--%s does not go with a plan for %s; use --%s", other.Name, stages[0].Measure, asked.Name)
	}
	if asked.Set {
		clump, err := shell.Single(asked)
		if err != nil {
			return o, err
		}
		o.Clump = &clump
	}
	for _, put := range []struct {
		from *shell.Option[float64]
		to   **float64
	}{{f.until, &o.UntilFound}, {f.once, &o.OnceFound}, {f.lead, &o.Lead}} {
		if put.from.Set {
			*put.to = &put.from.Value
		}
	}
	if !f.days.Set && !promised && len(stages) > 1 {
		lasts := 0.0
		for _, s := range stages {
			lasts += s.LastsDays
		}
		if stages[len(stages)-1].LastsDays == 0 && int(lasts) >= usualDays {
			return o, shell.UsageHint("give it with --days", "the protocol does not say when the last stage ends")
		}
		o.LastDay = max(usualDays, int(lasts))
	}
	shell.Put(f.days, &o.LastDay)
	return o, nil
}
