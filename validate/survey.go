package validate

import (
	"context"
	"math"
	"slices"

	"stopwise/plans"
)

// A Survey is what a plan does in worlds of one kind, and how far its promise
// reaches among them.
type Survey struct {
	World string
	Rows  []Row
	Holds []Hold // one for each number that was changed
}

// A Hold says how far a promise holds when one number is changed.
type Hold struct {
	Name string // of the number, as in Row.Numbers
	OK   bool   // the promise holds at Home; without it the rest says nothing
	// Unknown says that whether it holds depends on how often the further sign is
	// seen.
	Unknown bool
	Home    float64 // the value that the plan was made for
	Low     float64 // the promise holds from here,
	High    float64 // up to here, as closely as limits are found
	// Searched is the range that was looked at; where Low or High is an end of
	// it, the promise may hold further.
	Searched plans.Range
	// Doubled is the range over which neither risk is more than twice the one
	// allowed.
	Doubled plans.Range
}

// topRho is the largest rho that is looked at: plants of a stop nearly all alike.
const topRho = 0.9

// SurveyClumping tries worlds more or less clumped than the plan's, by rho or by k,
// at even steps of a range; a nil range means one around the plan's own.
func SurveyClumping(s *plans.StagePlan, over *plans.Range) Survey {
	home := homeRange(s)
	d, clumped, search := ownDegree(s), home.High, plans.Range{Low: 0, High: topRho}
	if s.Measure == plans.MeanPerLeaf {
		clumped, search = home.Low, plans.Range{Low: home.Low / 20, High: home.High * 20}
	}
	return d.survey(s, grid(over, defaultClumps(s)), clumped, search)
}

// SurveyAlike tries worlds of counts more or less alike at a stop than a plan for
// means takes them to be; a nil range means one around the plan's own.
func SurveyAlike(s *plans.StagePlan, over *plans.Range) Survey {
	return degreeAlike.survey(s, grid(over, defaultAlikes(s)), s.Law().CountRho.High, plans.Range{Low: 0, High: s.MostCountRho()})
}

func (d degree) survey(s *plans.StagePlan, xs []float64, home float64, search plans.Range) Survey {
	v := Survey{World: d.world}
	for _, x := range xs {
		v.Rows = append(v.Rows, d.at(s, x))
	}
	if !search.Single() { // insects at random are not alike at a stop, whatever is tried
		v.Holds = []Hold{holdAround(s, d.name, home, search, func(x float64) (float64, float64) { return d.family(s, x).risks(s) })}
	}
	return v
}

// SurveyMixture tries fields whose clumping differs from one to the next, evenly
// between the values of a range: of rho or k, or of the correlation of counts. No
// range means from independent plants up to several times as clumped as the plan's
// worlds.
func SurveyMixture(s *plans.StagePlan, over, alike *plans.Range) Survey {
	v := Survey{World: Mixture}
	d, home := ownDegree(s), homeRange(s)
	switch {
	case over != nil || alike != nil:
		if over != nil {
			v.Rows = append(v.Rows, d.mixed(s, *over))
		}
		if alike != nil {
			v.Rows = append(v.Rows, degreeAlike.mixed(s, *alike))
		}
		return v
	case s.Measure == plans.ShareInfested:
		d.fromNone(s, &v, home.High, topRho)
		return v
	}
	for _, f := range []float64{1, 0.5, 0.25} {
		v.Rows = append(v.Rows, d.mixed(s, plans.Range{Low: tidy(f * home.Low), High: tidy(4 * home.High)}))
	}
	if most := s.MostCountRho(); most > 0 {
		degreeAlike.fromNone(s, &v, s.Law().CountRho.High, most)
	}
	return v
}

// fromNone adds mixtures from independent units up to several times the plan's own
// clumping.
func (d degree) fromNone(s *plans.StagePlan, v *Survey, top, most float64) {
	if top == 0 {
		top = 0.1
	}
	top = math.Min(top, most)
	for _, f := range []float64{1, 1.5, 2, 3} {
		if high := tidy(f * top); high <= most || f == 1 {
			v.Rows = append(v.Rows, d.mixed(s, plans.Range{Low: 0, High: high}))
		}
	}
	v.Holds = append(v.Holds, holdAround(s, d.name+"_high", top, plans.Range{Low: 0, High: most},
		func(high float64) (float64, float64) { return d.mixedRisks(s, plans.Range{Low: 0, High: high}) }))
}

// SurveyPatches tries fields that are clean outside patches.
func SurveyPatches(s *plans.StagePlan, over *plans.Range) Survey {
	v, d, usual, most := Survey{World: PatchesOnly}, patches(s), defaultClumps(s), topRho
	if s.Measure == plans.MeanPerLeaf {
		usual, most = defaultAlikes(s), s.MostCountRho()
	}
	for _, rho := range grid(over, usual) {
		v.Rows = append(v.Rows, InPatches(s, rho))
	}
	if most > 0 {
		v.Holds = []Hold{holdAround(s, d.name, 0, plans.Range{Low: 0, High: most},
			func(rho float64) (float64, float64) { return patchFamily(s, rho).risks(s) })}
	}
	return v
}

// mostMisread is the largest share misread that is looked at.
const mostMisread = 0.5

// SurveyMisread tries scouts who misread plants; a nil slip means a few of each
// kind.
func SurveyMisread(s *plans.StagePlan, slip *Slip) Survey {
	v := Survey{World: Misreading}
	slips := []Slip{{0, 0}, {.05, 0}, {.10, 0}, {.20, 0}, {0, .01}, {0, .02}, {0, .05}, {.10, .02}}
	if s.Measure == plans.MeanPerLeaf {
		slips = []Slip{{0, 0}, {.05, 0}, {.10, 0}, {.20, 0}}
	}
	if slip != nil {
		slips = []Slip{*slip}
	}
	for _, x := range slips {
		v.Rows = append(v.Rows, Misreads(s, x))
	}
	search := plans.Range{Low: 0, High: mostMisread}
	v.Holds = append(v.Holds, holdAround(s, "overlooked", 0, search, func(x float64) (float64, float64) { return Slip{x, 0}.family(s).risks(s) }))
	if s.Measure == plans.ShareInfested {
		v.Holds = append(v.Holds, holdAround(s, "false_alarm", 0, search, func(x float64) (float64, float64) { return Slip{0, x}.family(s).risks(s) }))
	}
	return v
}

// shortShares are the shares of the planned plants from which stops are tried.
var shortShares = []float64{0.75, 0.5, 0.25}

// SurveyShortVisits returns how many visits SurveyShort simulates.
func SurveyShortVisits(o Options) int64 { return int64(len(shortShares)) * 3 * int64(o.Visits) }

// SurveyShort tries stops with fewer plants than planned.
func SurveyShort(ctx context.Context, s *plans.StagePlan, o Options) (Survey, error) {
	v := Survey{World: ShortStops}
	for _, least := range shortShares {
		row, err := Short(ctx, s, least, o)
		if err != nil {
			return v, err
		}
		v.Rows = append(v.Rows, row)
	}
	return v, nil
}

// homeRange returns the clumping values that the plan was made for.
func homeRange(s *plans.StagePlan) plans.Range {
	law := s.Law()
	r := law.Clumps(s.Threshold)
	if law.FollowsLevel() { // each level has a k of its own
		a, b := law.K(s.Lower).Low, law.K(s.Upper).Low
		r = plans.Range{Low: math.Min(a, b), High: math.Max(a, b)}
	}
	if math.IsInf(r.High, 1) {
		r.High = 100
	}
	r.Low = math.Min(r.Low, r.High)
	return r
}

func defaultClumps(s *plans.StagePlan) []float64 {
	home := homeRange(s)
	if s.Measure == plans.MeanPerLeaf {
		var ks []float64
		for _, f := range []float64{0.25, 0.5, 0.75, 1} {
			ks = append(ks, tidy(f*home.Low))
		}
		return append(ks, tidy(2*home.High), tidy(10*home.High))
	}
	return stepsAround(home, topRho)
}

// stepsAround returns values of a correlation from 0 to about twice a range; the
// ends of the range are among them.
func stepsAround(home plans.Range, most float64) []float64 {
	step := 0.05
	if home.High > 0.2 {
		step = 0.1
	}
	rhos := []float64{home.Low, home.High}
	for i := 0; ; i++ {
		x := tidy(float64(i) * step)
		if x > most || i > 6 && x > 2*home.High {
			break
		}
		rhos = append(rhos, x)
	}
	slices.Sort(rhos)
	return slices.Compact(rhos)
}

// defaultAlikes are the correlations of counts that a plan for means is tried with.
func defaultAlikes(s *plans.StagePlan) []float64 {
	return stepsAround(s.Law().CountRho, s.MostCountRho())
}

// tidy cuts a number to the digits a person would write.
func tidy(x float64) float64 {
	if x == 0 {
		return 0
	}
	scale := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*scale) / scale
}

const gridSteps = 9

func grid(over *plans.Range, otherwise []float64) []float64 {
	if over == nil {
		return otherwise
	}
	return over.Grid(gridSteps)
}

// holdAround finds how far the promise holds on both sides of home.
func holdAround(s *plans.StagePlan, name string, home float64, search plans.Range, risks func(float64) (needless, missed float64)) Hold {
	h := Hold{Name: name, Home: home, Searched: search, Unknown: !s.MissedKnown()}
	if h.Unknown {
		return h
	}
	type pair struct{ needless, missed float64 }
	known := map[float64]pair{}
	within := func(times float64) func(float64) bool {
		return func(x float64) bool {
			r, ok := known[x]
			if !ok {
				r.needless, r.missed = risks(x)
				known[x] = r
			}
			return r.needless <= times*s.NeedlessRisk+plans.Slack && r.missed <= times*s.MissedRisk+plans.Slack
		}
	}
	h.Low, _, h.OK = HoldsTo(home, search.Low, within(1))
	h.High, _, _ = HoldsTo(home, search.High, within(1))
	h.Doubled.Low, _, _ = HoldsTo(home, search.Low, within(2))
	h.Doubled.High, _, _ = HoldsTo(home, search.High, within(2))
	return h
}
