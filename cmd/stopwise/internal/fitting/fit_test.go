package fitting

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/urfave/cli/v2"
	"pgregory.net/rapid"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	"stopwise/sampling/fit"
	"stopwise/sampling/pilot"
	marrowvale "stopwise/testdata/marrow-vale"
)

const vale = "../../../../testdata/marrow-vale/"

// runFit returns what fit prints.
func runFit(t *testing.T, args ...string) string {
	t.Helper()
	var out, errOut bytes.Buffer
	if status := run(append([]string{"stopwise", "fit"}, args...), strings.NewReader(""), &out, &errOut); status != 0 {
		t.Fatalf("fit %v: status %d, %s", args, status, errOut.String())
	}
	return out.String()
}

// fits are those that tests asked for, by file and tally number.
var fits sync.Map

func fitFile(t *testing.T, file string, o fit.Options) *fit.Result {
	t.Helper()
	asked := fmt.Sprint(file, o)
	if r, ok := fits.Load(asked); ok {
		return r.(*fit.Result)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := pilot.Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	r, err := fit.Fit(d, o)
	if err != nil {
		t.Fatal(err)
	}
	fits.Store(asked, r)
	return r
}

// at follows dotted keys into a JSON document. It reports whether the key is
// there, which null is too.
func at(doc map[string]any, key string) (any, bool) {
	parts := strings.Split(key, ".")
	for _, p := range parts[:len(parts)-1] {
		inner, ok := doc[p].(map[string]any)
		if !ok {
			return nil, false
		}
		doc = inner
	}
	v, ok := doc[parts[len(parts)-1]]
	return v, ok
}

// The keys that scripts are promised are there whatever the data carry, with
// the values of the library or null and a reason.
func TestFitJSON(t *testing.T) {
	for _, c := range []struct {
		file  string
		args  []string
		tally int
	}{{"pilot.csv", nil, 0}, {"pilot-leaves.csv", []string{"--tally", "15"}, 15}} {
		r := fitFile(t, vale+c.file, fit.Options{Tally: c.tally})
		var doc map[string]any
		if err := json.Unmarshal([]byte(runFit(t, append(c.args, vale+c.file, "--format", "json")...)), &doc); err != nil {
			t.Fatal(err)
		}
		if doc["kind"] != "stopwise fit" || doc["version"] != 1.0 {
			t.Errorf("%s: kind %v, version %v", c.file, doc["kind"], doc["version"])
		}
		for key, want := range map[string]float64{
			"rho.estimate": r.Rho.Estimate.Value, "rho.lower": r.Rho.Estimate.Lower, "rho.upper": r.Rho.Estimate.Upper,
			"k.estimate": r.K.Estimate.Value, "k.lower": r.K.Estimate.Lower, "k.upper": r.K.Estimate.Upper,
			"count_rho.estimate": r.CountRho.Estimate.Value, "count_rho.lower": r.CountRho.Estimate.Lower, "count_rho.upper": r.CountRho.Estimate.Upper,
			"taylor.a": r.Taylor.A.Value, "taylor.b": r.Taylor.B.Value, "iwao.a": r.Iwao.A.Value, "iwao.b": r.Iwao.B.Value,
		} {
			got, there := at(doc, key)
			switch {
			case !there:
				t.Errorf("%s: no key %s", c.file, key)
			case math.IsNaN(want):
				section, _, _ := strings.Cut(key, ".")
				if reason, _ := at(doc, section+".reason"); got != nil || reason == nil || reason == "" {
					t.Errorf("%s: %s is %v, and its reason %v", c.file, key, got, reason)
				}
			case got != want:
				t.Errorf("%s: %s is %v, want %v", c.file, key, got, want)
			}
		}
	}
}

var clumpingSection = regexp.MustCompile(`(?s)\[clumping\].*?\n\n`)

// paste puts a section in place of that of the shipped protocol.
func paste(section string) []byte {
	return clumpingSection.ReplaceAllLiteral(marrowvale.Protocol, []byte(section+"\n"))
}

func readPasted(t *testing.T, section string) plans.Clumping {
	t.Helper()
	p, err := plans.ReadProtocol(paste(section))
	if err != nil {
		t.Fatalf("%v\n%s", err, section)
	}
	return p.Stages[0].Clumping
}

// What --protocol prints is taken by a protocol as it stands, and so are the
// laws that it offers in comments.
func TestFitProtocolPasted(t *testing.T) {
	stops := readPasted(t, runFit(t, vale+"pilot.csv", "--protocol"))
	e := fitFile(t, vale+"pilot.csv", fit.Options{}).Rho.Estimate
	holdsOutwards(t, stops.Rho, e)
	if stops.K != nil || stops.Taylor != nil || stops.Iwao != nil || stops.Source == "" {
		t.Errorf("%+v", stops)
	}

	section := runFit(t, vale+"pilot-leaves.csv", "--tally", "15", "--protocol")
	r := fitFile(t, vale+"pilot-leaves.csv", fit.Options{Tally: 15})
	leaves := readPasted(t, section)
	holdsOutwards(t, leaves.Rho, r.Rho.Estimate)
	if w := leaves.Taylor; w == nil || !near(w.A, r.Taylor.A.Value) || !near(w.B, r.Taylor.B.Value) {
		t.Errorf("taylor %v, want %v and %v", w, r.Taylor.A, r.Taylor.B)
	}

	holdsOutwards(t, leaves.CountRho, r.CountRho.Estimate)

	rules, err := os.ReadFile(vale + "rules.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plans.ReadProtocol(clumpingSection.ReplaceAllLiteral(rules, []byte(section+"\n")))
	if err != nil {
		t.Fatalf("a section from leaves beside a stage of means: %v", err)
	}
	if got := p.Stages[1]; got.Measure != plans.MeanPerLeaf || got.Clumping.CountRho == nil {
		t.Errorf("stage %q: %+v", got.Name, got.Clumping)
	}

	without := regexp.MustCompile(`(?m)^taylor = .*\n`).ReplaceAllString(section, "")
	k := readPasted(t, strings.Replace(without, "# k    =", "k =", 1)).K
	// The counts of a stop are alike: the k is the one fitted along with that.
	if e := r.CountRho.KInterval; k == nil || !(k.Low <= e.Lower && k.High >= e.Upper) || !near(k.Low, e.Lower) || !near(k.High, e.Upper) {
		t.Errorf("k %v, want the interval of %+v", k, e)
	}
	iwao := readPasted(t, strings.Replace(without, "# iwao =", "iwao =", 1)).Iwao
	if iwao == nil || !near(iwao.A, r.Iwao.A.Value) || !near(iwao.B, r.Iwao.B.Value) {
		t.Errorf("iwao %v, want %v and %v", iwao, r.Iwao.A, r.Iwao.B)
	}
}

// A file may have any name.
func TestFitProtocolQuotesFileName(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a \"b\"\n[stop]\x7f\xff\\é.csv")
	if err := os.WriteFile(file, marrowvale.Pilot, 0o644); err != nil {
		t.Fatal(err)
	}
	c := readPasted(t, runFit(t, file, "--protocol"))
	if c.Rho == nil || !strings.Contains(c.Source, `a "b"`) || !strings.Contains(c.Source, "é.csv") {
		t.Errorf("%+v", c)
	}
}

func near(got, want float64) bool { return math.Abs(got-want) <= 0.01*math.Abs(want) }

// holdsOutwards checks that a range is an interval rounded outwards to three
// decimals.
func holdsOutwards(t *testing.T, r *plans.Range, e fit.Estimate) {
	t.Helper()
	if r == nil || !(r.Low <= e.Lower && e.Lower < r.Low+0.001 && r.High-0.001 < e.Upper && e.Upper <= r.High) {
		t.Errorf("rho %v, want %g to %g rounded outwards", r, e.Lower, e.Upper)
	}
}

// The shipped protocol has its rho, and what it says of its source, from the
// shipped counts; the demo tells the same.
func TestShippedProtocolHoldsTheFit(t *testing.T) {
	p, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		t.Fatal(err)
	}
	holdsOutwards(t, p.Stages[0].Clumping.Rho, fitFile(t, vale+"pilot.csv", fit.Options{}).Rho.Estimate)
	f, err := DemoFit()
	if err != nil {
		t.Fatal(err)
	}
	if c := f.Clumping(); *c.Rho != *p.Stages[0].Clumping.Rho || "invented: "+c.Source != p.Stages[0].Clumping.Source {
		t.Errorf("the protocol has %v from %q, the demo %v from %q", p.Stages[0].Clumping.Rho, p.Stages[0].Clumping.Source, c.Rho, c.Source)
	}
}

// Where there are too few fields for a law, k is taken with its interval; where
// k has no upper limit, its clumped end.
func TestFitProtocolK(t *testing.T) {
	limited := fit.Estimate{Value: 0.84, Lower: 0.77699, Upper: 0.90801}
	open := fit.Estimate{Value: 40, Lower: 12.34, Upper: math.Inf(1)}
	none := fit.Estimate{Value: math.NaN(), Lower: math.NaN(), Upper: math.NaN(), Missing: "all counts are 0"}
	for _, c := range []struct {
		k    fit.Estimate
		want *plans.Range
	}{
		{limited, &plans.Range{Low: 0.776, High: 0.909}},
		{open, &plans.Range{Low: 12.3, High: 12.3}},
		{none, nil},
		{fit.Estimate{Value: 1e-9, Lower: 0, Upper: 1}, nil},
	} {
		f := &fitting{Result: &fit.Result{}}
		f.K.Estimate = c.k
		f.Taylor.A, f.Taylor.B, f.Iwao.A, f.Iwao.B = none, none, none, none
		f.Rho.Estimate = none
		got := f.Clumping().K
		if (got == nil) != (c.want == nil) || got != nil && *got != *c.want {
			t.Errorf("k %+v: %v, want %v", c.k, got, c.want)
		}
	}
}

// No plan can be made for plants that are all alike.
func TestFitProtocolRhoWithoutLimit(t *testing.T) {
	for _, upper := range []float64{1, 0.9995} {
		f := &fitting{Result: &fit.Result{}}
		f.Rho.Estimate = fit.Estimate{Value: 0.9, Lower: 0.5, Upper: upper}
		if r := f.rhoRange(); r != nil {
			t.Errorf("upper end %g: %v", upper, r)
		}
	}
}

func TestOutwards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-6, 1e6).Draw(t, "x")
		low, high := outwards(x, math.Floor), outwards(x, math.Ceil)
		const tiny = 1e-12
		if low > x*(1+tiny) || high < x*(1-tiny) || low < 0.99*x-tiny || high > 1.0101*x+tiny {
			t.Errorf("%g: %g to %g", x, low, high)
		}
		if report.Significant(low, 3) != low || report.Significant(high, 3) != high {
			t.Errorf("%g: %g and %g have more than three digits", x, low, high)
		}
	})
}

// run runs the program with this package's command only.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return shell.Run(func(e shell.Env) []*cli.Command { return []*cli.Command{FitCommand(e)} }, args, in, out, errOut)
}
