package validate

import (
	"slices"
	"strings"

	"stopwise/sampling"
	"stopwise/sampling/pilot"
)

// A Split parts the fields of a table into those that may try a plan and those
// that may not.
type Split struct {
	Fields     []pilot.Field // to validate with
	Fitted     []string      // left out: the plan's constants were fitted to them
	OtherStage []string      // left out: seen at another growth stage
}

// SplitFields parts fields. fitted names the fields that constants were fitted
// to, at whatever date: a plan does well on the data that made it. A field seen
// at a named growth stage other than stage is left out too; one seen at no named
// stage stays.
func SplitFields(fields []pilot.Field, fitted []string, stage string) Split {
	var s Split
	is := func(names []string, name string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return strings.EqualFold(n, name) })
	}
	for _, f := range fields {
		switch {
		case is(fitted, f.Name):
			s.Fitted = append(s.Fitted, f.Label())
		case stage != "" && f.Stage != "" && !strings.EqualFold(f.Stage, stage):
			s.OtherStage = append(s.OtherStage, f.Label())
		default:
			s.Fields = append(s.Fields, f)
		}
	}
	return s
}

// CheckFitted returns an error that names the first of the fitted fields that is
// not among the fields: a slip in a name would let a field through.
func CheckFitted(fields []pilot.Field, fitted []string) error {
	for _, name := range fitted {
		if !slices.ContainsFunc(fields, func(f pilot.Field) bool { return strings.EqualFold(f.Name, name) }) {
			var known []string
			for _, f := range fields {
				if !slices.Contains(known, f.Name) {
					known = append(known, f.Name)
				}
			}
			return sampling.RefuseName(name, known, "no field %q in the data; it has: %s", name, strings.Join(known, ", "))
		}
	}
	return nil
}
