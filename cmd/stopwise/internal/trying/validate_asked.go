package trying

import (
	"slices"

	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/validate"
)

// worlds returns what to try.
func (v *validation) worlds(s *plans.StagePlan) ([]string, error) {
	if v.simulate.Set {
		for _, w := range v.simulate.Value {
			if err := worldFits(s, w); err != nil {
				return nil, err
			}
		}
		return v.simulate.Value, nil
	}
	var implied []string
	if shell.AnySet(v.patterns, v.routes, v.field, v.hectares, v.spots, v.spotRadius, v.speed, v.plot) {
		implied = append(implied, spaceWorld)
	}
	if shell.AnySet(v.overlooked, v.alarm) {
		implied = append(implied, validate.Misreading)
	}
	if len(implied) > 0 || v.data.Set {
		for _, w := range implied {
			if err := worldFits(s, w); err != nil {
				return nil, err
			}
		}
		return implied, nil
	}
	switch {
	case s.Measure == plans.MeanPerLeaf && s.MostCountRho() == 0:
		return []string{validate.OtherK, validate.Mixture, validate.Misreading, validate.ShortStops}, nil
	case s.Measure == plans.MeanPerLeaf:
		return []string{validate.OtherK, validate.OtherAlike, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops}, nil
	}
	return []string{validate.OtherRho, validate.Mixture, validate.PatchesOnly, validate.Misreading, validate.ShortStops}, nil
}

// asked reports whether the user named what to try.
func (v *validation) asked() bool {
	return v.simulate.Set || v.data.Set || shell.AnySet(v.patterns, v.routes, v.hectares, v.spots, v.spotRadius, v.speed, v.plot, v.overlooked, v.alarm)
}

// worldFits refuses worlds that say nothing of a plan's measure.
func worldFits(s *plans.StagePlan, world string) error {
	counts := s.Measure == plans.MeanPerLeaf
	switch {
	case counts && world == validate.OtherRho:
		return shell.UsageError("--simulate rho goes with a plan for the share infested; this one is for a mean per leaf, use k or count-rho")
	case !counts && (world == validate.OtherK || world == validate.OtherAlike):
		return shell.UsageError("--simulate %s goes with a plan for a mean per leaf; this one is for the share infested, use rho", world)
	}
	return nil
}

// consistent refuses flags that would do nothing.
func (v *validation) consistent(worlds []string, independent bool) error {
	for _, need := range []struct {
		flag  shell.AnOption
		with  []string
		other shell.AnOption // that serves as well
	}{
		{v.rho, []string{validate.OtherRho, validate.Mixture, validate.PatchesOnly, spaceWorld}, nil},
		{v.k, []string{validate.OtherK, validate.Mixture, spaceWorld}, nil},
		{v.alike, []string{validate.OtherAlike, validate.Mixture, validate.PatchesOnly, spaceWorld}, nil},
		{v.overlooked, []string{validate.Misreading}, nil},
		{v.alarm, []string{validate.Misreading}, nil},
		{v.patterns, []string{spaceWorld}, nil}, {v.routes, []string{spaceWorld}, nil}, {v.field, []string{spaceWorld}, nil}, {v.hectares, []string{spaceWorld}, nil},
		{v.spots, []string{spaceWorld}, nil}, {v.spotRadius, []string{spaceWorld}, nil}, {v.speed, []string{spaceWorld}, nil},
		{v.plot, []string{spaceWorld}, nil},
		{v.visits, []string{validate.ShortStops, spaceWorld}, v.data},
		{v.seed, []string{validate.ShortStops, spaceWorld}, v.data},
	} {
		name, _, set := need.flag.Given()
		if !set || overlap(worlds, need.with) || need.other != nil && shell.AnySet(need.other) {
			continue
		}
		with := "--simulate " + shell.Either(need.with)
		if need.other != nil {
			other, _, _ := need.other.Given()
			with += ", or " + other
		}
		return shell.UsageError("%s does nothing here; it goes with %s", name, with)
	}
	switch {
	case !v.data.Set && v.fitted.Set:
		return shell.UsageError("--fitted-on goes with --data")
	case !v.data.Set && independent:
		return shell.UsageError("--all-fields-independent goes with --data")
	case v.fitted.Set && independent:
		return shell.UsageError("--fitted-on and --all-fields-independent cannot be used together; give one of them")
	case v.data.Set && !v.fitted.Set && !independent:
		return shell.UsageHint("name the fields that the plan's constants were fitted to with --fitted-on FIELD,... (they are left out), "+
			"or say with --all-fields-independent that there are none", "a plan does well on the data that made it")
	}
	return nil
}

func overlap(a, b []string) bool {
	return slices.ContainsFunc(a, func(x string) bool { return slices.Contains(b, x) })
}
