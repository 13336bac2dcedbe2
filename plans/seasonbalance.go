package plans

import (
	"context"
	"errors"
	"fmt"
)

// A SeasonBalance is what the search for the plan of least loss over a season found.
type SeasonBalance struct {
	// The promises that the protocol states, and what plans made for them lose in a field
	// and season; Stated is nil where none keeps them.
	StatedNeedless, StatedLate float64
	Stated                     *SeasonLoss
}

// unpromised is a promise that any plan keeps.
const unpromised = 1 - 1e-9

// BalanceSeason makes the plan of a protocol that promises something for the season whose
// tables and intervals lose least in a field of the region's mix and season: by needless
// treatments, by treatments after the upper bound, and by the scout's time, with the
// protocol's costs and the first stage's late loss, at the clumped end of the range. What it
// then risks, rounded up, takes the place of the promises for the season, and risks of a
// visit that the protocol gives are left aside. Loss is an expectation under the costs and
// the mix, and no better than these.
//
// It returns FieldErrors where costs or the late loss are missing, or the season does not
// hold together, and the context's error when it is cancelled.
func BalanceSeason(ctx context.Context, p Protocol, o DesignOptions) (*Plan, *SeasonBalance, error) {
	if err := p.Check(); err != nil {
		return nil, nil, err
	}
	switch first := p.Stages[0]; {
	case p.Seasonal == nil:
		return nil, nil, &FieldError{Path: "season", Message: "the protocol promises nothing for the season; add a [season] section"}
	case o.Method != "" && o.Method != RiskTrue:
		return nil, nil, &FieldError{Path: "season", Message: fmt.Sprintf("only the method %s balances costs over a season, not %s", RiskTrue, o.Method)}
	case p.Costs == nil:
		return nil, nil, &FieldError{Path: "costs", Message: "balancing the risks needs the costs of being wrong; add a [costs] section to a protocol"}
	case first.LateLoss == 0:
		return nil, nil, &FieldError{Path: "stage.0.late_loss", Stage: first.Name,
			Message: fmt.Sprintf("balancing over the season needs the late_loss of the first stage, and stage %q has none", first.Name)}
	}
	p = p.Each(func(t *Stage) { t.NeedlessRisk, t.MissedRisk = 0, 0 })
	stated := *p.Seasonal
	b := &SeasonBalance{StatedNeedless: stated.Needless, StatedLate: stated.Late}
	o.Price = false
	kept, err := designSeason(ctx, p, o)
	if err != nil {
		return nil, nil, err
	}
	free := stated
	free.Needless, free.Late = unpromised, unpromised
	p.Seasonal = &free
	o.leastLoss = true
	plan, err := designSeason(ctx, p, o)
	if err != nil {
		return nil, nil, err
	}
	if plan.Season.Loss == nil || kept.Season.Loss == nil {
		return nil, nil, errors.New("plans: a season without its loss")
	}
	if kept.Season.Kept {
		b.Stated = kept.Season.Loss
		// The search is for minutes there: it may meet a plan that loses less.
		if kept.Season.Loss.Total() < plan.Season.Loss.Total() {
			plan = kept
		}
	}
	found := free
	found.Needless, found.Late = promisable(plan.Season.Needless), promisable(plan.Season.Late)
	plan.Protocol.Seasonal = &found
	plan.Season.Kept = plan.Season.Needless <= found.Needless+Slack && plan.Season.Late <= found.Late+Slack
	plan.Season.Hindrance, plan.Season.Balanced = "", true
	return plan, b, nil
}
