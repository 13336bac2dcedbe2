package plans

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"stopwise/plans/internal/search"
)

// A Balance is what the search for the risks of least loss found for one stage.
type Balance struct {
	Stage string
	// The risks found, and those that the protocol states.
	NeedlessRisk, MissedRisk     float64
	StatedNeedless, StatedMissed float64
	// Loss and Stated are the average losses of a field with a plan for the risks
	// found and for those stated; Stated is nil where no plan keeps those.
	Loss   Loss
	Stated *Loss
	Tried  int // pairs of risks tried
}

// balanceRisks are the risks tried, in the steps in which people write them. A
// search ends at one of the ends where being wrong costs next to nothing, or
// next to everything, compared with a visit.
var balanceRisks = []float64{0.001, 0.002, 0.005, 0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45}

// balanceStarts is the number of points that the search descends from; each takes
// seconds.
const balanceStarts = 3

// BalanceRisks returns the protocol with the risks of every stage chosen so that
// [StagePlan.ExpectedLoss], the scout's time included, is least; and what was
// found. The risks are taken from a list of round values, by a search from pair
// to neighbouring pair, with plans as good as a short search finds them; so the
// result is a least one among its neighbours. Loss is an expectation under the
// protocol's costs and prior, and no better than these.
//
// It returns FieldErrors where costs or a stage's late_loss are missing, a
// Failure where no pair of risks can be kept within the maximum of stops, and
// the context's error when it is cancelled.
func BalanceRisks(ctx context.Context, p Protocol, o DesignOptions) (Protocol, []Balance, error) {
	if err := ready(p); err != nil {
		return p, nil, err
	}
	if p.Costs == nil {
		return p, nil, &FieldError{Path: "costs", Message: "balancing the risks needs the costs of being wrong; add a [costs] section to a protocol"}
	}
	for i, s := range p.Stages {
		if s.LateLoss == 0 {
			return p, nil, &FieldError{Path: fmt.Sprintf("stage.%d.late_loss", i), Stage: s.Name,
				Message: fmt.Sprintf("balancing the risks needs late_loss in every stage, and stage %q has none", s.Name)}
		}
	}
	for _, s := range p.Stages {
		if !s.MissedKnown() {
			return p, nil, &Failure{fmt.Sprintf("stage %q asks for a sign whose chance is not known, so what a missed treatment costs is not known either; say sign_chance", s.Name)}
		}
	}
	p.Stages = append([]Stage(nil), p.Stages...)
	var found []Balance
	for i := range p.Stages {
		b, err := balance(ctx, p, i, o)
		if err != nil {
			return p, nil, err
		}
		p.Stages[i].NeedlessRisk, p.Stages[i].MissedRisk = b.NeedlessRisk, b.MissedRisk
		found = append(found, b)
	}
	return p, found, nil
}

// A pair of indices into balanceRisks.
type riskPair struct{ needless, missed int }

func balance(ctx context.Context, p Protocol, stage int, o DesignOptions) (Balance, error) {
	st := p.Stages[stage]
	b := Balance{Stage: st.Name, StatedNeedless: st.NeedlessRisk, StatedMissed: st.MissedRisk}
	lines := search.NewLineScores() // one walk, many risks
	b.Stated = roughLoss(ctx, stagePlan(p, stage), o, lines)
	losses := map[riskPair]*Loss{}
	try := func(at riskPair) *Loss {
		n := len(balanceRisks)
		if at.needless < 0 || at.missed < 0 || at.needless >= n || at.missed >= n || ctx.Err() != nil {
			return nil
		}
		if l, tried := losses[at]; tried {
			return l
		}
		if o.Progress != nil {
			o.Progress(st.Name)
		}
		s := stagePlan(p, stage)
		s.NeedlessRisk, s.MissedRisk = balanceRisks[at.needless], balanceRisks[at.missed]
		losses[at] = roughLoss(ctx, s, o, lines)
		return losses[at]
	}
	// The loss has local minima, since plans change by whole stops: descend from
	// the best few points of a coarse grid.
	var starts []riskPair
	for i := 1; i < len(balanceRisks); i += 4 {
		for j := 0; j < len(balanceRisks); j += 4 {
			if at := (riskPair{i, j}); try(at) != nil {
				starts = append(starts, at)
			}
		}
	}
	better := func(a, b riskPair) int { return cmp.Compare(losses[a].Total(), losses[b].Total()) }
	slices.SortStableFunc(starts, better)
	descend := func(at riskPair) riskPair {
		for _, step := range []int{2, 1} {
			for from := at; ; from = at {
				for _, i := range []int{-step, 0, step} {
					for _, j := range []int{-step, 0, step} {
						if to := (riskPair{from.needless + i, from.missed + j}); try(to) != nil && better(to, at) < 0 {
							at = to
						}
					}
				}
				if at == from {
					break
				}
			}
		}
		return at
	}
	var ends []riskPair
	for _, at := range starts[:min(len(starts), balanceStarts)] {
		ends = append(ends, descend(at))
	}
	if ctx.Err() != nil {
		return b, ctx.Err()
	}
	if len(ends) == 0 {
		return b, &Failure{fmt.Sprintf("stage %q: no pair of risks can be kept within %d stops; allow more stops", st.Name, st.Stop.Maximum)}
	}
	best := slices.MinFunc(ends, better)
	b.NeedlessRisk, b.MissedRisk = balanceRisks[best.needless], balanceRisks[best.missed]
	b.Loss, b.Tried = *losses[best], len(losses)
	return b, nil
}

// roughLoss returns the loss of a plan for a stage as it is found quickly: for the
// risk-true method the better one of the best straight lines and the fixed plan,
// which lose a few percent more. It is nil where no plan keeps the risks.
func roughLoss(ctx context.Context, s *StagePlan, o DesignOptions, lines *search.LineScores) *Loss {
	var tables []Table
	if o.Method == "" || o.Method == RiskTrue {
		q := s.counting(s.problem(o.weights()), UsualWorth(s.Stage))
		if q.Affordable() <= 1 { // with more, even the fixed plan breaks the risks
			q.Stop = func() bool { return ctx.Err() != nil }
			q.LineScores = lines
			tables = s.starts(q)
		}
	} else {
		o.Bound = false
		if err := s.design(ctx, o); err == nil && s.Keeps() {
			tables = []Table{s.Table}
		}
	}
	var least *Loss
	for _, t := range tables {
		s.Table = t
		if l := s.ExpectedLoss(); least == nil || l.Total() < least.Total() {
			least = &l
		}
	}
	if ctx.Err() != nil {
		return nil
	}
	return least
}
