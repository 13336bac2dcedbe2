package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling"
	"stopwise/sampling/size"
)

type meanFlags struct {
	perStop
	sizePrecisionFlags
	mean, between, within *option[float64]
	k                     *option[plans.Range]
	taylor                *option[plans.Taylor]
	iwao                  *option[plans.Iwao]
	leaves                *option[int]
}

func sizeMean() sizeQuestion {
	f := &meanFlags{
		perStop: newPerStop(), sizePrecisionFlags: newPrecision(),
		mean: newOption("mean", "`NUMBER` mean number of insects per leaf that is expected", positive),
		k:    kFlag(), taylor: taylorFlag(),
		iwao:    iwaoFlag(),
		between: newOption("between", "`VARIANCE` variance between the means of stops, from a two-stage sample; with --within", notNegative),
		within:  newOption("within", "`VARIANCE` variance between the leaves of a stop; with --between", notNegative),
		leaves:  newOption("leaves", "`COUNT` leaves counted on each plant", whole(1, protocol.MaxLeaves)).withDefault("1"),
	}
	f.confidence.withoutValue("95%; none with the convention standard-error")
	f.rho.withoutValue("0: leaves of one stop no more alike than others")
	poisson := &cli.BoolFlag{Name: "poisson", Usage: "counts per leaf fall at random: variance = mean"}
	return sizeQuestion{
		name:  "mean",
		usage: "find the stops that estimate a mean per leaf to a wanted precision",
		description: `Finds the stops that estimate the mean number of insects per leaf. How much counts vary is said by one of --k, --taylor, --iwao, --poisson, or --between and --within. Two conventions of precision are in use, and the one that is meant must be named.

$ stopwise size mean --mean 2 --precision 25% --precision-as half-width --k 0.8
$ stopwise size mean --mean 2 --precision 25% --precision-as standard-error --taylor 2.5,1.4`,
		flags: []cli.Flag{f.mean, f.precision, f.as, f.confidence, f.k, f.taylor, f.iwao, poisson, f.between, f.within, f.plants, f.leaves, f.rho},
		answer: func(c *cli.Context) (report.Output, error) {
			return f.find(c.Bool("poisson"))
		},
	}
}

func (f *meanFlags) find(poisson bool) (report.Output, error) {
	if err := required(f.mean, f.precision); err != nil {
		return report.Output{}, err
	}
	if err := f.check(); err != nil {
		return report.Output{}, err
	}
	r := size.MeanRequest{
		Mean: f.mean.value, Precision: f.precision.value, Convention: f.convention(), UnitsPerStop: f.plants.value * f.leaves.value,
	}
	if err := f.variance(&r, poisson); err != nil {
		return report.Output{}, err
	}
	if r.Convention == size.HalfWidth {
		r.Confidence = f.confidence.value
	} else if f.confidence.set {
		return report.Output{}, usageHint("leave it away, or write --precision-as half-width", "--confidence plays no part with --precision-as standard-error")
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
	if n := f.leaves.value; n > 1 {
		leaf = fmt.Sprintf("a leaf, %d on each plant; leaves of a plant are no more alike than leaves of a stop", n)
	}
	res.Assumptions = withDefaults(append([]string{"the unit that is counted is " + leaf}, res.Assumptions...), f.plants)
	if f.rho.set {
		if rho, source, err := f.clumping(); err == nil {
			res.Assumptions = append(res.Assumptions, fmt.Sprintf("rho %s is %s", short(rho), source))
		}
	}
	if !f.rho.set && r.Components == nil && r.UnitsPerStop > 1 {
		res.Warnings = append(res.Warnings, "no --rho is given: where colonies sit in spots, leaves of one stop are alike and more stops are needed than this; give --rho, or --between and --within")
	}
	return meanOutput(res, f.plants.value, f.leaves.value, other), nil
}

// variance puts what the flags say about the counts into the request.
func (f *meanFlags) variance(r *size.MeanRequest, poisson bool) error {
	given := []anOption{f.k, f.taylor, f.iwao, f.between}
	if !f.between.set && f.within.set {
		given[3] = f.within
	}
	if err := exclusive(given...); err != nil {
		return err
	}
	if poisson {
		for _, o := range given {
			if name, _, set := o.given(); set {
				return usageError("%s and --poisson cannot be used together; give one of them", name)
			}
		}
	}
	switch {
	case f.between.set || f.within.set:
		if err := required(f.between, f.within); err != nil {
			return err
		}
		if f.rho.set {
			return usageError("--rho and --between cannot be used together; the variances say it themselves")
		}
		r.Components = &size.Components{Between: f.between.value, Within: f.within.value}
		r.Source = "as given with --between and --within"
		return nil
	case f.k.set:
		r.Law, r.Source = sampling.CommonK{K: f.k.value.Low}, "as given with --k"
		if !f.k.value.Single() {
			r.Source = fmt.Sprintf("the clumped end of the range %s given with --k, which is what counts", f.k.value)
		}
	case f.taylor.set:
		r.Law, r.Source = f.taylor.value, "as given with --taylor"
	case f.iwao.set:
		r.Law, r.Source = f.iwao.value, "as given with --iwao"
	case poisson:
		r.Law, r.Source = sampling.CommonK{K: math.Inf(1)}, "as given with --poisson"
	default:
		return usageHint("give --k, --taylor, --iwao, --poisson, or --between and --within", "it is not said how much the counts vary")
	}
	r.Rho = f.rho.value.High
	return nil
}

// otherConvention returns the answer to the same D meant the other way.
func (f *meanFlags) otherConvention(r size.MeanRequest) (size.MeanResult, error) {
	if r.Convention == size.HalfWidth {
		r.Convention, r.Confidence = size.StandardError, 0
	} else {
		r.Convention, r.Confidence = size.HalfWidth, f.confidence.value
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
	Rho        float64  `json:"rho"`
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
	sizeTail
}

type meanRow struct {
	Value    *float64 `json:"value"` // null is infinite: Poisson
	Assumed  bool     `json:"assumed"`
	Stops    *int     `json:"stops"`
	Plants   *int     `json:"plants"`
	Achieved struct {
		Precision float64 `json:"precision"`
	} `json:"achieved"`
}

func meanOutput(res size.MeanResult, plants, leaves int, other size.MeanResult) report.Output {
	r := res.Request
	asked := meanAsked{r.Mean, r.Precision, r.Convention.String(), nil, res.UnitVariance, r.Rho}
	if r.Convention == size.HalfWidth {
		asked.Confidence = &r.Confidence
	}
	j := meanJSON{
		sizeHead: sizeHead{
			Envelope: report.Envelope{Kind: "stopwise size mean", Version: 1},
			Stops:    res.Stops, Plants: res.Stops * plants, PlantsPerStop: plants,
			Achieved:  meanAchieved{res.Reached, res.ReachedStandardError, known(res.ReachedStudent), known(res.Within)},
			Requested: asked,
		},
		LeavesPerPlant: leaves, Leaves: res.Units, Unrounded: res.Unrounded, DesignEffect: res.DesignEffect,
		Other:    meanOther{other.Request.Convention.String(), other.Stops, other.Stops * plants},
		sizeTail: sizeTail{Assumptions: res.Assumptions, Warnings: append([]string{}, res.Warnings...)},
	}
	if len(res.Sensitivity.Rows) > 0 {
		j.Sensitivity = &sensitivityJSON{Of: res.Sensitivity.Of}
	}
	for _, s := range res.Sensitivity.Rows {
		row := meanRow{Value: known(s.Value), Assumed: s.Assumed, Stops: orNull(s.Stops, 0), Plants: orNull(s.Stops*plants, 0)}
		row.Achieved.Precision = s.Reached
		j.Sensitivity.Rows = append(j.Sensitivity.Rows, row)
	}
	records := report.NewRecords("stops", "plants", "plants_per_stop", "leaves", "mean", "precision_as", "precision", "confidence", "variance_per_leaf", "rho", "leaves_before_rounding", "achieved_precision", "standard_error")
	records.Add(res.Stops, res.Stops*plants, plants, res.Units, r.Mean, r.Convention.String(), r.Precision, asked.Confidence, res.UnitVariance, r.Rho, res.Unrounded, res.Reached, res.ReachedStandardError)
	return report.Output{Doc: meanDocument(res, plants, other), Records: records, JSON: j}
}

func meanDocument(res size.MeanResult, plants int, other size.MeanResult) *report.Document {
	r := res.Request
	d := &report.Document{}
	d.Heading(fmt.Sprintf("Stops that estimate a mean of %s per leaf", short(r.Mean)))
	d.Para("%s, %s in all. %s (wanted %s).", walkThese(res.Stops, plants, res.Stops*plants), report.Count(res.Units, "leaf", "leaves"),
		sizePrecisionSentence(r, res.Reached), report.Share(r.Precision))
	d.Para("Before rounding up to whole stops that is %s leaves. Had %s meant %s, it would be %s.", notWhole(res.Unrounded),
		report.Share(r.Precision), conventionWords(other.Request), notWhole(other.Unrounded))
	if known(res.Within) != nil {
		d.Para("The exact chance that the estimate falls within %s of the true mean is %s.", report.Share(r.Precision), report.Percent(res.Within))
	}
	if len(res.Sensitivity.Rows) > 0 {
		d.Table(meanSensitivity(res, plants))
	}
	addGrounds(d, res.Assumptions, res.Warnings)
	return d
}

// notWhole returns a number before it is rounded up: "107.6".
func notWhole(x float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(x, 'f', 1, 64), ".0")
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

func meanSensitivity(res size.MeanResult, plants int) *report.Table {
	t := &report.Table{
		Caption: fmt.Sprintf("If the counts are more or less clumped than taken here (%s):", meanConstants[res.Sensitivity.Of]),
		Columns: []report.Column{
			{Head: res.Sensitivity.Of, Key: "value", Right: true}, {Head: "stops needed", Key: "stops", Right: true}, {Head: "plants", Key: "plants", Right: true},
			{Head: fmt.Sprintf("%s with %s", strings.ReplaceAll(res.Request.Convention.String(), "standard-", "standard "), report.Count(res.Stops, "stop", "stops")), Key: "precision", Right: true}, {Head: "", Key: "assumed"},
		}}
	for _, s := range res.Sensitivity.Rows {
		stops, n := neededStops(s.Stops, s.Stops*plants)
		value := short(s.Value)
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
	"variance between stops": "the larger, the less further leaves at a stop help",
}
