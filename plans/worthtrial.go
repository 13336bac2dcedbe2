package plans

import (
	"context"

	"stopwise/plans/internal/search"
	"stopwise/plans/protocol"
	"stopwise/plans/rule"
)

// A WorthTrial is what a visit would take with the same risks if a stop's count
// passed through a map before it is added up (see [rule.Worth]).
type WorthTrial struct {
	Worth rule.Worth
	Table Table
	// Stops, Plants and Minutes are weighted as a plan's Weighted stops; with a cap
	// the scout stops looking at a stop once so many are found.
	Stops, Plants, Minutes float64
	// Needless and Missed are the worst exact risks over the clumping range, and
	// Patches those where the pest sits in patches and nowhere else, whether or not
	// the promise was to hold there.
	Needless, Missed float64
	Patches          HeldRisk
}

// TryCapped returns what stops that count at most the best cap would take, false
// where no such plan keeps the risks. The stage must be of a share infested.
func TryCapped(ctx context.Context, terms Stage, o DesignOptions) (WorthTrial, bool) {
	return tryWorths(ctx, terms, o, search.Caps(terms.Stop.Plants))
}

// TryPoints returns what stops that count points up to top would take, with the map
// that does best over the clumping range; false where none keeps the risks. The
// stage must be of a share infested.
func TryPoints(ctx context.Context, terms Stage, top int, o DesignOptions) (WorthTrial, bool) {
	r := terms.Law().Range
	return tryWorths(ctx, terms, o, search.PointMaps(terms.Lower, terms.Upper, terms.Stop.Plants, top, r.Low, r.High))
}

// TryTotal is the same for the running total, to compare with: of a plan's own table.
func (s *StagePlan) TryTotal(o DesignOptions) WorthTrial {
	return s.trial(rule.Worth{}, s.Table, o)
}

func tryWorths(ctx context.Context, terms Stage, o DesignOptions, worths []rule.Worth) (WorthTrial, bool) {
	s := &StagePlan{Stage: terms}
	p := s.problem(o.weights())
	p.Stop = func() bool { return ctx.Err() != nil }
	w, table, ok := p.BestWorth(worths)
	if !ok || ctx.Err() != nil {
		return WorthTrial{}, false
	}
	return s.trial(w, table.Trimmed(), o), true
}

func (s *StagePlan) trial(w rule.Worth, table Table, o DesignOptions) WorthTrial {
	// The sign, where there is one, belongs to the promise.
	judged := &StagePlan{Stage: s.Stage, Table: table, Worth: w}
	t := WorthTrial{Worth: w, Table: table, Patches: judged.InPatches()}
	lower, upper := s.Worlds(s.Lower), s.Worlds(s.Upper)
	for i := range lower {
		t.Needless = max(t.Needless, judged.NeedlessIn(lower[i].Population()))
		t.Missed = max(t.Missed, judged.MissedIn(upper[i].Population()))
	}
	t.Stops, t.Plants = judged.visitEffort(o.weights())
	t.Minutes = s.Minutes(t.Stops, t.Plants)
	return t
}

// InPatches returns the worst exact risks over the clumping range where the pest sits in
// patches and nowhere else, whether or not the promise is to hold there.
func (s *StagePlan) InPatches() HeldRisk {
	return s.heldRisk(protocol.Held{Name: "patches", Field: World.Patchy})
}
