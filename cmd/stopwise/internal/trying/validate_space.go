package trying

import (
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/say"
	"stopwise/plans"
	"stopwise/validate"
)

func (r *validationResult) walksDocument(d *report.Document) {
	s := r.stage
	d.Heading("Made fields, walked along a route")
	d.Para("%s", groundSentence(s, r.walk))
	d.Table(r.walksTable())
	d.List(r.routeSentences()...)
	r.worstDocument(d)
}

// worstDocument says where the promise is broken furthest, and what was drawn.
func (r *validationResult) worstDocument(d *report.Document) {
	s := r.stage
	if w, found := r.worstRoute(); found && len(r.walks) > 1 {
		d.Para("Worst: %s on the route %s, needless %s, missed %s; allowed %s and %s.", strings.ToLower(patternWords[w.Pattern][:1])+patternWords[w.Pattern][1:], w.Route,
			say.ChanceText(w.Needless()), say.ChanceText(w.Missed()), report.Share(s.NeedlessRisk), report.Share(s.MissedRisk))
	}
	if r.drawn != "" {
		d.Para("One such field and one walk through it are drawn in %s.", r.drawn)
	}
}

// groundSentence says what the fields are like.
func groundSentence(s *plans.StagePlan, o validate.WalkOptions) string {
	g := o.Ground
	level, alike := "share infested", fmt.Sprintf("rho of %s between the %s of a stop", report.Constant(o.Rho), report.UnitsName(s.Stage))
	if s.Measure == plans.MeanPerLeaf {
		level, alike = "mean per leaf", fmt.Sprintf("correlation of %s between the counts of a stop", report.Constant(o.Rho))
		if o.K > 0 {
			alike = fmt.Sprintf("k of %s and ", report.Constant(o.K)) + alike
		}
	}
	text := fmt.Sprintf("Fields of %s ha (%s m by %s m). Each pattern has the same %s over the field and the same %s: all that differs is where the pest sits. "+
		"The scout comes in at a corner, keeps %d m from the edge, walks %s m a minute and stops every %s m or so.",
		report.Number(g.Length*g.Width/10000, 2), report.Whole(g.Length), report.Whole(g.Width), level, alike, validate.Margin, report.Number(o.Speed, 2),
		report.Number(math.Round(o.Speed*s.Stop.WalkMinutes), 2))
	for _, p := range o.Patterns {
		if p == validate.HotSpots {
			text += fmt.Sprintf(" Hot spots: %s in a field on average, of a radius of %s m.", report.Number(g.Spots, 2), report.Number(g.SpotRadius, 2))
		}
	}
	return text
}

// worstRoute names the route on which the promise is broken furthest: where a risk
// stands highest above what is allowed for it.
func (r *validationResult) worstRoute() (validate.WalkRow, bool) {
	var worst validate.WalkRow
	over, found := 0.0, false
	for _, w := range r.walks {
		excess := math.Max(w.Needless().Value/r.stage.NeedlessRisk, w.Missed().Value/r.stage.MissedRisk)
		if w.Keeps(r.stage) == validate.Beyond && excess > over {
			worst, over, found = w, excess, true
		}
	}
	return worst, found
}

func (r *validationResult) walksTable() *report.Table {
	t := report.NewTable("Simulated; ± is one standard error. Stops and minutes, by the distance walked, in fields at the lower bound / the threshold / the upper bound.",
		"pest", "route", ">needless risk", ">missed risk", "promise", ">stops", ">minutes")
	for _, w := range r.walks {
		stops, minutes := w.Effort()
		t.Add(string(w.Pattern), string(w.Route), say.ChanceText(w.Needless()), say.ChanceText(w.Missed()), keptWord(w.Keeps(r.stage)),
			threeTexts(stops, threeDigits), threeTexts(minutes, report.Whole))
	}
	return t
}

// routeSentences compare the routes within each pattern.
func (r *validationResult) routeSentences() []string {
	var out []string
	for _, p := range r.walk.Patterns {
		var rows []validate.WalkRow
		for _, w := range r.walks {
			if w.Pattern == p {
				rows = append(rows, w)
			}
		}
		if len(rows) < 2 {
			continue
		}
		out = append(out, fmt.Sprintf("%s: %s.", patternWords[p], strings.Join([]string{
			extremes("needless", rows, validate.WalkRow.Needless), extremes("missed", rows, validate.WalkRow.Missed)}, "; ")))
	}
	return out
}

var patternWords = map[validate.Pattern]string{
	validate.HotSpots: "Pest in hot spots",
	validate.Edge:     "Pest along an edge",
	validate.Gradient: "Pest on a gradient",
	validate.Uniform:  "Pest spread evenly",
	validate.Strip:    "Pest along a line through the field",
	validate.Arrivals: "Pest in patches from a few arrivals",
}

// extremes says which route has the smallest and which the largest risk, or that
// the simulation tells no difference.
func extremes(name string, rows []validate.WalkRow, of func(validate.WalkRow) validate.Chance) string {
	low, high := rows[0], rows[0]
	for _, w := range rows[1:] {
		if of(w).Value < of(low).Value {
			low = w
		}
		if of(w).Value > of(high).Value {
			high = w
		}
	}
	a, b := of(low), of(high)
	// Of several routes the largest and the smallest differ by two standard
	// errors too easily.
	if b.Value-a.Value < 4*math.Hypot(a.SE(), b.SE()) {
		return fmt.Sprintf("%s risk the same on every route as far as the simulation can tell, about %s", name, report.Percent((a.Value+b.Value)/2))
	}
	return fmt.Sprintf("%s risk from %s (%s) to %s (%s)", name, report.Percent(a.Value), low.Route, report.Percent(b.Value), high.Route)
}

// plotLevel is the level of the field that is drawn: one that must be treated.
func plotLevel(s *plans.StagePlan) float64 { return s.Upper }
