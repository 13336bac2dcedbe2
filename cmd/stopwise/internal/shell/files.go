package shell

import (
	"errors"
	"fmt"
	"io"
	"os"

	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/plans"
	"stopwise/plans/precision"
	"stopwise/sampling/pilot"
	"stopwise/validate/layout"
)

// LargestInput bounds what is read into memory of a protocol or a plan; both
// take a few dozen kilobytes.
const LargestInput = 64 << 20

// OpenInput opens a file, or standard input for "-".
func OpenInput(e Env, file string) (io.ReadCloser, error) {
	if file == "-" {
		return io.NopCloser(e.In), nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, InputError(file, err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, InputError(file, errors.New("is a directory; give a file"))
	}
	return f, nil
}

// ReadInput returns the contents of a file, or of standard input for "-".
func ReadInput(e Env, file string) ([]byte, error) {
	r, err := OpenInput(e, file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return ReadAll(file, r)
}

func ReadAll(file string, r io.Reader) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, LargestInput+1))
	switch {
	case err != nil:
		return nil, InputError(file, err)
	case len(b) > LargestInput:
		return nil, InputError(file, errors.New("is too large: more than 64 MiB"))
	}
	return b, nil
}

// ReadProtocol reads a protocol that states its plants per stop.
func ReadProtocol(e Env, file string) (plans.Protocol, error) {
	p, err := readProtocol(e, file)
	if err == nil && p.AutoPlants {
		err = InputError(file, errors.New(`plants = "auto" is for a design of a plan that brings verdicts; write a number`))
	}
	return p, err
}

func readProtocol(e Env, file string) (plans.Protocol, error) {
	b, err := ReadInput(e, file)
	if err != nil {
		return plans.Protocol{}, err
	}
	p, err := plans.ReadProtocol(b)
	if err != nil && isPlan(b) {
		return p, InputError(file, errors.New("is a plan, and a protocol is needed here: the TOML file that the plan was made from"))
	}
	if err != nil {
		return p, InputError(file, err)
	}
	return p, nil
}

func ReadPlan(e Env, file string) (*plans.Plan, error) {
	b, err := ReadInput(e, file)
	if err != nil {
		return nil, err
	}
	return ParsePlan(file, b)
}

func ParsePlan(file string, b []byte) (*plans.Plan, error) {
	p, err := plans.ReadPlan(b)
	if err != nil {
		if _, wrong := plans.ReadProtocol(b); wrong == nil {
			err = fmt.Errorf("is a protocol, and a plan is needed here: stopwise design %s --out plan.json makes it", file)
		}
		return nil, InputError(file, err)
	}
	return p, nil
}

// ReadField reads the boundary of a field.
func ReadField(e Env, file string) (layout.Field, error) {
	text, err := ReadInput(e, file)
	if err != nil {
		return layout.Field{}, err
	}
	f, err := layout.ReadGeoJSON(text)
	if err != nil {
		return f, InputError(file, err)
	}
	return f, nil
}

// ReadPilot reads pilot counts row by row: the file may be far larger than what
// is kept of it.
func ReadPilot(e Env, file string) (*pilot.Data, error) {
	r, err := OpenInput(e, file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	d, err := pilot.Read(r)
	if err != nil {
		return nil, pilotError(file, err)
	}
	return d, nil
}

// pilotError gives each fault of a table a line of its own, and says how many
// more there are.
func pilotError(file string, err error) error {
	faults, ok := errors.AsType[*pilot.Errors](err)
	if !ok {
		return InputError(file, err)
	}
	var all []error
	for _, f := range faults.First {
		all = append(all, &cellFault{f})
	}
	if more := faults.Others(); more > 0 {
		all = append(all, fmt.Errorf("and %d more", more))
	}
	return InputError(file, errors.Join(all...))
}

// A cellFault is a fault of a table with its place. Columns of a table are known
// by name.
type cellFault struct{ fault *pilot.Error }

func (f *cellFault) Error() string { return f.fault.Error() }

func (f *cellFault) Position() (line, column int) { return f.fault.Line, 0 }

func (f *cellFault) Text() string {
	if f.fault.Column == "" {
		return f.fault.Text()
	}
	return "column " + f.fault.Column + ": " + f.fault.Text()
}

// OutputFlag returns a flag that names a file to be written, of the form that form asks
// for (nil takes any). What WriteFile would refuse is refused at once, not after the work.
func OutputFlag(name, usage string, mine func(old []byte) bool, what string, form func(file string) error) *Option[string] {
	return NewOption(name, usage, func(s string) (string, error) {
		if s == "" {
			return "", ErrEmpty
		}
		if form != nil {
			if err := form(s); err != nil {
				return "", err
			}
		}
		err := outfile.Check(s, nil, mine, what)
		if refused, ok := errors.AsType[*outfile.Refusal](err); ok {
			return "", refused
		}
		return s, nil // other faults come to light in writing
	})
}

// PlanOutFlag returns the flag that names the plan to be written.
func PlanOutFlag() *Option[string] {
	return OutputFlag("out", "`FILE` write the plan there, for table, curve and check", isPlan, "a plan", nil)
}

// WriteFile writes a file that a flag asks for. It overwrites only what mine says
// that the command made.
func WriteFile(flag, file string, data []byte, mine func(old []byte) bool, what string) error {
	return OutputError(flag, file, outfile.Write(file, data, mine, what))
}

func OutputError(flag, file string, err error) error {
	if refused, ok := errors.AsType[*outfile.Refusal](err); ok {
		return UsageError("%s %s: %v", flag, file, refused)
	}
	if err != nil {
		return Failure("cannot write %s: %w", file, Bare(err))
	}
	return nil
}

func WritePlan(file string, plan *plans.Plan) error {
	data, err := plan.JSON()
	if err != nil {
		return fmt.Errorf("cannot encode the plan: %w", err)
	}
	return WritePlanFile(file, data)
}

// WritePlanFile writes a plan file. It does not overwrite a file of another kind:
// a slip must not cost a protocol written by hand.
func WritePlanFile(file string, data []byte) error {
	return WriteFile("--out", file, data, isPlan, "a plan")
}

func isPlan(old []byte) bool { return plans.IsPlanFile(old) || precision.IsFile(old) }

// ReadStage returns the plan of a file and its stage of the given name.
func ReadStage(e Env, file, stage string) (*plans.Plan, *plans.StagePlan, error) {
	plan, err := ReadPlan(e, file)
	if err != nil {
		return nil, nil, err
	}
	s, err := plan.Stage(stage)
	if err != nil {
		return nil, nil, UsageError("%w", err)
	}
	return plan, s, nil
}

// ChosenStages returns the stage that was named, or all.
func ChosenStages(plan *plans.Plan, stage *Option[string]) ([]*plans.StagePlan, error) {
	if !stage.Set {
		return plan.Stages, nil
	}
	s, err := plan.Stage(stage.Value)
	if err != nil {
		return nil, UsageError("%w", err)
	}
	return []*plans.StagePlan{s}, nil
}

// ReadAnyPlan reads a plan for verdicts or one for an estimate: one of the two is
// returned.
func ReadAnyPlan(e Env, file string) (*plans.Plan, *precision.Plan, error) {
	text, err := ReadInput(e, file)
	if err != nil {
		return nil, nil, err
	}
	if precision.IsFile(text) {
		p, err := precision.Read(text)
		if err != nil {
			return nil, nil, InputError(file, err)
		}
		return nil, p, nil
	}
	p, err := ParsePlan(file, text)
	return p, nil, err
}
