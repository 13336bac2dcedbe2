package shell

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"stopwise/plans"
	"stopwise/sampling/pilot"
	"stopwise/validate/layout"
)

// largestInput bounds what is read into memory of a protocol or a plan; both
// take a few dozen kilobytes.
const largestInput = 64 << 20

// openInput opens a file, or standard input for "-".
func openInput(e Env, file string) (io.ReadCloser, error) {
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
	r, err := openInput(e, file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, largestInput+1))
	switch {
	case err != nil:
		return nil, InputError(file, err)
	case len(b) > largestInput:
		return nil, InputError(file, errors.New("is too large for a protocol or a plan"))
	}
	return b, nil
}

func ReadProtocol(e Env, file string) (plans.Protocol, error) {
	b, err := ReadInput(e, file)
	if err != nil {
		return plans.Protocol{}, err
	}
	p, err := plans.ReadProtocol(b)
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
	p, err := plans.ReadPlan(b)
	if err != nil {
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
	r, err := openInput(e, file)
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
	if more := faults.Total - len(faults.First); more > 0 {
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
		return f.fault.Message
	}
	return "column " + f.fault.Column + ": " + f.fault.Message
}

// WriteFile writes a file as a whole or not at all.
func WriteFile(file string, data []byte) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(file), "."+filepath.Base(file)+"-*")
	if err != nil {
		return Failure("cannot write %s: %w", file, Bare(err))
	}
	defer func() {
		if err != nil {
			os.Remove(tmp.Name())
			err = Failure("cannot write %s: %w", file, Bare(err))
		}
	}()
	_, err = tmp.Write(data)
	err = errors.Join(err, tmp.Chmod(0o644), tmp.Sync(), tmp.Close())
	if err != nil {
		return err
	}
	return os.Rename(tmp.Name(), file)
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
	old, err := os.ReadFile(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return InputError(file, err)
	default:
		if len(old) > 0 && !plans.IsPlanFile(old) && !plans.IsPrecisionPlanFile(old) {
			return UsageError("--out %s: the file exists and is not a plan; give another name", file)
		}
	}
	return WriteFile(file, data)
}

// ReadStage returns the plan of a file and its stage of the given name.
func ReadStage(e Env, file, stage string) (*plans.Plan, *plans.StagePlan, error) {
	plan, err := ReadPlan(e, file)
	if err != nil {
		return nil, nil, err
	}
	s, err := plan.Stage(stage)
	if err != nil {
		return nil, nil, UsageError("%v", err)
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
		return nil, UsageError("%v", err)
	}
	return []*plans.StagePlan{s}, nil
}

// ReadAnyPlan reads a plan for verdicts or one for an estimate: one of the two is
// returned.
func ReadAnyPlan(e Env, file string) (*plans.Plan, *plans.PrecisionPlan, error) {
	text, err := ReadInput(e, file)
	if err != nil {
		return nil, nil, err
	}
	if plans.IsPrecisionPlanFile(text) {
		p, err := plans.ReadPrecisionPlan(text)
		if err != nil {
			return nil, nil, InputError(file, err)
		}
		return nil, p, nil
	}
	p, err := plans.ReadPlan(text)
	if err != nil {
		return nil, nil, InputError(file, err)
	}
	return p, nil, nil
}
