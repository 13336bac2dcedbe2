package trying

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stopwise/validate"

	"stopwise/cmd/stopwise/internal/report"
	"stopwise/cmd/stopwise/internal/shell"
	"stopwise/plans"
	marrowvale "stopwise/testdata/marrow-vale"

	"github.com/urfave/cli/v2"
)

// valePlan writes a plan of the shipped protocol, which is invented, and returns
// its name and its stage leafing.
func valePlan(t *testing.T) (file string, s *plans.StagePlan) {
	t.Helper()
	p, err := plans.ReadProtocol(marrowvale.Protocol)
	if err != nil {
		t.Fatal(err)
	}
	p, err = shell.OnlyStage(p, "leafing")
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.Design(context.Background(), p, plans.DesignOptions{})
	if err != nil {
		t.Fatal(err)
	}
	data, err := plan.JSON()
	if err != nil {
		t.Fatal(err)
	}
	file = filepath.Join(t.TempDir(), "plan.json")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return file, plan.Stages[0]
}

// TestValidateJSON looks at everything at once: worlds, made fields, seen fields
// and what is required of them.
func TestValidateJSON(t *testing.T) {
	plan, s := valePlan(t)
	var out, errOut bytes.Buffer
	status := run([]string{"stopwise", "validate", plan, "--simulate", "rho,mixture,patches,misread,short,space", "--visits", "1000",
		"--data", "../../../../testdata/marrow-vale/fields.csv", "--fitted-on", "../../../../testdata/marrow-vale/pilot.csv",
		"--require", "promise", "--format", "json"}, strings.NewReader(""), &out, &errOut)
	if status != shell.StatusFailed {
		t.Fatalf("status %d: %s", status, errOut.String())
	}
	var got validationJSON
	d := json.NewDecoder(&out)
	d.DisallowUnknownFields()
	if err := d.Decode(&got); err != nil {
		t.Fatal(err)
	}
	if got.Kind != "stopwise validation" || got.Version != 1 || got.Stage != "leafing" || got.NeedlessRisk != s.NeedlessRisk || got.Seed != 1 {
		t.Errorf("head %+v", got)
	}
	worlds := map[string]int{}
	high := s.Clumped(s.Lower)
	found := false
	for _, w := range got.Worlds {
		worlds[w.World]++
		if simulated := w.Needless.SE != nil; simulated != (w.World == "short") {
			t.Errorf("%s: standard error %v", w.World, w.Needless.SE)
		}
		if w.World == "rho" && w.Setting["rho"] == high.Clump {
			found = true
			if want := s.Evaluate(high).Act; *w.Needless.Value != want {
				t.Errorf("needless %v, want %v", *w.Needless.Value, want)
			}
		}
	}
	if !found {
		t.Errorf("the plan's own rho of %v is not among the worlds", high.Clump)
	}
	for _, w := range []string{"rho", "mixture", "patches", "misread", "short"} {
		if worlds[w] < 3 {
			t.Errorf("%s: %d rows", w, worlds[w])
		}
	}
	if len(got.Walks) != len(validate.Patterns)*len(validate.Routes) || len(got.Data.Fields) != 10 || len(got.Data.Pools) != 3 || got.Data.Independent || len(got.Holds) != 5 {
		t.Errorf("%d walks, %d fields, %d pools, %d holds", len(got.Walks), len(got.Data.Fields), len(got.Data.Pools), len(got.Holds))
	}
	if len(got.Required) != 2 || got.Required[0].Holds || len(got.Required[0].Failing) == 0 {
		t.Errorf("required %+v", got.Required)
	}
	if n := strings.Count(errOut.String(), "\n"); n != 2 {
		t.Errorf("%d lines of errors: %s", n, errOut.String())
	}
}

// TestDemoRoutes: the demo must show that the route matters.
func TestDemoRoutes(t *testing.T) {
	_, s := valePlan(t)
	d := &report.Document{}
	if err := DemoRoutes(context.Background(), d, s); err != nil {
		t.Fatal(err)
	}
	text, err := d.Text(report.TextWidth)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"gradient   zigzag", "BROKEN", "(balanced) to", "(zigzag)"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

// TestRoutePicture holds the shipped picture to the command that makes it. With
// -update it writes it.
func TestRoutePicture(t *testing.T) {
	plan, _ := valePlan(t)
	file := filepath.Join(t.TempDir(), "route.svg")
	var errOut bytes.Buffer
	if status := run([]string{"stopwise", "validate", plan, "--pattern", "gradient", "--route", "zigzag", "--seed", "6", "--visits", "100", "--plot", file},
		strings.NewReader(""), io.Discard, &errOut); status != shell.StatusDone {
		t.Fatal(errOut.String())
	}
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	const shipped = "../../../../testdata/marrow-vale/route.svg"
	if *update {
		if err := os.WriteFile(shipped, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(shipped)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("route.svg is not what the command draws; run with -update")
	}
}

// run runs the program with this package's command only.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	return shell.Run(func(e shell.Env) []*cli.Command { return []*cli.Command{ValidateCommand(e)} }, args, in, out, errOut)
}

var update = flag.Bool("update", false, "rewrite the shipped picture")
