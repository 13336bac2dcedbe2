package designing

import (
	"context"
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

// routeVisits is enough to tell a route that breaks the promise from one that keeps
// it, with a standard error of half a percent.
const routeVisits = 2000

// routesDocument says on which routes through a field a plan keeps its promise,
// wherever the pest sits.
func routesDocument(ctx context.Context, e shell.Env, d *report.Document, plan *plans.Plan) error {
	d.Heading("Where to walk")
	d.Para("%s", say.DefaultRoute(plan.Protocol.Route))
	o := validate.Options{Visits: routeVisits, Seed: 1}
	progress := report.NewProgress(e.Err, "walking made fields", int64(len(plan.Stages)))
	defer progress.Done()
	for _, s := range plan.Stages {
		walks := validate.UsualWalks(s, o)
		if walks.Rho == 0 {
			d.Para("%s", say.Capital(fmt.Sprintf("%sthe plan takes what is at a stop as independent, so that every field is the same all over and every route as good.", atStage(s))))
			continue
		}
		rows, err := validate.Walks(ctx, s, walks)
		if err != nil {
			return err
		}
		progress.Add(1)
		routesTable(d, s, walks, validate.WorstByRoute(rows))
	}
	return nil
}

func routesTable(d *report.Document, s *plans.StagePlan, o validate.WalkOptions, routes []validate.RouteRisk) {
	t := report.NewTable(say.Capital(fmt.Sprintf("%sthe worst over %d patterns of where the pest sits (allowed: needless %s, missed %s). Made fields of %s ha, %s, simulated with seed %d in %s each; ± is one standard error. Minutes at the lower bound / the threshold / the upper bound.",
		atStage(s), len(o.Patterns), report.Share(s.NeedlessRisk), report.Share(s.MissedRisk), report.Number(o.Ground.Length*o.Ground.Width/10000, 2), likenessText(s, o.Rho), o.Seed, report.Count(o.Visits, "visit", "visits"))),
		"route", ">needless, worst", "where", ">missed, worst", "where", "promise", ">minutes")
	for _, r := range routes {
		missedIn := string(r.MissedIn)
		if math.IsNaN(r.Missed.Value) {
			missedIn = ""
		}
		t.Add(string(r.Route), say.ChanceText(r.Needless), string(r.NeedlessIn), say.ChanceText(r.Missed), missedIn, say.StandingWord(r.Keeps(s), "kept", "BROKEN"),
			fmt.Sprintf("%s / %s / %s", report.Whole(r.Minutes[0]), report.Whole(r.Minutes[1]), report.Whole(r.Minutes[2])))
	}
	d.Table(t)
}

func likenessText(s *plans.StagePlan, rho float64) string {
	if s.Measure == plans.MeanPerLeaf {
		return "count rho " + report.Constant(rho)
	}
	return "rho " + report.Constant(rho)
}

func atStage(s *plans.StagePlan) string {
	if s.Name == "" {
		return ""
	}
	return "at " + s.Name + " "
}
