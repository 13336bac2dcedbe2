package shell

import (
	"context"
	"errors"

	"stopwise/plans"
	"stopwise/plans/precision"
)

// PlanOf returns the plan of a plan file, or makes that of a protocol. what names
// what it is needed for, such as "a hand-out".
func PlanOf(ctx context.Context, e Env, file, what string) (*plans.Plan, error) {
	text, err := ReadInput(e, file)
	if err != nil {
		return nil, err
	}
	return PlanOfText(ctx, e, file, text, what)
}

// PlanOfText is [PlanOf] for a file that was read.
func PlanOfText(ctx context.Context, e Env, file string, text []byte, what string) (*plans.Plan, error) {
	if plans.IsPlanFile(text) {
		plan, err := plans.ReadPlan(text)
		if err != nil {
			return nil, InputError(file, err)
		}
		return plan, nil
	}
	if precision.IsFile(text) {
		return nil, InputError(file, errors.New("is a plan for an estimate; "+what+" needs a protocol or a plan with verdicts"))
	}
	p, err := plans.ReadProtocol(text)
	if err != nil {
		return nil, InputError(file, err)
	}
	plan, err := DesignWithProgress(ctx, e, p, plans.DesignOptions{})
	if err != nil {
		return nil, DesignError(err)
	}
	return plan, nil
}
