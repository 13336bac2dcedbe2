package shell

import "stopwise/plans"

// LastFlag returns the flag that says what earlier visits found in the field, which
// chooses among the tables of a stage.
func LastFlag() *Option[string] {
	return ChoiceFlag("last", "`WHAT` earlier visits found in the field, for a plan with tables by that: none (ever), found (at any), or little or more (at the last one)",
		string(plans.LastNone), string(plans.LastFound), string(plans.LastLittle), string(plans.LastMore)).WithoutValue("plans with one table need none")
}

// TableFor returns the plan of the visit of a field in which earlier visits found what
// the flag says.
func TableFor(s *plans.StagePlan, last *Option[string]) (*plans.StagePlan, error) {
	p, err := s.OfLast(plans.Last(last.Value))
	switch {
	case err == nil:
		return p, nil
	case last.Set:
		return nil, UsageError("--last: %w", err)
	}
	return nil, UsageHint("say which with --last", "%w", err)
}

// TablesFor returns the plans of the tables of stages: those of the flag, or all.
func TablesFor(stages []*plans.StagePlan, last *Option[string]) ([]*plans.StagePlan, error) {
	var out []*plans.StagePlan
	for _, s := range stages {
		if !last.Set {
			out = append(out, s.Tables()...)
			continue
		}
		p, err := TableFor(s, last)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}
