package size_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"stopwise/sampling"
	"stopwise/sampling/size"
)

// A refusal is a request that cannot be answered, and what its error must say.
type refusal struct {
	says string
	err  error
}

func wrongInput(err error) bool { _, ok := errors.AsType[*sampling.ValueError](err); return ok }
func outOfReach(err error) bool { _, ok := errors.AsType[*size.OutOfReachError](err); return ok }

func refused(t *testing.T, list []refusal) {
	t.Helper()
	for _, r := range list {
		switch {
		case r.err == nil:
			t.Errorf("accepted, want: %s", r.says)
		case !wrongInput(r.err) && !outOfReach(r.err):
			t.Errorf("neither wrong input nor out of reach: %T %v", r.err, r.err)
		case !strings.Contains(r.err.Error(), r.says):
			t.Errorf("got %q, want %q in it", r.err, r.says)
		case strings.Contains(r.err.Error(), "\n") || strings.HasSuffix(r.err.Error(), "."):
			t.Errorf("not one plain line: %q", r.err)
		}
	}
}

func TestClassifyRefuses(t *testing.T) {
	with := func(change func(*size.ClassifyRequest)) error {
		r := size.ClassifyRequest{Lower: .15, Upper: .3, NeedlessRisk: .1, MissedRisk: .1, PlantsPerStop: 20, Rho: .1}
		change(&r)
		_, err := size.Classify(r)
		return err
	}
	refused(t, []refusal{
		{"upper bound 10% is not above lower bound 15%", with(func(r *size.ClassifyRequest) { r.Upper = .1 })},
		{"upper bound 15% is not above lower bound 15%", with(func(r *size.ClassifyRequest) { r.Upper = .15 })},
		{"upper bound 130%, must be from 0% to 100%", with(func(r *size.ClassifyRequest) { r.Upper = 1.3 })},
		{"lower bound -1%", with(func(r *size.ClassifyRequest) { r.Lower = -.01 })},
		{"lower bound NaN%", with(func(r *size.ClassifyRequest) { r.Lower = math.NaN() })},
		{"needless-treatment risk 0% would take every plant of the field", with(func(r *size.ClassifyRequest) { r.NeedlessRisk = 0 })},
		{"missed-treatment risk 0% would take every plant of the field", with(func(r *size.ClassifyRequest) { r.MissedRisk = 0 })},
		{"missed-treatment risk 50%, must be above 0% and below 50%", with(func(r *size.ClassifyRequest) { r.MissedRisk = .5 })},
		{"needless-treatment risk NaN%", with(func(r *size.ClassifyRequest) { r.NeedlessRisk = math.NaN() })},
		{"0 plants per stop", with(func(r *size.ClassifyRequest) { r.PlantsPerStop = 0 })},
		{"rho 1, must be at least 0 and below 1", with(func(r *size.ClassifyRequest) { r.Rho = 1 })},
		{"at most -1 stops", with(func(r *size.ClassifyRequest) { r.MaxStops = -1 })},
		{"at least -1 stops", with(func(r *size.ClassifyRequest) { r.MinStops = -1 })},
		{"at least 9 and at most 8 stops", with(func(r *size.ClassifyRequest) { r.MinStops, r.MaxStops = 9, 8 })},
		{"tells the bounds apart", with(func(r *size.ClassifyRequest) { r.MaxStops = 7 })},
		{"tells the bounds apart", with(func(r *size.ClassifyRequest) { r.Upper = .15001 })},
		{"tells the bounds apart", with(func(r *size.ClassifyRequest) { r.Upper = math.Nextafter(.15, 1) })},
	})
}

func TestVisitRefuses(t *testing.T) {
	with := func(change func(*size.VisitRequest)) error {
		r := size.VisitRequest{Stops: 4, PlantsPerStop: 20, Rho: .1, Act: 20, NeedlessRisk: .1, MissedRisk: .1}
		change(&r)
		_, err := size.Visit(r)
		return err
	}
	refused(t, []refusal{
		{"0 stops, must be at least 1", with(func(r *size.VisitRequest) { r.Stops = 0 })},
		{"must be at most 100000 plants in all", with(func(r *size.VisitRequest) { r.Stops = 5001 })},
		{"0 plants per stop", with(func(r *size.VisitRequest) { r.PlantsPerStop = 0 })},
		{"200000 plants per stop", with(func(r *size.VisitRequest) { r.PlantsPerStop = 200000 })},
		{"rho -0.1", with(func(r *size.VisitRequest) { r.Rho = -.1 })},
		{"act number 81 with 80 plants, must be from 1 to 80", with(func(r *size.VisitRequest) { r.Act = 81 })},
		{"act number -1", with(func(r *size.VisitRequest) { r.Act = -1 })},
		{"both an act number 20 and an act share 25%", with(func(r *size.VisitRequest) { r.ActShare = .25 })},
		{"act share 2500%", with(func(r *size.VisitRequest) { r.Act, r.ActShare = 0, 25 })},
		{"no rule", with(func(r *size.VisitRequest) { r.Act = 0 })},
		{"upper bound 10% is not above lower bound 15%", with(func(r *size.VisitRequest) { r.Lower, r.Upper = .15, .1 })},
		{"missed-treatment risk 0%", with(func(r *size.VisitRequest) { r.MissedRisk = 0 })},
		{"share 120%", with(func(r *size.VisitRequest) { r.At = []float64{1.2} })},
	})
}

func TestDetectRefuses(t *testing.T) {
	with := func(change func(*size.DetectRequest)) error {
		r := size.DetectRequest{Prevalence: .05, Confidence: .95, PlantsPerStop: 20}
		change(&r)
		_, err := size.Detect(r)
		return err
	}
	refused(t, []refusal{
		{"prevalence 0%, must be above 0% and at most 100%", with(func(r *size.DetectRequest) { r.Prevalence = 0 })},
		{"prevalence 500%", with(func(r *size.DetectRequest) { r.Prevalence = 5 })},
		{"confidence 100%, must be above 0% and below 100%", with(func(r *size.DetectRequest) { r.Confidence = 1 })},
		{"confidence NaN%", with(func(r *size.DetectRequest) { r.Confidence = math.NaN() })},
		{"0 plants per stop", with(func(r *size.DetectRequest) { r.PlantsPerStop = 0 })},
		{"rho 1", with(func(r *size.DetectRequest) { r.Rho = 1 })},
		{"chance 120% to see an infested plant", with(func(r *size.DetectRequest) { r.Seen = 1.2 })},
		{"-1 plants in the field", with(func(r *size.DetectRequest) { r.FieldPlants = -1 })},
		{"must be at most 10000000", with(func(r *size.DetectRequest) { r.FieldPlants = 20_000_000 })},
		{"a finite field has no exact answer with clumping", with(func(r *size.DetectRequest) { r.FieldPlants, r.Rho = 500, .1 })},
		{"5% of 10 plants is less than one plant, must be at least 10%", with(func(r *size.DetectRequest) { r.FieldPlants = 10 })},
		{"even all 100 plants reach only 40.951%", with(func(r *size.DetectRequest) { r.FieldPlants, r.Seen = 100, .1 })},
		{"prevalence 1e-08% takes about", with(func(r *size.DetectRequest) { r.Prevalence = 1e-10 })},
	})
	none := func(change func(*size.NoneFoundRequest)) error {
		r := size.NoneFoundRequest{Stops: 4, PlantsPerStop: 20, Confidence: .95}
		change(&r)
		_, err := size.NoneFound(r)
		return err
	}
	refused(t, []refusal{
		{"0 stops", none(func(r *size.NoneFoundRequest) { r.Stops = 0 })},
		{"confidence 0%", none(func(r *size.NoneFoundRequest) { r.Confidence = 0 })},
		{"80 plants examined in a field of 79", none(func(r *size.NoneFoundRequest) { r.FieldPlants = 79 })},
		{"share -5%", none(func(r *size.NoneFoundRequest) { r.At = []float64{-.05} })},
		{"chance -10%", none(func(r *size.NoneFoundRequest) { r.Seen = -.1 })},
	})
}

func TestProportionRefuses(t *testing.T) {
	with := func(change func(*size.ProportionRequest)) error {
		r := size.ProportionRequest{Share: .2, HalfWidth: .05, Confidence: .95, PlantsPerStop: 20, Rho: .1}
		change(&r)
		_, err := size.Proportion(r)
		return err
	}
	refused(t, []refusal{
		{"expected share 0%, must be above 0% and below 100%", with(func(r *size.ProportionRequest) { r.Share = 0 })},
		{"half-width 0% would take every plant of the field", with(func(r *size.ProportionRequest) { r.HalfWidth = 0 })},
		{"half-width 500%", with(func(r *size.ProportionRequest) { r.HalfWidth = 5 })},
		{"half-width NaN%", with(func(r *size.ProportionRequest) { r.HalfWidth = math.NaN() })},
		{"both a half-width 5% and a relative precision 25%", with(func(r *size.ProportionRequest) { r.Relative = .25 })},
		{"relative precision 200%", with(func(r *size.ProportionRequest) { r.HalfWidth, r.Relative = 0, 2 })},
		{"is a half-width of 72%, must be below 50%", with(func(r *size.ProportionRequest) { r.Share, r.HalfWidth, r.Relative = .9, 0, .8 })},
		{"half-width 0.1% is finer than one plant in a field of 100 plants, must be at least 0.5%", with(func(r *size.ProportionRequest) { r.HalfWidth, r.FieldPlants = .001, 100 })},
		{"a field of 10 plants, must hold at least one stop of 20", with(func(r *size.ProportionRequest) { r.FieldPlants = 10 })},
		{"confidence 9500%", with(func(r *size.ProportionRequest) { r.Confidence = 95 })},
		{"takes 7.13e+14 plants", with(func(r *size.ProportionRequest) { r.HalfWidth = 5e-8 })},
		{"interval method", with(func(r *size.ProportionRequest) { r.Interval = sampling.Method(99) })},
	})
	_, err := size.ProportionRequest{Share: .2, Confidence: .95, PlantsPerStop: 20}.At(0)
	refused(t, []refusal{{"0 stops", err}})
}

func TestMeanRefuses(t *testing.T) {
	with := func(change func(*size.MeanRequest)) error {
		r := size.MeanRequest{Mean: 2, Precision: .2, Convention: size.HalfWidth, Confidence: .95, Law: sampling.CommonK{K: 1}, UnitsPerStop: 20}
		change(&r)
		_, err := size.Mean(r)
		return err
	}
	refused(t, []refusal{
		{"expected mean 0, must be above 0", with(func(r *size.MeanRequest) { r.Mean = 0 })},
		{"no precision convention, must be half-width", with(func(r *size.MeanRequest) { r.Convention = 0 })},
		{"precision 0% would take every unit", with(func(r *size.MeanRequest) { r.Precision = 0 })},
		{"precision 2000%", with(func(r *size.MeanRequest) { r.Precision = 20 })},
		{"0 units per stop", with(func(r *size.MeanRequest) { r.UnitsPerStop = 0 })},
		{"confidence 95% with the standard-error convention", with(func(r *size.MeanRequest) { r.Convention = size.StandardError })},
		{"no confidence for the half-width convention", with(func(r *size.MeanRequest) { r.Confidence = 0 })},
		{"confidence 100%", with(func(r *size.MeanRequest) { r.Confidence = 1 })},
		{"no variance, must be", with(func(r *size.MeanRequest) { r.Law = nil })},
		{"both a variance law", with(func(r *size.MeanRequest) { r.Components = &size.Components{Between: 1, Within: 1} })},
		{"k 0, must be above 0", with(func(r *size.MeanRequest) { r.Law = sampling.CommonK{} })},
		{"rho 1", with(func(r *size.MeanRequest) { r.CountRho = 1 })},
		{"correlation of counts 0.9 at mean 2 and k 1", with(func(r *size.MeanRequest) { r.Mean, r.Law, r.CountRho = 2, sampling.CommonK{K: 1}, .9 })},
		{"variance components -1 between", with(func(r *size.MeanRequest) { r.Law, r.Components = nil, &size.Components{Between: -1, Within: 1} })},
		{"variance components 0 between and 0 within", with(func(r *size.MeanRequest) { r.Law, r.Components = nil, &size.Components{} })},
		{"correlation of counts 0.1 with variance components", with(func(r *size.MeanRequest) { r.CountRho, r.Law, r.Components = .1, nil, &size.Components{Within: 1} })},
		{"gives variance -0.4 at mean 2", with(func(r *size.MeanRequest) { r.Law = sampling.Iwao{A: 0, B: .4} })},
		{"units, must be loose enough", with(func(r *size.MeanRequest) { r.Precision = 1e-7 })},
	})
}

func TestAllocateRefuses(t *testing.T) {
	with := func(change func(*size.AllocateRequest)) error {
		r := size.AllocateRequest{WalkMinutes: 3, PlantMinutes: .25, Rho: .1, Classify: &size.ClassifyGoal{Lower: .15, Upper: .3, NeedlessRisk: .1, MissedRisk: .1}}
		change(&r)
		_, err := size.Allocate(r)
		return err
	}
	refused(t, []refusal{
		{"-1 minutes to walk", with(func(r *size.AllocateRequest) { r.WalkMinutes = -1 })},
		{"0 minutes per plant", with(func(r *size.AllocateRequest) { r.PlantMinutes = 0 })},
		{"-5 minutes for the visit", with(func(r *size.AllocateRequest) { r.BudgetMinutes = -5 })},
		{"at most 2000 plants per stop", with(func(r *size.AllocateRequest) { r.MaxPlantsPerStop = 2000 })},
		{"nothing to reach", with(func(r *size.AllocateRequest) { r.Classify = nil })},
		{"both bounds to tell apart and a half-width", with(func(r *size.AllocateRequest) { r.Estimate = &size.EstimateGoal{} })},
		{"0 plants per stop, must be from 1 to 100", with(func(r *size.AllocateRequest) { r.Show = []int{0} })},
		{"rho 2", with(func(r *size.AllocateRequest) { r.Rho = 2 })},
		{"-1 stops", with(func(r *size.AllocateRequest) { r.MinStops = -1 })},
		{"upper bound 10% is not above", with(func(r *size.AllocateRequest) { r.Classify.Upper = .1 })},
		{"tells the bounds apart", with(func(r *size.AllocateRequest) { r.Classify.Upper = .1501 })},
		{"expected share 0%", with(func(r *size.AllocateRequest) {
			r.Classify, r.Estimate = nil, &size.EstimateGoal{HalfWidth: .1, Confidence: .9}
		})},
		{"has this half-width", with(func(r *size.AllocateRequest) {
			r.Classify, r.Estimate = nil, &size.EstimateGoal{Share: .3, HalfWidth: .0001, Confidence: .9}
		})},
	})
}
