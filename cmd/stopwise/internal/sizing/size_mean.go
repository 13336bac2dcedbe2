package sizing

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/size"
)

type meanFlags struct {
	sizePrecisionFlags
	mean, between, within *shell.Option[float64]
	k, countRho           *shell.Option[plans.Range]
	taylor                *shell.Option[plans.Taylor]
	iwao                  *shell.Option[plans.Iwao]
	plants, leaves        *shell.Option[int]
	source                string // of the variance
}

func sizeMean() shell.Question {
	f := &meanFlags{
		sizePrecisionFlags: newPrecision(),
		mean:               shell.NewOption("mean", "`NUMBER` mean number of insects per leaf that is expected", shell.Positive),
		k:                  shell.KFlag(), taylor: shell.TaylorFlag(), iwao: shell.IwaoFlag(), countRho: shell.CountRhoFlag(),
		plants:  shell.PlantsPerStopFlag().WithDefault("20"),
		between: shell.NewOption("between", "`VARIANCE` variance between the means of stops, from a two-stage sample; with --within", shell.NotNegative),
		within:  shell.NewOption("within", "`VARIANCE` variance between the leaves of a stop; with --between", shell.NotNegative),
		leaves:  shell.NewOption("leaves", "`COUNT` leaves counted on each plant", shell.Whole(1, protocol.MaxLeaves)).WithDefault("1"),
	}
	f.confidence.WithoutValue("95%; none with the convention standard-error")
	f.countRho.WithoutValue("0, leaves of one stop no more alike than others, and the answer says what a correlation does to it")
	poisson := &cli.BoolFlag{Name: "poisson", Usage: "counts per leaf fall at random: variance = mean"}
	return shell.Question{
		Name:  "mean",
		Usage: "find the stops that estimate a mean per leaf to a wanted precision",
		Description: `Finds the stops that estimate the mean number of insects per leaf. How much counts vary is said by one of --k, --taylor, --iwao, --poisson, or --between and --within. Leaves of one stop are alike, which --count-rho says; of a range its upper end counts. Two conventions of precision are in use, and the one that is meant must be named.

$ stopwise size mean --mean 2 --precision 25% --precision-as half-width --k 0.8 --count-rho 0.1..0.2
$ stopwise size mean --mean 2 --precision 25% --precision-as standard-error --taylor 2.5,1.4 --count-rho 0.1`,
		Flags: []cli.Flag{f.mean, f.precision, f.as, f.confidence, f.k, f.taylor, f.iwao, poisson, f.between, f.within, f.countRho, f.plants, f.leaves},
		Answer: func(_ context.Context, c *cli.Context) (report.Output, error) {
			return f.find(c.Bool("poisson"))
		},
	}
}

func (f *meanFlags) find(poisson bool) (report.Output, error) {
	if err := shell.Required(f.mean, f.precision); err != nil {
		return report.Output{}, err
	}
	if err := f.check(); err != nil {
		return report.Output{}, err
	}
	r := size.MeanRequest{
		Mean: f.mean.Value, Precision: f.precision.Value, Convention: f.convention(), UnitsPerStop: f.plants.Value * f.leaves.Value,
	}
	if err := f.variance(&r, poisson); err != nil {
		return report.Output{}, err
	}
	if r.Convention == size.HalfWidth {
		r.Confidence = f.confidence.Value
	} else if f.confidence.Set {
		return report.Output{}, shell.UsageHint("leave it away, or write --precision-as half-width", "--confidence plays no part with --precision-as standard-error")
	}
	res, err := size.Mean(r)
	if err != nil {
		return report.Output{}, err
	}
	other, err := f.otherConvention(r)
	if err != nil {
		return report.Output{}, err
	}
	leaf := "a leaf, one on each plant"
	if n := f.leaves.Value; n > 1 {
		leaf = fmt.Sprintf("a leaf, %d on each plant; leaves of a plant are no more alike than leaves of a stop", n)
	}
	g := meanGrounds(res, f.source)
	g.assumptions = append([]string{"the unit that is counted is " + leaf}, g.assumptions...)
	g.defaults(f.plants)
	f.alikeSource(r, &g)
	if !f.countRho.Set && len(res.Alike.Rows) > 0 {
		g.warn("%s", f.leftOut(res))
	}
	return meanOutput(res, g, f.plants.Value, f.leaves.Value, other), nil
}

// alikeSource says where the correlation of counts comes from, if it is not the one
// given.
func (f *meanFlags) alikeSource(r size.MeanRequest, g *grounds) {
	given, taken := f.countRho.Value, "count_rho "+report.Constant(r.CountRho)
	switch {
	case !f.countRho.Set || r.UnitsPerStop == 1:
	case r.CountRho < given.High:
		g.take("%s is the largest that counts of this mean and k can have, --count-rho %s being beyond it", taken, given)
	case !given.Single():
		g.take("%s is the upper end of the range %s given with --count-rho, which is what counts", taken, given)
	}
}

// leftOut says which correlation of the counts of a stop the answer does not allow
// for.
func (f *meanFlags) leftOut(res size.MeanResult) string {
	s := "no --count-rho is given: leaves of one stop are taken as independent, which they are not where colonies sit in spots"
	if res.SpentAt < sampling.MaxCountRho(res.Request.Mean, sampling.KAt(res.Request.Law, res.Request.Mean)) {
		s += fmt.Sprintf("; a correlation above %s between the counts of a stop makes the estimate less precise than wanted", report.AtLeast(res.SpentAt, 2))
	}
	return s + "; fit tells it from counts on leaves, or give --between and --within"
}

// variance puts what the flags say about the counts into the request.
func (f *meanFlags) variance(r *size.MeanRequest, poisson bool) error {
	given := []shell.AnOption{f.k, f.taylor, f.iwao, f.between}
	if !f.between.Set && f.within.Set {
		given[3] = f.within
	}
	if err := shell.Exclusive(given...); err != nil {
		return err
	}
	if poisson {
		if err := shell.NoneOf("and --poisson cannot be used together; give one of them", given...); err != nil {
			return err
		}
	}
	switch {
	case f.between.Set || f.within.Set:
		if err := shell.Required(f.between, f.within); err != nil {
			return err
		}
		if f.countRho.Set {
			return shell.UsageError("--count-rho and --between cannot be used together; the variances say it themselves")
		}
		r.Components = &size.Components{Between: f.between.Value, Within: f.within.Value}
		f.source = "as given with --between and --within"
		return nil
	case poisson && f.countRho.Value.High > 0:
		return shell.UsageHint("leave one of them away", "--count-rho %s and --poisson cannot be used together: insects that fall at random make no stop alike", f.countRho.Value)
	}
	law := protocol.Law{CountRho: f.countRho.Value}
	switch {
	case f.k.Set:
		law.Kind, law.Range, f.source = protocol.KLaw, f.k.Value, "as given with --k"
		if !f.k.Value.Single() {
			f.source = fmt.Sprintf("the clumped end of the range %s given with --k, which is what counts", f.k.Value)
		}
	case f.taylor.Set:
		law.Kind, law.A, law.B, f.source = protocol.TaylorLaw, f.taylor.Value.A, f.taylor.Value.B, "as given with --taylor"
	case f.iwao.Set:
		law.Kind, law.A, law.B, f.source = protocol.IwaoLaw, f.iwao.Value.A, f.iwao.Value.B, "as given with --iwao"
	case poisson:
		law.Kind, f.source = protocol.PoissonLaw, "as given with --poisson"
	default:
		return shell.UsageHint("give --k, --taylor, --iwao, --poisson, or --between and --within", "it is not said how much the counts vary")
	}
	r.Law = law.VarianceLaw()
	if r.UnitsPerStop > 1 {
		r.CountRho = law.Clumped(r.Mean).CountRho
	}
	return nil
}

// otherConvention returns the answer to the same D meant the other way.
func (f *meanFlags) otherConvention(r size.MeanRequest) (size.MeanResult, error) {
	if r.Convention == size.HalfWidth {
		r.Convention, r.Confidence = size.StandardError, 0
	} else {
		r.Convention, r.Confidence = size.HalfWidth, f.confidence.Value
	}
	return size.Mean(r)
}

type meanAchieved struct {
	Precision     float64  `json:"precision"`
	StandardError float64  `json:"standard_error"` // over the mean
	Student       *float64 `json:"student_precision"`
	Within        *float64 `json:"p_within_precision"`
}

type meanAsked struct {
	Mean       float64  `json:"mean"`
	Precision  float64  `json:"precision"`
	As         string   `json:"precision_as"`
	Confidence *float64 `json:"confidence"`
	Variance   float64  `json:"variance_per_leaf"`
	CountRho   float64  `json:"count_rho"`
}

type meanOther struct {
	As     string `json:"precision_as"`
	Stops  int    `json:"stops"`
	Plants int    `json:"plants"`
}

type meanJSON struct {
	sizeHead
	LeavesPerPlant int       `json:"leaves_per_plant"`
	Leaves         int       `json:"leaves"`
	Unrounded      float64   `json:"leaves_before_rounding"`
	DesignEffect   float64   `json:"design_effect"`
	Other          meanOther `json:"other_convention"`
	// SpentAt is the correlation of counts up to which the precision is reached; null
	// where none plays a part.
	SpentAt *float64         `json:"precise_up_to_count_rho"`
	Alike   *sensitivityJSON `json:"sensitivity_to_count_rho"`
	sizeTail
}

// meanLine is the answer as CSV: on one line, the request beside the result, where JSON
// keeps them apart.
type meanLine struct {
	Stops         int      `json:"stops"`
	Plants        int      `json:"plants"`
	PlantsPerStop int      `json:"plants_per_stop"`
	Leaves        int      `json:"leaves"`
	Mean          float64  `json:"mean"`
	As            string   `json:"precision_as"`
	Precision     float64  `json:"precision"`
	Confidence    *float64 `json:"confidence"`
	Variance      float64  `json:"variance_per_leaf"`
	CountRho      float64  `json:"count_rho"`
	Unrounded     float64  `json:"leaves_before_rounding"`
	Reached       float64  `json:"achieved_precision"`
	StandardError float64  `json:"standard_error"`
}

func meanOutput(res size.MeanResult, g grounds, plants, leaves int, other size.MeanResult) report.Output {
	r := res.Request
	asked := meanAsked{r.Mean, r.Precision, r.Convention.String(), nil, res.UnitVariance, r.CountRho}
	if r.Convention == size.HalfWidth {
		asked.Confidence = &r.Confidence
	}
	j := meanJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size mean", Version: 1},
			Stops:    res.Stops, Plants: res.Stops * plants, PlantsPerStop: plants,
			Achieved:  meanAchieved{res.Reached, res.ReachedStandardError, report.Finite(res.ReachedStudent), report.Finite(res.Within)},
			Requested: asked,
		},
		LeavesPerPlant: leaves, Leaves: res.Units, Unrounded: res.Unrounded, DesignEffect: res.DesignEffect,
		Other:    meanOther{other.Request.Convention.String(), other.Stops, other.Stops * plants},
		SpentAt:  report.Finite(res.SpentAt),
		Alike:    meanSensitivityJSON(res.Alike, plants),
		sizeTail: g.tail(meanSensitivityJSON(res.Sensitivity, plants)),
	}
	return report.Output{Doc: meanDocument(res, g, plants, other), Records: report.RecordsOf([]meanLine{{
		res.Stops, res.Stops * plants, plants, res.Units, r.Mean, asked.As, r.Precision, asked.Confidence, res.UnitVariance, r.CountRho, res.Unrounded, res.Reached, res.ReachedStandardError,
	}}), JSON: j}
}

func meanSensitivityJSON(s size.Sensitivity, plants int) *sensitivityJSON {
	return sensitivityOf(s, func(r size.SensitivityRow) int { return r.Stops * plants }, func(r size.SensitivityRow) any {
		return struct {
			Precision float64 `json:"precision"`
		}{r.Reached}
	})
}

func meanDocument(res size.MeanResult, g grounds, plants int, other size.MeanResult) *report.Document {
	r := res.Request
	d := &report.Document{}
	d.Heading(fmt.Sprintf("Stops that estimate a mean of %s per leaf", report.Constant(r.Mean)))
	d.Para("%s, %s in all. %s (wanted %s).", walkThese(res.Stops, plants, res.Stops*plants), report.Count(res.Units, "leaf", "leaves"),
		sizePrecisionSentence(r, res.Reached), report.Share(r.Precision))
	d.Para("Before rounding up to whole stops that is %s leaves. Had %s meant %s, it would be %s.", notWhole(res.Unrounded),
		report.Share(r.Precision), conventionWords(other.Request), notWhole(other.Unrounded))
	if report.Finite(res.Within) != nil {
		d.Para("The exact chance that the estimate falls within %s of the true mean is %s.", report.Share(r.Precision), report.Percent(res.Within))
	}
	for _, s := range []size.Sensitivity{res.Sensitivity, res.Alike} {
		if len(s.Rows) > 0 {
			d.Table(meanSensitivity(res, s, plants))
		}
	}
	g.tell(d)
	return d
}

// notWhole returns a number before it is rounded up: "107.6".
func notWhole(x float64) string {
	return strings.TrimSuffix(report.Decimals(x, 1), ".0")
}

func sizePrecisionSentence(r size.MeanRequest, reached float64) string {
	if r.Convention == size.StandardError {
		return fmt.Sprintf("The standard error is then %s of the mean", report.Percent(reached))
	}
	return fmt.Sprintf("The half-width of the %s confidence interval is then %s of the mean", report.Share(r.Confidence), report.Percent(reached))
}

func conventionWords(r size.MeanRequest) string {
	if r.Convention == size.StandardError {
		return "the standard error"
	}
	return fmt.Sprintf("the half-width at %s confidence", report.Share(r.Confidence))
}

func meanSensitivity(res size.MeanResult, s size.Sensitivity, plants int) *report.Table {
	t := report.NewTable(fmt.Sprintf("If the counts are more or less clumped than taken here (%s):", meanConstants[s.Of]),
		">"+s.Of, ">stops needed", ">plants",
		fmt.Sprintf(">%s with %s", strings.ReplaceAll(res.Request.Convention.String(), "standard-", "standard "), report.Count(res.Stops, "stop", "stops")),
		"")
	for _, s := range s.Rows {
		stops, n := neededStops(s.Stops, s.Stops*plants)
		value := report.Constant(s.Value)
		if math.IsInf(s.Value, 1) {
			value = "Poisson"
		}
		t.Add(value, stops, n, report.Percent(s.Reached), takenHere(s.Assumed))
	}
	return t
}

// meanConstants say in words what a constant does.
var meanConstants = map[string]string{
	"k":                      "the smaller k, the more clumped",
	"b":                      "the larger Taylor's b, the more the variance grows with the mean",
	"B":                      "the larger Iwao's B, the more clumped",
	"count_rho":              "the correlation of two counts at one stop",
	"variance between stops": "the larger, the less further leaves at a stop help",
}
