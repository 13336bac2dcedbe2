package shell

import (
	"context"
	"errors"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/sampling"
)

func BalanceWithProgress(ctx context.Context, e Env, p plans.Protocol, o plans.DesignOptions) (plans.Protocol, []plans.Balance, error) {
	progress := report.NewProgress(e.Err, "balancing risks", -1)
	defer progress.Done()
	o.Progress = func(string) { progress.Add(1) }
	return plans.BalanceRisks(ctx, p, o)
}

// BalanceSeasonWithProgress makes the plan that loses least over a season.
func BalanceSeasonWithProgress(ctx context.Context, e Env, p plans.Protocol, o plans.DesignOptions) (*plans.Plan, *plans.SeasonBalance, error) {
	progress := report.NewProgress(e.Err, "balancing costs over the season", -1)
	defer progress.Done()
	o.SeasonProgress = func(int, float64) { progress.Add(1) }
	plan, found, err := plans.BalanceSeason(ctx, p, o)
	if plan != nil {
		plan.Program = Version
	}
	return plan, found, err
}

func MethodFlag() *Option[string] {
	methods := Texts(plans.Methods)
	return ChoiceFlag("method", "`METHOD` how the decision table is found", methods...).WithDefault(methods[0])
}

func OnlyStage(p plans.Protocol, name string) (plans.Protocol, error) {
	var known []string
	for _, s := range p.Stages {
		if strings.EqualFold(s.Name, name) {
			p.Stages = []plans.Stage{s}
			return p, nil
		}
		known = append(known, s.Name)
	}
	return p, sampling.RefuseName(name, known, "no stage %q in the protocol; it has: %s", name, strings.Join(known, ", "))
}

func DesignWithProgress(ctx context.Context, e Env, p plans.Protocol, o plans.DesignOptions) (*plans.Plan, error) {
	if p.AutoPlants {
		plants, _, err := SearchPlants(ctx, e, p, o)
		if err != nil {
			return nil, err
		}
		p = p.Each(func(s *plans.Stage) { s.Stop.Plants = plants })
		p.AutoPlants = false
	}
	total, what := int64(len(p.Stages)), "designing"
	if p.Seasonal != nil {
		total, what = -1, "trying tables and intervals for the season"
	}
	progress := report.NewProgress(e.Err, what, total)
	defer progress.Done()
	o.SeasonProgress = func(int, float64) { progress.Add(1) }
	o.Progress = func(string) { progress.Add(1) }
	plan, err := plans.Design(ctx, p, o)
	if plan != nil {
		plan.Program = Version
	}
	return plan, err
}

func SearchPlants(ctx context.Context, e Env, p plans.Protocol, o plans.DesignOptions) (int, []plans.PlantsTrial, error) {
	progress := report.NewProgress(e.Err, "trying plants per stop", -1)
	defer progress.Done()
	o.Progress = func(string) { progress.Add(1) }
	return plans.BestPlants(ctx, p, o)
}

// DesignError words why there is no design: a plan that cannot exist is work that
// failed, not bad input.
func DesignError(err error) error {
	if errors.Is(err, context.Canceled) {
		return Failure("interrupted; nothing was written")
	}
	if words := say.Impossible(err); words != "" {
		return Failure("%s", words)
	}
	return err
}
