package sizing

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/size"
)

type allocateFlags struct {
	walk, plant, budget            *shell.Option[float64]
	rho                            *shell.Option[plans.Range]
	lower, upper, needless, missed *shell.Option[float64]
	share, halfWidth, confidence   *shell.Option[float64]
	minStops, mostPlants           *shell.Option[int]
	show                           *shell.Option[[]int]
}

func sizeAllocate() shell.Question {
	f := &allocateFlags{
		walk: shell.WalkMinutesFlag().WithDefault("3"), plant: shell.DescribedAs(shell.NewOption("plant-minutes", "", shell.Positive), shell.PlantMinutesFlag().Usage).WithDefault("0.25"),
		budget: shell.NewOption("budget", "`MINUTES` time for a visit: the best design that fits in it is looked for too", shell.Positive),
		rho:    shell.RhoFlag(),
		lower:  shell.LowerFlag(), upper: shell.UpperFlag(), needless: shell.NeedlessRiskFlag(), missed: shell.MissedRiskFlag(),
		share: shareExpectedFlag(), halfWidth: halfWidthFlag(), confidence: shell.ConfidenceFlag(),
		minStops:   shell.DescribedAs(shell.MinStopsFlag(), "`COUNT` the fewest stops of a design").WithoutValue("1"),
		mostPlants: shell.NewOption("max-plants-per-stop", "`COUNT` the most plants at a stop", shell.Whole(1, size.MostAtStop)).WithDefault("100"),
		show:       shell.NewOption("show", "`COUNTS` plants per stop to show, such as 10,20,40", parsePlantsList).WithoutValue("a spread of them"),
	}
	return shell.Question{
		Name:  "allocate",
		Usage: "split a visit's minutes between stops and plants per stop",
		Description: `Finds the number of plants per stop that reaches a goal in the fewest minutes, by trying every number. The goal is a pair of bounds with both risks, or a share with its half-width. The table shows designs that reach the same goal.

$ stopwise size allocate --lower 15% --upper 30% --needless-risk 10% --missed-risk 10% --rho 0.1
$ stopwise size allocate --share 20% --half-width 10% --rho 0.1 --walk-minutes 3 --plant-minutes 0.25 --budget 45`,
		Flags:  []cli.Flag{f.lower, f.upper, f.needless, f.missed, f.share, f.halfWidth, f.confidence, f.walk, f.plant, f.budget, f.rho, f.minStops, f.mostPlants, f.show},
		Answer: func(context.Context, *cli.Context) (report.Output, error) { return f.find() },
	}
}

func parsePlantsList(s string) ([]int, error) {
	return shell.ParseEach(s, shell.Whole(1, size.MostAtStop))
}

func (f *allocateFlags) find() (report.Output, error) {
	r := size.AllocateRequest{
		WalkMinutes: f.walk.Value, PlantMinutes: f.plant.Value, MinStops: f.minStops.Value,
		MaxPlantsPerStop: f.mostPlants.Value, Show: f.show.Value, BudgetMinutes: f.budget.Value,
	}
	if err := f.goal(&r); err != nil {
		return report.Output{}, err
	}
	rho, source, err := perStop{f.mostPlants, f.rho}.clumping()
	if err != nil {
		return report.Output{}, err
	}
	r.Rho = rho
	res, err := size.Allocate(r)
	if err != nil {
		return report.Output{}, shell.DesignError(err)
	}
	g := allocateGrounds(res, source)
	g.defaults(f.walk, f.plant)
	return allocateOutput(res, g), nil
}

func (f *allocateFlags) goal(r *size.AllocateRequest) error {
	classify, estimate := []*shell.Option[float64]{f.lower, f.upper, f.needless, f.missed}, []*shell.Option[float64]{f.share, f.halfWidth}
	for _, a := range classify {
		for _, b := range append(estimate, f.confidence) {
			if a.Set && b.Set {
				return shell.UsageHint("the goal is a pair of bounds with both risks, or a share with its half-width", "--%s and --%s cannot be used together", a.Name, b.Name)
			}
		}
	}
	if f.share.Set || f.halfWidth.Set {
		if err := shell.Required(f.share, f.halfWidth); err != nil {
			return err
		}
		r.Estimate = &size.EstimateGoal{Share: f.share.Value, HalfWidth: f.halfWidth.Value, Confidence: f.confidence.Value}
		return nil
	}
	for _, o := range classify {
		if o.Set {
			if err := shell.Required(f.lower, f.upper, f.needless, f.missed); err != nil {
				return err
			}
			r.Classify = &size.ClassifyGoal{Lower: f.lower.Value, Upper: f.upper.Value, NeedlessRisk: f.needless.Value, MissedRisk: f.missed.Value}
			return shell.Below(f.lower, f.upper)
		}
	}
	return shell.UsageHint("give --lower, --upper, --needless-risk and --missed-risk, or --share and --half-width", "no goal is given")
}

type allocationJSON struct {
	PlantsPerStop int      `json:"plants_per_stop"`
	Stops         int      `json:"stops"`
	Plants        int      `json:"plants"`
	Minutes       float64  `json:"minutes"`
	DesignEffect  float64  `json:"design_effect"`
	Act           *int     `json:"act"`
	Needless      *float64 `json:"needless_risk"`
	Missed        *float64 `json:"missed_risk"`
	HalfWidth     *float64 `json:"half_width"`
	Meets         bool     `json:"reaches_goal"`
}

type allocateAsked struct {
	WalkMinutes  float64         `json:"walk_minutes"`
	PlantMinutes float64         `json:"plant_minutes"`
	Budget       *float64        `json:"budget_minutes"`
	Rho          float64         `json:"rho"`
	Bounds       *boundsGoalJSON `json:"bounds"`
	Estimate     *shareGoalJSON  `json:"estimate"`
}

type boundsGoalJSON struct {
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
	bothRisks
}

type shareGoalJSON struct {
	Share      float64 `json:"share"`
	HalfWidth  float64 `json:"half_width"`
	Confidence float64 `json:"confidence"`
}

type allocateJSON struct {
	sizeHead
	Minutes       float64          `json:"minutes"`
	OptimalPlants *float64         `json:"optimal_plants_per_stop"` // null is without end
	Designs       []allocationJSON `json:"designs"`
	Budget        []allocationJSON `json:"budget_designs"`
	BudgetBest    *allocationJSON  `json:"budget_best"`
	sizeTail
}

type allocateRow struct {
	Value         float64         `json:"value"`
	Assumed       bool            `json:"assumed"`
	OptimalPlants *float64        `json:"optimal_plants_per_stop"`
	Best          *allocationJSON `json:"best"`
	Kept          *allocationJSON `json:"kept"`
}

func asAllocation(a *size.Allocation, classify bool) *allocationJSON {
	if a == nil {
		return nil
	}
	j := &allocationJSON{PlantsPerStop: a.PlantsPerStop, Stops: a.Stops, Plants: a.Plants, Minutes: a.Minutes, DesignEffect: a.DesignEffect, Meets: a.Meets}
	if classify {
		j.Act, j.Needless, j.Missed = &a.Act, &a.NeedlessRisk, &a.MissedRisk
	} else {
		j.HalfWidth = report.Finite(a.HalfWidth)
	}
	return j
}

func allocateOutput(res size.AllocateResult, g grounds) report.Output {
	r, classify := res.Request, res.Request.Classify != nil
	best := asAllocation(&res.Best, classify)
	asked := allocateAsked{WalkMinutes: r.WalkMinutes, PlantMinutes: r.PlantMinutes, Rho: r.Rho}
	if r.BudgetMinutes > 0 {
		asked.Budget = &r.BudgetMinutes
	}
	var achieved any
	if goal := r.Classify; goal != nil {
		asked.Bounds = &boundsGoalJSON{goal.Lower, goal.Upper, bothRisks{goal.NeedlessRisk, goal.MissedRisk}}
		achieved = bothRisks{res.Best.NeedlessRisk, res.Best.MissedRisk}
	} else {
		asked.Estimate = &shareGoalJSON{r.Estimate.Share, r.Estimate.HalfWidth, r.Estimate.Confidence}
		achieved = struct {
			HalfWidth *float64 `json:"half_width"`
		}{best.HalfWidth}
	}
	j := allocateJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size allocate", Version: 1},
			Stops:    best.Stops, Plants: best.Plants, PlantsPerStop: best.PlantsPerStop, Achieved: achieved, Requested: asked,
		},
		Minutes: best.Minutes, OptimalPlants: report.Finite(res.OptimalPlants), BudgetBest: asAllocation(res.BudgetBest, classify),
		sizeTail: g.tail(&sensitivityJSON{Of: "rho"}),
	}
	// The rows of both tables, which JSON keeps apart.
	type designRow struct {
		Table string `json:"table"`
		allocationJSON
		Best bool `json:"best"`
	}
	var rows []designRow
	add := func(table string, list []size.Allocation, best int) (out []allocationJSON) {
		for i := range list {
			a := asAllocation(&list[i], classify)
			out = append(out, *a)
			rows = append(rows, designRow{table, *a, a.PlantsPerStop == best})
		}
		return out
	}
	j.Designs = add("goal", res.Designs, best.PlantsPerStop)
	if j.BudgetBest != nil {
		j.Budget = add("budget", res.Budget, j.BudgetBest.PlantsPerStop)
	}
	for _, s := range res.Sensitivity {
		j.Sensitivity.Rows = append(j.Sensitivity.Rows, allocateRow{s.Rho, s.Assumed, report.Finite(s.OptimalPlants), asAllocation(s.Best, classify), asAllocation(s.Kept, classify)})
	}
	return report.Output{Doc: allocateDocument(res, g), Records: report.RecordsOf(rows), JSON: j}
}

func allocateDocument(res size.AllocateResult, g grounds) *report.Document {
	r, best := res.Request, res.Best
	d := &report.Document{}
	d.Heading("Stops against plants per stop")
	d.Para("%s, which takes %s: no other number of plants per stop up to %d %s in less time.",
		walkThese(best.Stops, best.PlantsPerStop, best.Plants), report.Minutes(best.Minutes), r.MaxPlantsPerStop, goalWords(r))
	if r.Classify != nil {
		d.Para("Act at %d or more infested in all: %s.", best.Act, reachedWords(r, best))
	} else {
		d.Para("That gives %s.", reachedWords(r, best))
	}
	d.Para("%s", optimumSentence(res))
	d.Table(allocationTable("Designs that reach the same goal.", r, res.Designs, best.PlantsPerStop, "least time"))
	if b := res.BudgetBest; b != nil {
		reaches := "reaches the goal"
		if !b.Meets {
			reaches = "comes closest to the goal without reaching it"
		}
		d.Para("In %s the best is %s: %s (%s) %s, with %s.", report.Minutes(r.BudgetMinutes), say.StopsOf(b.Stops, b.PlantsPerStop),
			report.Count(b.Plants, "plant", "plants"), report.Minutes(b.Minutes), reaches, reachedWords(r, *b))
		d.Table(allocationTable("Designs that use up "+report.Minutes(r.BudgetMinutes)+".", r, res.Budget, b.PlantsPerStop, "best"))
	}
	d.Table(allocateSensitivity(res))
	g.tell(d)
	return d
}

func goalWords(r size.AllocateRequest) string {
	if g := r.Classify; g != nil {
		return fmt.Sprintf("tells %s from %s at risks of %s and %s", report.Share(g.Lower), report.Share(g.Upper), report.Share(g.NeedlessRisk), report.Share(g.MissedRisk))
	}
	return fmt.Sprintf("estimates a share of %s to within %s at %s confidence", report.Share(r.Estimate.Share), chosenPoints(r.Estimate.HalfWidth), report.Share(r.Estimate.Confidence))
}

func reachedWords(r size.AllocateRequest, a size.Allocation) string {
	if g := r.Classify; g != nil {
		return fmt.Sprintf("%s of fields at %s treated needlessly, %s of fields at %s missed", report.Percent(a.NeedlessRisk), report.Share(g.Lower), report.Percent(a.MissedRisk), report.Share(g.Upper))
	}
	return "a half-width of " + points(a.HalfWidth)
}

func optimumSentence(res size.AllocateResult) string {
	switch m := res.OptimalPlants; {
	case math.IsInf(m, 1):
		return "The textbook's optimum is without end: plants that are not alike are best taken all at one stop."
	case m == 0:
		return "The textbook's optimum is one plant per stop: walking takes no time here."
	default:
		return fmt.Sprintf("The textbook's optimum, sqrt(walk/plant minutes (1-rho)/rho), is %s plants per stop; whole plants and stops shift the best from there.", report.Number(m, 3))
	}
}

func allocationTable(caption string, r size.AllocateRequest, list []size.Allocation, best int, mark string) *report.Table {
	t := report.NewTable(caption, ">plants per stop", ">stops", ">plants", ">time")
	if g := r.Classify; g != nil {
		t.Head(">act from", ">act at "+report.Share(g.Lower), ">leave at "+report.Share(g.Upper))
	} else {
		t.Head(">half-width")
	}
	t.Head("")
	for _, a := range list {
		row := []string{strconv.Itoa(a.PlantsPerStop), strconv.Itoa(a.Stops), strconv.Itoa(a.Plants), report.Minutes(a.Minutes)}
		if r.Classify != nil {
			row = append(row, strconv.Itoa(a.Act), report.Percent(a.NeedlessRisk), report.Percent(a.MissedRisk))
		} else {
			row = append(row, points(a.HalfWidth))
		}
		note := ""
		if a.PlantsPerStop == best {
			note = mark
		}
		if !a.Meets {
			note = strings.TrimPrefix(note+", misses the goal", ", ")
		}
		t.Add(append(row, note)...)
	}
	return t
}

func allocateSensitivity(res size.AllocateResult) *report.Table {
	t := report.NewTable("If the plants of a stop are more or less alike than taken here: the best design then, and what it takes to keep this number of plants per stop.",
		">rho", ">best plants per stop", ">stops", ">time", fmt.Sprintf(">stops of %d", res.Best.PlantsPerStop), ">time", "")
	for _, s := range res.Sensitivity {
		row := []string{report.Constant(s.Rho)}
		if b := s.Best; b != nil {
			row = append(row, strconv.Itoa(b.PlantsPerStop), strconv.Itoa(b.Stops), report.Minutes(b.Minutes))
		} else {
			row = append(row, "out of reach", "", "")
		}
		if k := s.Kept; k != nil {
			row = append(row, strconv.Itoa(k.Stops), report.Minutes(k.Minutes))
		} else {
			row = append(row, "out of reach", "")
		}
		t.Add(append(row, takenHere(s.Assumed))...)
	}
	return t
}
