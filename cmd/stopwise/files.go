package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"stopwise/plans"
)

// largestInput bounds what is read into memory of a protocol or a plan; both
// take a few dozen kilobytes.
const largestInput = 64 << 20

// readInput returns the contents of a file, or of standard input for "-".
func readInput(e env, file string) ([]byte, error) {
	var r io.Reader = e.In
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, inputError(file, err)
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && info.IsDir() {
			return nil, inputError(file, errors.New("is a directory; give a file"))
		}
		r = f
	}
	b, err := io.ReadAll(io.LimitReader(r, largestInput+1))
	switch {
	case err != nil:
		return nil, inputError(file, err)
	case len(b) > largestInput:
		return nil, inputError(file, errors.New("is too large for a protocol or a plan"))
	}
	return b, nil
}

func readProtocol(e env, file string) (plans.Protocol, error) {
	b, err := readInput(e, file)
	if err != nil {
		return plans.Protocol{}, err
	}
	p, err := plans.ReadProtocol(b)
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
	p, err := plans.ReadPlan(b)
	if err != nil {
		return nil, inputError(file, err)
	}
	return p, nil
}

// writeFile writes a file as a whole or not at all.
func writeFile(file string, data []byte) (err error) {
	tmp, err := os.CreateTemp(filepath.Dir(file), "."+filepath.Base(file)+"-*")
	if err != nil {
		return failure("cannot write %s: %w", file, bare(err))
	}
	defer func() {
		if err != nil {
			os.Remove(tmp.Name())
			err = failure("cannot write %s: %w", file, bare(err))
		}
	}()
	_, err = tmp.Write(data)
	err = errors.Join(err, tmp.Chmod(0o644), tmp.Sync(), tmp.Close())
	if err != nil {
		return err
	}
	return os.Rename(tmp.Name(), file)
}

// writePlan writes a plan file. It does not overwrite a file of another kind: a
// slip must not cost a protocol written by hand.
func writePlan(file string, plan *plans.Plan) error {
	old, err := os.ReadFile(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return inputError(file, err)
	default:
		if len(old) > 0 && !plans.IsPlanFile(old) {
			return usageError("--out %s: the file exists and is not a plan; give another name", file)
		}
	}
	data, err := plan.JSON()
	if err != nil {
		return fmt.Errorf("cannot encode the plan: %w", err)
	}
	return writeFile(file, data)
}
