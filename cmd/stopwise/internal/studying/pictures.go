package studying

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"stopwise/cmd/stopwise/internal/drawing"
	"stopwise/cmd/stopwise/internal/figure"
	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/sampling"
	"stopwise/validate"
)

// crowd draws the walks on the table.
func (r linesResult) crowd() (figure.Picture, error) {
	n := float64(r.seen.Visits.N)
	v := figure.Crowd{
		Title:  fmt.Sprintf("%s through one decision table, fields at %s%s", report.Count(r.seen.Visits.N, "walk", "walks"), report.Level(r.s.Measure, r.world.Level), say.InStage(r.s)),
		Note:   fmt.Sprintf("The larger a sign, the more walks come to this total after this stop. Dots walk on; rings end with leave, crosses with act. Simulated, seed %d, %s. The right verdict: %s.", r.seed, r.clump(), r.right()),
		Desc:   r.lesson(),
		Stairs: drawing.Staircase(r.s, nil),
	}
	last := 0
	height := crowdHeight(r.seen.At)
	if height > 1 {
		v.Note += fmt.Sprintf(" A sign stands for %d totals, the topmost for all above too.", height)
	}
	for j, totals := range r.seen.At {
		places := map[figure.CrowdPlace]int{} // the walks that come there
		for x, count := range totals {
			if count == 0 {
				continue
			}
			last = j + 1
			place := figure.CrowdPlace{Stop: j + 1, Total: x - x%height + height/2}
			switch leave, act := v.Stairs.Leave[j], v.Stairs.Act[j]; {
			case leave >= 0 && x <= leave:
				place.Ends, place.Total = figure.EndsLeave, min(place.Total, leave)
			case act >= 0 && x >= act:
				place.Ends, place.Total = figure.EndsAct, max(place.Total, act)
			}
			places[place] += count
		}
		for place, count := range places {
			place.Share = float64(count) / n
			v.Places = append(v.Places, place)
		}
	}
	slices.SortFunc(v.Places, func(a, b figure.CrowdPlace) int {
		return cmp.Or(cmp.Compare(a.Stop, b.Stop), cmp.Compare(a.Total, b.Total), cmp.Compare(a.Ends, b.Ends))
	})
	v.Stairs.Leave, v.Stairs.Act = v.Stairs.Leave[:last], v.Stairs.Act[:last]
	return v.Picture()
}

// mostCrowd is how many signs stand above each other at most: more would leave no room to
// tell large ones from small ones.
const mostCrowd = 80

// crowdHeight returns how many totals a sign stands for.
func crowdHeight(at [][]int) int {
	top := 0
	for _, totals := range at {
		for x, count := range totals {
			if count > 0 {
				top = max(top, x)
			}
		}
	}
	return 1 + top/mostCrowd
}

// The ladders show so many visits to a field of this share, by this method.
const (
	ladderVisits = 40
	ladderShare  = 0.15
	ladderMethod = sampling.MethodWilson
)

// ladders draws intervals under each other: clumping ignored beside counted in.
func (f *coverageFlags) ladders(ctx context.Context) (figure.Ladders, error) {
	var none figure.Ladders
	share := ladderShare
	if f.at.Set {
		shares, err := f.shares()
		if err != nil {
			return none, err
		}
		share = shares[0]
	}
	cases, err := f.cases()
	if err != nil {
		return none, err
	}
	if len(cases) > 1 {
		cases = cases[1:] // ignored and counted in
	}
	v := figure.Ladders{
		Title: fmt.Sprintf("%s intervals of %s to one field: which hold the truth?", report.Share(f.confidence.Value), report.Count(ladderVisits, "visit", "visits")),
		Note: fmt.Sprintf("Each line is one visit of %s, the dot its share seen. Thick lines with a cross miss the truth. Simulated, seed %d: the same visits on both sides, sorted by what they saw. In brackets the exact coverage.",
			say.StopsOf(f.stops.Value, f.plants.Value), f.seed.Value),
		LevelLabel: "share of plants infested", Truth: share, TruthName: "the truth, " + report.Share(share),
	}
	for _, c := range cases {
		seen, err := validate.ManyScouts(ctx, validate.FixedVisit{Stops: f.stops.Value, Plants: f.plants.Value, Threshold: share},
			sampling.Infested{P: share, Rho: c.rho}, validate.Options{Visits: ladderVisits, Seed: f.seed.Value})
		if err != nil {
			return none, err
		}
		in, err := sampling.TotalIntervals(ladderMethod, f.stops.Value, f.plants.Value, c.used, f.confidence.Value)
		if err != nil {
			return none, err
		}
		l := figure.Ladder{}
		missed := 0
		for x, n := range seen.Seen {
			for range n {
				r := figure.Rung{Low: in[x].Lower, Estimate: float64(x) / float64(seen.Visit.Total()), High: in[x].Upper}
				l.Rungs = append(l.Rungs, r)
				if share < r.Low || share > r.High {
					missed++
				}
			}
		}
		l.Head = fmt.Sprintf("%s: %d of %d miss (%s hold)", c.name, missed, ladderVisits, report.Percent(sampling.Cover(in, seen.Chances, share).Holds))
		v.Panels = append(v.Panels, l)
		v.Desc = say.Joined(" ", v.Desc, l.Head+".")
	}
	return v, nil
}
