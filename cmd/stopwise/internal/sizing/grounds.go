package sizing

import (
	"fmt"
	"math"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling"
	"stopwise/sampling/size"
)

// grounds are what an answer rests on: what it takes for granted, and what is to be
// said against it.
type grounds struct{ assumptions, warnings []string }

func (g *grounds) take(format string, args ...any) {
	g.assumptions = append(g.assumptions, fmt.Sprintf(format, args...))
}

func (g *grounds) warn(format string, args ...any) {
	g.warnings = append(g.warnings, fmt.Sprintf(format, args...))
}

// defaults adds what was taken by default.
func (g *grounds) defaults(options ...shell.AnOption) {
	for _, o := range options {
		if name, text, set := o.Given(); !set && text != "" {
			g.take("%s %s, taken by default: common practice, no source", name, text)
		}
	}
}

// tell ends a document.
func (g grounds) tell(d *report.Document) {
	d.Para("Taken for granted:")
	d.List(g.assumptions...)
	for _, w := range g.warnings {
		d.Note("%s", sentence(w))
	}
}

// tail ends an answer in JSON.
func (g grounds) tail(s *sensitivityJSON) sizeTail {
	return sizeTail{s, g.assumptions, append([]string{}, g.warnings...)}
}

// clumping says what was taken as clumping and where it came from.
func (g *grounds) clumping(rho float64, source string, plantsPerStop int, more string) {
	if source != "" {
		source = ", " + source
	}
	switch {
	case plantsPerStop == 1:
		g.take("one plant at each stop, so that clumping within a stop plays no part%s", more)
	case rho == 0:
		g.take("no clumping: plants of one stop are no more alike than plants of different stops (rho = 0%s)%s", source, more)
	default:
		g.take("plants of one stop are alike (intraclass correlation rho = %s%s), the share at a stop varying as a beta distribution%s", digits(rho), source, more)
	}
}

// stops says how stops are taken to be chosen.
func (g *grounds) stops() {
	g.take("stops are chosen at random, or in a way that has nothing to do with where the pest sits, and are independent of each other")
}

func (g *grounds) endless(units string) {
	g.take("the field has many more %s than are examined", units)
}

func (g *grounds) judgedRightly() { g.take("every plant is judged rightly as infested or not") }

func digits(x float64) string { return report.Plain(report.Significant(x, 6)) }

func percent(x float64) string { return digits(100*x) + "%" }

func plantsText(n int) string {
	if n == 1 {
		return "1 plant"
	}
	return fmt.Sprintf("%d plants", n)
}

func classifyGrounds(res size.ClassifyResult, source string) (g grounds) {
	r := res.Request
	g.take("the risks are exact at a share of %s (acting there is needless) and of %s (leaving there is a miss); they are smaller below and above", percent(r.Lower), percent(r.Upper))
	g.clumping(r.Rho, source, r.PlantsPerStop, "")
	g.stops()
	g.judgedRightly()
	g.endless("plants")
	if res.EveryFrom == 0 {
		g.warn("it is not worked out from which number of stops on every larger one works: that takes more than %d plants", size.MaxPlants)
	}
	return g
}

func visitGrounds(res size.VisitResult, source string) (g grounds) {
	r := res.Request
	g.take("the field is treated when %d or more of the %d plants are infested, and left otherwise", res.Act, res.Plants)
	g.clumping(r.Rho, source, r.PlantsPerStop, "")
	g.stops()
	g.judgedRightly()
	g.endless("plants")
	if res.Narrowest == nil {
		g.warn("the narrowest band is worked out up to %d plants and is left out", size.MaxNarrowest)
	}
	return g
}

func allocateGrounds(res size.AllocateResult, source string) (g grounds) {
	r := res.Request
	g.take("a stop takes %s minutes to walk to, and each plant %s minutes more", report.Plain(r.WalkMinutes), report.Plain(r.PlantMinutes))
	if r.Estimate != nil {
		g.take("every design of the table reaches the half-width, as the exact expectation of the Wilson interval at the effective sample size")
	} else {
		g.take("every design of the table keeps the same risks, exactly worked out")
	}
	g.clumping(r.Rho, source, r.MaxPlantsPerStop, "; rho is the same however many plants are taken at a stop")
	g.stops()
	g.endless("plants")
	if r.Rho == 0 {
		g.warn("without clumping it never pays to walk on: the fewest stops are best, and nothing guards against a pest that sits in spots")
	}
	if res.Best.PlantsPerStop == r.MaxPlantsPerStop {
		g.warn("the best design is at the limit of %d plants per stop", r.MaxPlantsPerStop)
	}
	if b := res.BudgetBest; b != nil && !b.Meets {
		g.warn("no visit of %s minutes reaches the goal; it takes %s minutes", report.Plain(r.BudgetMinutes), report.Plain(res.Best.Minutes))
	}
	return g
}

// seen says what a search for the pest takes for granted.
func (g *grounds) seen(rho float64, source string, plantsPerStop int, seen float64, field int) {
	g.clumping(rho, source, plantsPerStop, "")
	if field > 0 {
		g.take("the field has %s, and those examined are drawn at random without repetition", plantsText(field))
	} else {
		g.stops()
		g.endless("plants")
	}
	if seen == 1 {
		g.take("an infested plant that is examined is always seen to be infested, and a clean one never")
	} else {
		g.take("an infested plant that is examined is seen to be infested with chance %s, each by itself, and a clean one never", percent(seen))
	}
}

func detectGrounds(res size.DetectResult, source string) (g grounds) {
	r := res.Request
	g.take("the share infested is %s", percent(r.Prevalence))
	g.seen(r.Rho, source, r.PlantsPerStop, r.Seen, r.FieldPlants)
	if r.FieldPlants > 0 {
		g.take("%s of %d plants is rounded down to %d infested", percent(r.Prevalence), r.FieldPlants, res.Infested)
	}
	if res.Plants < res.Stops*r.PlantsPerStop {
		g.warn("the last stop is short: the field has only %s", plantsText(r.FieldPlants))
	}
	return g
}

func noneGrounds(res size.NoneFoundResult, source string) (g grounds) {
	r := res.Request
	g.take("none of %s was seen to be infested", plantsText(res.Plants))
	g.seen(r.Rho, source, r.PlantsPerStop, r.Seen, r.FieldPlants)
	if res.Upper == 1 && res.MostInfested == r.FieldPlants {
		g.warn("nothing is ruled out at %s confidence: even a field with every plant infested could show none", percent(r.Confidence))
	}
	return g
}

func proportionGrounds(res size.ProportionResult, source string) (g grounds) {
	r := res.Request
	g.take("the true share infested is %s", percent(r.Share))
	g.clumping(r.Rho, source, r.PlantsPerStop, "")
	g.stops()
	g.take("the normal route takes the half-width as z = %s standard errors at %s confidence", report.Constant(sampling.CriticalNormal(r.Confidence)), percent(r.Confidence))
	g.take("the exact route averages the half-width of the %v interval, at the effective sample size, over all totals the stops can give", r.Interval)
	if r.Relative != 0 {
		g.take("relative precision %s of %s is a half-width of %s", percent(r.Relative), percent(r.Share), percent(res.HalfWidth))
	}
	if r.FieldPlants > 0 {
		g.take("the field has %s, seen without repetition; the totals are spread as in a very large field, their interval is narrowed by the finite-field correction", plantsText(r.FieldPlants))
	} else {
		g.endless("plants")
	}
	if edge := map[bool]string{true: "0%", false: "100%"}[r.Share <= 0.5]; res.HalfWidth >= math.Min(r.Share, 1-r.Share) {
		g.warn("a half-width of %s at a share of %s reaches past %s: the normal route is rough here, use the exact one", percent(res.HalfWidth), percent(r.Share), edge)
	}
	if res.Exact == nil {
		g.warn("the exact route is worked out up to %d plants and is left out", size.MaxPlants)
	}
	if r.Interval.TeachingOnly() {
		g.warn("the Wald interval is for teaching only: its true confidence is often far below the nominal one")
	}
	if r.FieldPlants > 0 && res.Normal.Plants == r.FieldPlants {
		g.warn("this takes every plant of the field: count them all")
	}
	return g
}

func meanGrounds(res size.MeanResult, source string) (g grounds) {
	r := res.Request
	g.take("the true mean is %s per unit", digits(r.Mean))
	if c := r.Components; c != nil {
		g.take("variance %s between stops and %s within a stop (%s), which is an intraclass correlation of %s",
			digits(c.Between), digits(c.Within), source, digits(c.Between/(c.Between+c.Within)))
	} else {
		g.take("%v (%s): variance %s per unit", r.Law, source, digits(res.UnitVariance))
		if r.CountRho == 0 {
			g.take("units of one stop are no more alike than units of different stops (count_rho = 0)")
		} else {
			g.take("the counts of two units of one stop have the correlation %s (count_rho): each stop has a mean of its own, gamma distributed", digits(r.CountRho))
		}
	}
	g.stops()
	g.endless("units")
	if r.Convention == size.StandardError {
		g.take("precision %s is the standard error over the mean (no z)", percent(r.Precision))
	} else {
		g.take("precision %s is the half-width of the %s confidence interval over the mean (z = %s)", percent(r.Precision), percent(r.Confidence), report.Constant(sampling.CriticalNormal(r.Confidence)))
	}
	if r.Convention == size.HalfWidth && res.Stops == 1 {
		g.warn("one stop shows nothing of how stops differ: the precision rests on the assumed variance alone")
	}
	if res.ReachedStudent > 1.1*r.Precision {
		g.warn("if the variance is judged from these %d stops alone, t instead of z makes the half-width %s%% of the mean", res.Stops, report.Constant(100*res.ReachedStudent))
	}
	if res.Within < r.Confidence-0.01 {
		g.warn("counts are skewed: the exact chance of an estimate within %s of the mean is %s%%, not %s", percent(r.Precision), report.Constant(100*res.Within), percent(r.Confidence))
	}
	return g
}
