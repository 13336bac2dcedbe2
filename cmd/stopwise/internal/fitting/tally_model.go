package fitting

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/sampling/tally"
)

// modelFlag takes a line as numbers, or the name of a file that holds lines.
func modelFlag() *shell.Option[modelText] {
	return shell.NewOption("model", "`LINE` a fitted line ln mean = intercept + slope ln(-ln(1-share)), in place of k: intercept,slope, or both with their uncertainty "+
		"(residual mean square, fields, mean of ln(-ln(1-share)), standard error of the slope), or the JSON file that fit writes", parseModel)
}

// modelText is a line, or the file that it is in.
type modelText struct {
	line *tally.Model
	file string
}

// parseModel reads "4.7,1.02", or with its uncertainty "4.7,1.02,0.019,12,-1.48,0.036".
// What does not begin with a number and a comma is the name of a file.
func parseModel(s string) (modelText, error) {
	parts := strings.Split(s, ",")
	if _, err := shell.Number(parts[0]); err != nil || len(parts) == 1 {
		if strings.TrimSpace(s) == "" {
			return modelText{}, shell.ErrEmpty
		}
		return modelText{file: s}, nil
	}
	if len(parts) != 2 && len(parts) != 6 {
		return modelText{}, fmt.Errorf("%q has %d numbers; write intercept,slope or intercept,slope,residual mean square,fields,mean of ln(-ln(1-share)),standard error of the slope", s, len(parts))
	}
	var x [6]float64
	for i, part := range parts {
		var err error
		if x[i], err = shell.Number(part); err != nil {
			return modelText{}, fmt.Errorf("%q: %q is not a number", s, strings.TrimSpace(part))
		}
	}
	if x[3] != math.Trunc(x[3]) || x[3] < 0 || x[3] > 1e6 {
		return modelText{}, fmt.Errorf("%q: %s fields; write a whole number", s, report.Plain(x[3]))
	}
	m := &tally.Model{T: 1, C: x[0], D: x[1], MSE: x[2], Fields: int(x[3]), MeanX: x[4], SE: x[5]}
	if err := m.Check(); err != nil {
		return modelText{}, fmt.Errorf("%q: %w", s, err)
	}
	return modelText{line: m}, nil
}

// Read returns the models at the tally number t; t = 0 stands for all of a file.
func (m modelText) Read(e shell.Env, t int) ([]tally.Model, error) {
	if m.line != nil {
		if t == 0 {
			return nil, shell.UsageHint("give it with --tally, such as --tally 15", "a line holds for one tally number")
		}
		line := *m.line
		line.T = t
		return []tally.Model{line}, nil
	}
	text, err := shell.ReadInput(e, m.file)
	if err != nil {
		return nil, err
	}
	all, err := readModels(text)
	if err != nil {
		return nil, shell.InputError(m.file, err)
	}
	var known []string
	for _, line := range all {
		if line.T == t {
			return []tally.Model{line}, nil
		}
		known = append(known, fmt.Sprint(line.T))
	}
	if t > 0 {
		return nil, shell.UsageError("--tally %d: %s has lines for %s", t, m.file, shell.Either(known))
	}
	return all, nil
}

// fittedModels is the part of the JSON of fit that is needed here.
type fittedModels struct {
	Kind   string `json:"kind"`
	Models []struct {
		Tally    int        `json:"tally"`
		C        fittedPart `json:"c"`
		D        fittedPart `json:"d"`
		MSE      *float64   `json:"residual_mean_square"`
		Fields   int        `json:"fields"`
		MeanX    *float64   `json:"x_mean"`
		MinShare *float64   `json:"valid_from"`
		MaxShare *float64   `json:"valid_to"`
	} `json:"tally_models"`
}

type fittedPart struct {
	Estimate *float64 `json:"estimate"`
	SE       *float64 `json:"standard_error"`
	Reason   string   `json:"reason"`
}

const fitKind = "stopwise fit"

// readModels reads the lines in the JSON that fit writes.
func readModels(text []byte) ([]tally.Model, error) {
	var f fittedModels
	if err := json.Unmarshal(text, &f); err != nil {
		return nil, errors.New("is not the JSON that fit --format json writes")
	}
	if f.Kind != fitKind {
		return nil, fmt.Errorf("kind is %q; accepted: %q, as fit --format json writes it", f.Kind, fitKind)
	}
	var all []tally.Model
	reason := "fit needs counts per leaf for one"
	for _, x := range f.Models {
		if x.C.Estimate == nil || x.D.Estimate == nil {
			reason = x.C.Reason
			continue
		}
		m := tally.Model{T: x.Tally, C: *x.C.Estimate, D: *x.D.Estimate}
		if x.MSE != nil && x.D.SE != nil {
			m.MSE, m.Fields, m.SE = *x.MSE, x.Fields, *x.D.SE
		}
		if x.MinShare != nil && x.MaxShare != nil {
			m.MinShare, m.MaxShare = *x.MinShare, *x.MaxShare
		}
		switch {
		case !m.Uncertain():
		case x.MeanX != nil:
			m.MeanX = *x.MeanX
		case x.C.SE == nil || !impliedMeanX(&m, *x.C.SE):
			return nil, fmt.Errorf("the line for the tally number %d lacks x_mean, without which its uncertainty is not known", m.T)
		}
		if err := m.Check(); err != nil {
			return nil, fmt.Errorf("the line for the tally number %d: %w", m.T, err)
		}
		all = append(all, m)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("has no line for a tally number: %s", reason)
	}
	return all, nil
}

// impliedMeanX sets the mean of x that follows from the standard error of c,
// se(c)^2 = MSE/Fields + MeanX^2 se(d)^2, up to its sign: the one that lies among
// the shares of the fit. It reports false where both or neither do.
func impliedMeanX(m *tally.Model, se float64) bool {
	if m.Fields < 3 || m.SE == 0 || m.MaxShare == 0 {
		return false
	}
	square := (se*se - m.MSE/float64(m.Fields)) / (m.SE * m.SE)
	x := math.Sqrt(math.Max(0, square))
	covers := func(x float64) bool {
		p := -math.Expm1(-math.Exp(x))
		return m.MinShare <= p && p <= m.MaxShare
	}
	if covers(x) == covers(-x) {
		return false
	}
	if m.MeanX = x; covers(-x) {
		m.MeanX = -x
	}
	return true
}
