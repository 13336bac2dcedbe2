package fitting

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"stopwise/plans"
	"stopwise/plans/protocol"
	"stopwise/sampling/fit"
)

// The shipped rules have the correlation of counts that fit finds in the shipped
// counts, and say so.
func TestShippedRulesHoldTheFit(t *testing.T) {
	text, err := os.ReadFile(vale + "rules.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plans.ReadProtocol(text)
	if err != nil {
		t.Fatal(err)
	}
	f := &fitting{Result: fitFile(t, vale+"pilot-leaves.csv", fit.Options{Tally: 15})}
	holdsOutwards(t, p.Stages[0].Clumping.CountRho, f.CountRho.Estimate)
	if s := p.Stages[0].Clumping.Source; !strings.Contains(s, f.countRhoText()) {
		t.Errorf("source %q, want %q in it", s, f.countRhoText())
	}
}

// A correlation that no plan can be made for is not written, and the reason is.
func TestFitProtocolCountRhoWithoutLimit(t *testing.T) {
	for upper, want := range map[float64]*plans.Range{1: nil, 0.9501: nil, 0.9499: {Low: .5, High: protocol.MostCountRho}} {
		f := &fitting{Result: &fit.Result{}}
		f.CountRho.Estimate = fit.Estimate{Value: 0.9, Lower: 0.5, Upper: upper}
		got := f.countRhoRange()
		if (got == nil) != (want == nil) || got != nil && *got != *want {
			t.Errorf("upper end %g: %v, want %v", upper, got, want)
		}
		w := &sectionWriter{}
		f.countRhoLines(w, plans.Clumping{CountRho: got})
		if written := strings.Contains(w.String(), "\ncount_rho = "); written != (want != nil) {
			t.Errorf("upper end %g: %s", upper, w)
		}
	}
}

// The sentence tells the shape that the data speak for, or that they do not tell.
func TestShapeSentence(t *testing.T) {
	for _, c := range []struct {
		shape fit.Shape
		want  string
	}{
		{fit.Shape{Beta: -10, Patches: -15, SpeaksFor: fit.ShapeBeta}, "speak for the first: its log-likelihood is higher by 5.0 "},
		{fit.Shape{Beta: -15, Patches: -10, SpeaksFor: fit.ShapePatches}, "speak for the second: its log-likelihood is higher by 5.0 "},
		{fit.Shape{Beta: -10, Patches: -11}, "do not tell: their log-likelihoods differ by 1.0 "},
		{fit.Shape{Missing: "there are no fields"}, "tell nothing: there are no fields."},
	} {
		f := &fitting{Result: &fit.Result{Shape: c.shape}}
		if got := f.shapeSentence(); !strings.Contains(got, c.want) {
			t.Errorf("%+v: %s", c.shape, got)
		}
		raw, err := json.Marshal(f.shapeJSON())
		if err != nil {
			t.Fatal(err)
		}
		if null := strings.Contains(string(raw), `"speaks_for":null`); null != (c.shape.SpeaksFor == "") {
			t.Errorf("%s", raw)
		}
	}
}
