package trying

import (
	"cmp"
	"context"
	"slices"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

// compute runs everything that was asked for.
func (v *validation) compute(ctx context.Context, e shell.Env, worlds []string, r *validationResult) error {
	s := r.stage
	o := validate.Options{Visits: v.visits.Value, Seed: v.seed.Value}
	walk, err := v.walkOptions(e, s, o)
	if err != nil {
		return err
	}
	if slices.Contains(worlds, spaceWorld) {
		if err := walk.Ground.Check(); err != nil {
			return shell.UsageError("made fields: %w", err)
		}
		if err := v.patterned(s, walk); err != nil {
			return err
		}
	}
	var total int64
	if slices.Contains(worlds, validate.ShortStops) {
		total += validate.SurveyShortVisits(o)
	}
	if slices.Contains(worlds, spaceWorld) {
		total += int64(len(walk.Patterns)) * int64(o.Visits)
	}
	if r.data != nil {
		total += int64(len(r.data.split.Fields)) * int64(o.Visits)
	}
	progress := report.NewProgress(e.Err, "simulating", total)
	defer progress.Done()
	o.Progress = progress.Add
	walk.Progress = progress.Add
	rho, k, alike := given(v.rho), given(v.k), given(v.alike)
	like := rho // how alike the units of a stop are
	if s.Measure == plans.MeanPerLeaf {
		like = alike
	}
	for _, w := range worlds {
		if err := ctx.Err(); err != nil {
			return err
		}
		switch w {
		case validate.OtherRho:
			r.surveys = append(r.surveys, validate.SurveyClumping(s, rho))
		case validate.OtherK:
			r.surveys = append(r.surveys, validate.SurveyClumping(s, k))
		case validate.OtherAlike:
			r.surveys = append(r.surveys, validate.SurveyAlike(s, alike))
		case validate.Mixture:
			over := rho
			if s.Measure == plans.MeanPerLeaf {
				over = k
			}
			r.surveys = append(r.surveys, validate.SurveyMixture(s, over, alike))
		case validate.PatchesOnly:
			r.surveys = append(r.surveys, validate.SurveyPatches(s, like))
		case validate.Misreading:
			slip, err := v.slip(s)
			if err != nil {
				return err
			}
			r.surveys = append(r.surveys, validate.SurveyMisread(s, slip))
		case validate.ShortStops:
			short, err := validate.SurveyShort(ctx, s, o)
			if err != nil {
				return err
			}
			r.surveys = append(r.surveys, short)
		case spaceWorld:
			rows, err := validate.Walks(ctx, s, walk)
			if err != nil {
				return err
			}
			r.walks, r.walk = rows, walk
		}
	}
	if r.data == nil {
		return nil
	}
	fields, err := validate.Resample(ctx, s, r.data.split.Fields, o)
	if err != nil {
		return err
	}
	slices.SortStableFunc(fields, func(a, b validate.FieldResult) int { return cmp.Compare(a.Level, b.Level) })
	r.fields = fields
	return nil
}

func given(o *shell.Option[plans.Range]) *plans.Range {
	if !o.Set {
		return nil
	}
	return &o.Value
}

func (v *validation) slip(s *plans.StagePlan) (*validate.Slip, error) {
	if v.alarm.Set && s.Measure == plans.MeanPerLeaf {
		return nil, shell.UsageError("--false-alarm goes with a plan for the share infested; this one is for a mean per leaf")
	}
	if !v.overlooked.Set && !v.alarm.Set {
		return nil, nil
	}
	return &validate.Slip{Overlooked: v.overlooked.Value, FalseAlarm: v.alarm.Value}, nil
}

func (v *validation) walkOptions(e shell.Env, s *plans.StagePlan, o validate.Options) (validate.WalkOptions, error) {
	hectares := 40.0
	if c := s.Costs; c != nil && c.FieldHa > 0 {
		hectares = c.FieldHa
	}
	shell.Put(v.hectares, &hectares)
	w := validate.WalkOptions{Options: o, Patterns: validate.Patterns, Routes: validate.Routes, Speed: v.speed.Value,
		Ground: validate.GroundOf(hectares, v.spots.Value, v.spotRadius.Value)}
	if v.field.Set {
		if err := shell.Exclusive(v.field, v.hectares); err != nil {
			return w, err
		}
		f, err := shell.ReadField(e, v.field.Value)
		if err != nil {
			return w, err
		}
		w.Ground = validate.GroundIn(f, v.spots.Value, v.spotRadius.Value)
	}
	if v.patterns.Set {
		w.Patterns = shell.Typed[validate.Pattern](v.patterns.Value)
	}
	if v.routes.Set {
		w.Routes = shell.Typed[validate.Route](v.routes.Value)
	}
	w.Rho = validate.Likeness(s)
	if v.rho.Set {
		w.Rho = v.rho.Value.High
	}
	if v.alike.Set {
		w.Rho = v.alike.Value.High
	}
	if v.k.Set {
		w.K = v.k.Value.Low
	}
	return w, nil
}

// patterned refuses fields that would be the same whatever their pattern.
func (v *validation) patterned(s *plans.StagePlan, w validate.WalkOptions) error {
	if w.Rho > 0 || v.rho.Set || v.alike.Set || slices.Equal(w.Patterns, []validate.Pattern{validate.Uniform}) {
		return nil
	}
	flag, unit := "--rho 0.1", report.UnitsName(s.Stage)
	if s.Measure == plans.MeanPerLeaf {
		flag, unit = "--count-rho 0.15", "leaves"
	}
	return shell.UsageHint("say how alike they are in the made fields, such as "+flag,
		"the plan takes the %s of a stop as independent, and a pest that sits anywhere in particular makes them alike", unit)
}
