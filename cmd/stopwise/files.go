package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"stopwise/cmd/stopwise/internal/outfile"
	"stopwise/plans"
	"stopwise/sampling/pilot"
)

// largestInput bounds what is read into memory of a protocol or a plan; both
// take a few dozen kilobytes.
const largestInput = 64 << 20

// openInput opens a file, or standard input for "-".
func openInput(e env, file string) (io.ReadCloser, error) {
	if file == "-" {
		return io.NopCloser(e.In), nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, inputError(file, err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, inputError(file, errors.New("is a directory; give a file"))
	}
	return f, nil
}

// readInput returns the contents of a file, or of standard input for "-".
func readInput(e env, file string) ([]byte, error) {
	r, err := openInput(e, file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return readAll(file, r)
}

func readAll(file string, r io.Reader) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, largestInput+1))
	switch {
	case err != nil:
		return nil, inputError(file, err)
	case len(b) > largestInput:
		return nil, inputError(file, errors.New("is too large: more than 64 MiB"))
	}
	return b, nil
}

func readProtocol(e env, file string) (plans.Protocol, error) {
	b, err := readInput(e, file)
	if err != nil {
		return plans.Protocol{}, err
	}
	p, err := plans.ReadProtocol(b)
	if err != nil && isPlan(b) {
		return p, inputError(file, errors.New("is a plan, and a protocol is needed here: the TOML file that the plan was made from"))
	}
	if err != nil {
		return p, inputError(file, err)
	}
	return p, nil
}

func readPlan(e env, file string) (*plans.Plan, error) {
	b, err := readInput(e, file)
	if err != nil {
		return nil, err
	}
	return parsePlan(file, b)
}

func parsePlan(file string, b []byte) (*plans.Plan, error) {
	p, err := plans.ReadPlan(b)
	if err != nil {
		if _, wrong := plans.ReadProtocol(b); wrong == nil {
			err = fmt.Errorf("is a protocol, and a plan is needed here: stopwise design %s --out plan.json makes it", file)
		}
		return nil, inputError(file, err)
	}
	return p, nil
}

// readPilot reads pilot counts row by row: the file may be far larger than what
// is kept of it.
func readPilot(e env, file string) (*pilot.Data, error) {
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
		return inputError(file, err)
	}
	var all []error
	for _, f := range faults.First {
		all = append(all, &cellFault{f})
	}
	if more := faults.Others(); more > 0 {
		all = append(all, fmt.Errorf("and %d more", more))
	}
	return inputError(file, errors.Join(all...))
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

// writeFile writes a file that a flag asks for. It overwrites only what mine says
// that the command made.
func writeFile(flag, file string, data []byte, mine func(old []byte) bool, what string) error {
	return outputError(flag, file, outfile.Write(file, data, mine, what))
}

func outputError(flag, file string, err error) error {
	if refused, ok := errors.AsType[*outfile.Refusal](err); ok {
		return usageError("%s %s: %v", flag, file, refused)
	}
	if err != nil {
		return failure("cannot write %s: %w", file, bare(err))
	}
	return nil
}

func writePlan(file string, plan *plans.Plan) error {
	data, err := plan.JSON()
	if err != nil {
		return fmt.Errorf("cannot encode the plan: %w", err)
	}
	return writePlanFile(file, data)
}

// writePlanFile writes a plan file. It does not overwrite a file of another kind:
// a slip must not cost a protocol written by hand.
func writePlanFile(file string, data []byte) error {
	return writeFile("--out", file, data, isPlan, "a plan")
}

func isPlan(old []byte) bool { return plans.IsPlanFile(old) || plans.IsPrecisionPlanFile(old) }

// readStage returns the plan of a file and its stage of the given name.
func readStage(e env, file, stage string) (*plans.Plan, *plans.StagePlan, error) {
	plan, err := readPlan(e, file)
	if err != nil {
		return nil, nil, err
	}
	s, err := plan.Stage(stage)
	if err != nil {
		return nil, nil, usageError("%v", err)
	}
	return plan, s, nil
}

// chosenStages returns the stage that was named, or all.
func chosenStages(plan *plans.Plan, stage *option[string]) ([]*plans.StagePlan, error) {
	if !stage.set {
		return plan.Stages, nil
	}
	s, err := plan.Stage(stage.value)
	if err != nil {
		return nil, usageError("%v", err)
	}
	return []*plans.StagePlan{s}, nil
}
