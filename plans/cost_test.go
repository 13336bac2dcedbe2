package plans

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func costProtocol() Protocol {
	p := backProtocol()
	p.Stages = p.Stages[:2]
	p = p.Each(func(s *Stage) {
		s.Stop = StopRules{Plants: 20, Minimum: 1, Maximum: 12, WalkMinutes: 3, PlantMinutes: .25}
	})
	p.Stages[0].LateLoss, p.Stages[1].LateLoss = .5, .25
	p.Costs = &Costs{CropPerHa: 600, TreatmentPerHa: 25, ScoutPerHour: 30, FieldHa: 40, Prior: &BetaPrior{A: 1, B: 5}}
	return p
}

// A rule that treats every field loses the treatment where p < 22%, one that
// treats none the late loss elsewhere; under Beta(1, 5), P(p < x) = 1 - (1-x)^5.
// One stop of 20 plants takes 3 + 20/4 = 8 minutes, at 30 an hour 4.
func TestExpectedLossClosed(t *testing.T) {
	s := stageOf(t, costProtocol(), "leafing")
	below := 1 - math.Pow(1-.22, 5)
	s.Table = Table{Units: 20, Leave: []int{NeverLeave}, Act: []int{0}}
	l := s.ExpectedLoss()
	expect(t, "always act: needless", l.Needless, 25*40*below, 1e-6)
	expect(t, "always act: missed", l.Missed, 0, 0)
	expect(t, "always act: scouting", l.Scouting, 4, 1e-9)
	expect(t, "always act: chance", l.Act, 1, 1e-9)
	s.Table = Table{Units: 20, Leave: []int{20}, Act: []int{21}}
	l = s.ExpectedLoss()
	expect(t, "never act: missed", l.Missed, .5*600*40*(1-below), 1e-6)
	expect(t, "never act: needless", l.Needless, 0, 0)
	expect(t, "never act: total", l.Total(), l.Missed+4, 1e-9)
}

// A field exactly at the threshold is one that must be treated.
func TestLossAtTheThreshold(t *testing.T) {
	s := stageOf(t, costProtocol(), "leafing")
	s.Table = Table{Units: 20, Leave: []int{20}, Act: []int{21}} // never act
	at, below := s.LossAt(s.Threshold), s.LossAt(math.Nextafter(s.Threshold, 0))
	expect(t, "left at the threshold", at.Missed, .5*600*40, 1e-9)
	expect(t, "left below it", below.Missed, 0, 0)
	s.Table = Table{Units: 20, Leave: []int{NeverLeave}, Act: []int{0}} // always act
	at, below = s.LossAt(s.Threshold), s.LossAt(math.Nextafter(s.Threshold, 0))
	expect(t, "treated at the threshold", at.Needless, 0, 0)
	expect(t, "treated below it", below.Needless, 25*40, 1e-9)
}

// The average over the prior's quantiles against a plain sum over its density.
func TestExpectedLossBruteForce(t *testing.T) {
	for _, prior := range []BetaPrior{{A: 1, B: 5}, {A: 2, B: 6}, {A: .5, B: 2}} {
		p := costProtocol()
		p.Costs.Prior = &prior
		p = p.Each(func(s *Stage) { s.Clumping.Rho = &Range{Low: .1, High: .1} })
		s := stageOf(t, p, "leafing")
		density := distuv.Beta{Alpha: prior.A, Beta: prior.B}
		const n = 4000
		var want Loss
		for i := range n {
			x := (float64(i) + .5) / n
			low, high := density.CDF(float64(i)/n), density.CDF(float64(i+1)/n)
			want.add(high-low, s.LossAt(x))
		}
		if got := s.ExpectedLoss(); !near(got.Total(), want.Total(), 1e-3*want.Total()) {
			t.Errorf("%+v: %+v, want %+v", prior, got, want)
		}
	}
}

// The default prior's mean is the threshold.
func TestDefaultPrior(t *testing.T) {
	p := costProtocol()
	p.Costs.Prior = nil
	b := stageOf(t, p, "leafing").Prior()
	expect(t, "mean", b.A/(b.A+b.B), .22, 1e-12)
	if b.A != 1 {
		t.Errorf("a %g, want 1", b.A)
	}
}

// For a mean per leaf, a rule that treats every field loses the treatment below
// the threshold: with chance 1 - 1/e under an exponential about it.
func TestExpectedLossMean(t *testing.T) {
	p := costProtocol()
	p.Stages = backProtocol().Stages[2:]
	p.Stages[0].LateLoss = .5
	s := stageOf(t, p, "podding")
	s.Table = Table{Units: 40, Leave: []int{NeverLeave}, Act: []int{0}}
	expect(t, "needless", s.ExpectedLoss().Needless, 25*40*(1-math.Exp(-1)), 1e-6)
}

func TestBalanceRisks(t *testing.T) {
	p := costProtocol()
	ctx, o := context.Background(), DesignOptions{Method: Fixed}
	q, found, err := BalanceRisks(ctx, p, o)
	if err != nil {
		t.Fatal(err)
	}
	if p.Stages[0].NeedlessRisk != .1 {
		t.Error("the protocol given was changed")
	}
	for i, b := range found {
		st := q.Stages[i]
		simple := simplePlans(ctx, stagePlan(p, i), o)
		if st.NeedlessRisk != b.NeedlessRisk || st.MissedRisk != b.MissedRisk || b.StatedNeedless != .1 || b.StatedMissed != .1 {
			t.Errorf("%+v, protocol %+v", b, st)
		}
		if b.Stated == nil || b.Loss.Total() > b.Stated.Total() {
			t.Errorf("stage %s: %+v is worse than stated: %+v", b.Stage, b.Loss, b.Stated)
		}
		// No pair of the list is better by more than a percent.
		for _, alpha := range balanceRisks {
			for _, beta := range balanceRisks {
				st.NeedlessRisk, st.MissedRisk = alpha, beta
				if l := (&StagePlan{Stage: st, Costs: p.Costs}).roughLoss(ctx, o, simple); l != nil && l.Total() < .99*b.Loss.Total() {
					t.Errorf("stage %s: risks %g and %g lose %g, those found (%g and %g) %g", b.Stage, alpha, beta, l.Total(), b.NeedlessRisk, b.MissedRisk, b.Loss.Total())
				}
			}
		}
	}
}

// The more a late treatment loses, the smaller the missed-treatment risk.
func TestBalanceRisksFollowsTheLoss(t *testing.T) {
	missed := 1.0
	for _, late := range []float64{.02, .1, .5} {
		p := costProtocol()
		p.Stages = p.Stages[:1]
		p.Stages[0].LateLoss = late
		q, _, err := BalanceRisks(context.Background(), p, DesignOptions{Method: Fixed})
		if err != nil {
			t.Fatal(err)
		}
		if q.Stages[0].MissedRisk > missed {
			t.Errorf("late loss %g: missed risk %g, above %g", late, q.Stages[0].MissedRisk, missed)
		}
		missed = q.Stages[0].MissedRisk
	}
	if missed > .01 {
		t.Errorf("late loss 50%%: missed risk %g", missed)
	}
}

func TestBalanceRisksErrors(t *testing.T) {
	for want, change := range map[string]func(*Protocol){
		"needs the costs": func(p *Protocol) { p.Costs = nil },
		"late_loss":       func(p *Protocol) { p.Stages[1].LateLoss = 0 },
		"no pair of risks": func(p *Protocol) {
			*p = p.Each(func(s *Stage) { s.Stop.Minimum, s.Stop.Maximum, s.Stop.Plants = 1, 1, 1 })
			p.Stages[0].Lower, p.Stages[0].Threshold, p.Stages[0].Upper = .21, .22, .23
		},
	} {
		p := costProtocol()
		change(&p)
		if _, _, err := BalanceRisks(context.Background(), p, DesignOptions{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, _, err := BalanceRisks(ctx, costProtocol(), DesignOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// The plan made for the risks found loses no more than the simple plans that they were
// found by: where these leave much of the allowance unused, as with large risks, a plan
// for the whole allowance would lose more.
func TestBalanceJudgesThePlanMade(t *testing.T) {
	ctx := context.Background()
	for _, late := range []float64{.05, .95} {
		p := costProtocol()
		p.Stages = p.Stages[:1]
		p.Stages[0].LateLoss = late
		q, found, err := BalanceRisks(ctx, p, DesignOptions{})
		if err != nil {
			t.Fatal(err)
		}
		plan, err := Design(ctx, q, DesignOptions{})
		if err != nil {
			t.Fatal(err)
		}
		loss := plan.Stages[0].ExpectedLoss().Total()
		simple := simplePlans(ctx, stagePlan(p, 0), DesignOptions{})
		least := math.Inf(1)
		for _, needless := range balanceRisks {
			for _, missed := range balanceRisks {
				s := stagePlan(p, 0)
				s.NeedlessRisk, s.MissedRisk = needless, missed
				for _, s.Table = range simple(s) {
					least = min(least, s.ExpectedLoss().Total())
				}
			}
		}
		t.Logf("late loss %g: risks %g and %g, plan loses %.2f, the best simple one %.2f", late, q.Stages[0].NeedlessRisk, q.Stages[0].MissedRisk, loss, least)
		if loss > 1.02*least {
			t.Errorf("late loss %g: the plan for %g and %g loses %g, a simple one %g", late, q.Stages[0].NeedlessRisk, q.Stages[0].MissedRisk, loss, least)
		}
		if atEnd := q.Stages[0].MissedRisk == balanceRisks[0]; found[0].MissedAtEnd != atEnd {
			t.Errorf("late loss %g: missed risk %g, at the end of the list: %v", late, q.Stages[0].MissedRisk, found[0].MissedAtEnd)
		}
	}
}
