package plans

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"stopwise/plans/internal/search"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// A Balance is what the search for the risks of least loss found for one stage.
type Balance struct {
	Stage string
	// The risks found, and those that the protocol states.
	NeedlessRisk, MissedRisk     float64
	StatedNeedless, StatedMissed float64
	// Loss and Stated are the average losses of a field with the plans, quickly
	// searched for, of the risks found and of those stated; Stated is nil where no
	// plan keeps those. The plan that [Design] makes for the risks found loses about
	// as much.
	Loss   Loss
	Stated *Loss
	// NeedlessAtEnd and MissedAtEnd say that the risk found is the first or the last
	// one of the list: one beyond it might lose less still.
	NeedlessAtEnd, MissedAtEnd bool
	Tried                      int // pairs of risks tried
}

// balanceRisks are the risks tried, in the steps in which people write them. A
// search ends at one of the ends where being wrong costs next to nothing, or
// next to everything, compared with a visit.
var balanceRisks = []float64{0.0001, 0.0002, 0.0005, 0.001, 0.002, 0.005, 0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.075, 0.1, 0.125, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45}

// Plans are searched for, of the method asked for, for this many pairs of those that
// lose least with a simple plan, and then for neighbours of the best, up to so many in
// all: each takes a tenth of a second.
const balanceFirst, balanceDesigned = 2, 5

// roughNodes is the number of levels at which the loss of a simple plan is computed, for
// a ranking.
const roughNodes = lossNodes / 2

// BalanceRisks returns the protocol with the risks of every stage chosen so that
// [StagePlan.ExpectedLoss], the scout's time included, is least; and what was
// found. All pairs of a list of round values are tried with simple plans, straight
// lines and fixed ones; for the best few of them and their neighbours a plan of the
// method asked for is searched for, and its loss decides. Loss is an expectation under the protocol's
// costs and prior, and no better than these.
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

// A NoBalance is the error of a stage of which no pair of risks tried can be kept with
// the stops allowed.
type NoBalance struct {
	Stage   string
	Maximum int
}

func (e *NoBalance) Error() string {
	return fmt.Sprintf("%sno pair of risks can be kept within %d stops", protocol.InStage(e.Stage), e.Maximum)
}

// A balanced plan is one made for a pair of risks, with its loss.
type balancedPlan struct {
	needless, missed float64
	loss             Loss
}

func balance(ctx context.Context, p Protocol, stage int, o DesignOptions) (Balance, error) {
	st := p.Stages[stage]
	b := Balance{Stage: st.Name, StatedNeedless: st.NeedlessRisk, StatedMissed: st.MissedRisk}
	told := func() {
		if o.Progress != nil {
			o.Progress(st.Name)
		}
	}
	told()
	simple := simplePlans(ctx, stagePlan(p, stage), o)
	found := map[string]balancedPlan{} // of one table: the pair of the smallest risks
	for _, needless := range balanceRisks {
		for _, missed := range balanceRisks {
			b.Tried++
			s := stagePlan(p, stage)
			s.NeedlessRisk, s.MissedRisk = needless, missed
			for _, s.Table = range simple(s) {
				key := fmt.Sprint(s.Table)
				if now, known := found[key]; !known {
					found[key] = balancedPlan{needless, missed, s.expectedLoss(roughNodes)}
				} else if needless+missed < now.needless+now.missed {
					found[key] = balancedPlan{needless, missed, now.loss}
				}
			}
			if err := ctx.Err(); err != nil {
				return b, err
			}
		}
	}
	least := func(a, b balancedPlan) int {
		return cmp.Or(cmp.Compare(a.loss.Total(), b.loss.Total()), cmp.Compare(a.needless, b.needless), cmp.Compare(a.missed, b.missed))
	}
	designed := map[[2]float64]*Loss{}
	best := func() (at balancedPlan, ok bool) {
		for pair, loss := range designed {
			if loss == nil {
				continue
			}
			if p := (balancedPlan{pair[0], pair[1], *loss}); !ok || least(p, at) < 0 {
				at, ok = p, true
			}
		}
		return at, ok
	}
	try := func(needless, missed float64, most int) {
		pair := [2]float64{needless, missed}
		if _, tried := designed[pair]; tried || len(designed) >= most || ctx.Err() != nil {
			return
		}
		told()
		s := stagePlan(p, stage)
		s.NeedlessRisk, s.MissedRisk = needless, missed
		designed[pair] = s.roughLoss(ctx, o, simple)
	}
	for _, c := range slices.SortedFunc(maps.Values(found), least) {
		try(c.needless, c.missed, balanceFirst)
	}
	for {
		at, ok := best()
		if !ok {
			break
		}
		i, j := slices.Index(balanceRisks, at.needless), slices.Index(balanceRisks, at.missed)
		for _, to := range [][2]int{{i - 1, j}, {i, j - 1}, {i + 1, j}, {i, j + 1}} {
			if n := len(balanceRisks); min(to[0], to[1]) >= 0 && max(to[0], to[1]) < n {
				try(balanceRisks[to[0]], balanceRisks[to[1]], balanceDesigned)
			}
		}
		if now, _ := best(); now == at {
			break
		}
	}
	told()
	b.Stated = stagePlan(p, stage).roughLoss(ctx, o, simple)
	if err := ctx.Err(); err != nil {
		return b, err
	}
	at, ok := best()
	if !ok {
		return b, &NoBalance{st.Name, st.Stop.Maximum}
	}
	if b.Stated != nil {
		if stated := (balancedPlan{b.StatedNeedless, b.StatedMissed, *b.Stated}); least(stated, at) < 0 {
			at = stated
		}
	}
	b.NeedlessRisk, b.MissedRisk, b.Loss = at.needless, at.missed, at.loss
	first, last := balanceRisks[0], balanceRisks[len(balanceRisks)-1]
	b.NeedlessAtEnd = at.needless <= first || at.needless >= last
	b.MissedAtEnd = at.missed <= first || at.missed >= last
	return b, nil
}

// simplePlans returns what finds tables that keep a stage's risks: the best straight
// lines and fixed plan of a list that is scored once, or what a method that searches
// for nothing makes.
func simplePlans(ctx context.Context, s *StagePlan, o DesignOptions) func(*StagePlan) []Table {
	q := s.counting(s.problem(o.weights()), UsualWorth(s.Stage))
	q.Stop = func() bool { return ctx.Err() != nil }
	var lists []*search.Catalogue
	switch o.Method {
	case Lines, IwaoCurves:
		return func(s *StagePlan) []Table {
			if err := s.design(ctx, o); err != nil || !s.Keeps() {
				return nil
			}
			return []Table{s.Table}
		}
	case "", RiskTrue, RiskTrueLines:
		last := balanceRisks[len(balanceRisks)-1]
		most, none := s.linesFor(balanceRisks[0])
		least, none2 := s.linesFor(last)
		if none == nil && none2 == nil {
			lists = append(lists, q.LineCatalogue(least, most))
		}
	}
	if o.Method != RiskTrueLines {
		lists = append(lists, q.FixedCatalogue())
	}
	return func(s *StagePlan) []Table {
		q := s.counting(s.problem(o.weights()), UsualWorth(s.Stage))
		var found []Table
		for _, l := range lists {
			if t, ok := l.Least(q); ok {
				found = append(found, t)
			}
		}
		return found
	}
}

// linesFor returns the textbook's lines with both risks the same.
func (s *StagePlan) linesFor(risk float64) (rule.LinePair, error) {
	r := *s
	r.NeedlessRisk, r.MissedRisk = risk, risk
	return r.textbook(r.counting(r.problem(evenWeights), UsualWorth(r.Stage)))
}

// roughLoss returns the loss of a plan for the stage's risks as a short search finds it
// from simple ones, nil where none of these keeps them.
func (s *StagePlan) roughLoss(ctx context.Context, o DesignOptions, simple func(*StagePlan) []Table) *Loss {
	o.Bound, o.Price, o.rough = false, false, true
	if o.starts = simple(s); len(o.starts) == 0 {
		return nil
	}
	q := s.counting(s.problem(o.weights()), UsualWorth(s.Stage))
	o.starts = []Table{slices.MinFunc(o.starts, func(a, b Table) int { return cmp.Compare(q.Stops(a), q.Stops(b)) })}
	if err := s.design(ctx, o); err != nil || !s.Keeps() {
		return nil
	}
	l := s.ExpectedLoss()
	return &l
}
