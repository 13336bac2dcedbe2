package plans

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"stopwise/sampling"
)

// readReference reads a file of testdata/ref: values computed independently
// outside the project, with the scripts that computed them beside it.
func readReference(t testing.TB, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "ref", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatal(err)
	}
}

func shippedText(t testing.TB) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "marrow-vale", "protocol.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func shippedProtocol(t testing.TB) Protocol {
	t.Helper()
	p, err := ReadProtocol([]byte(shippedText(t)))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// designLines makes a plan by the textbook lines.
func designLines(p Protocol) (*Plan, error) {
	return Design(context.Background(), p, DesignOptions{Method: Lines})
}

func linesPlan(t testing.TB, p Protocol) *Plan {
	t.Helper()
	plan, err := designLines(p)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// shareStage wraps a table in a stage for shares infested.
func shareStage(t Table, lower, upper float64, rho Range) *StagePlan {
	return &StagePlan{Method: Lines, Table: t, Stage: Stage{
		Name: "leafing", Measure: ShareInfested,
		Lower: lower, Threshold: (lower + upper) / 2, Upper: upper, NeedlessRisk: 0.1, MissedRisk: 0.1,
		Unit: SampleUnit{Leaves: 1}, Stop: StopRules{Plants: t.Units, Minimum: 1, Maximum: t.Stops()}, Clumping: Clumping{Rho: &rho},
	}}
}

// clumpGrid is how many values of a range of clumping a plan is judged at.
const clumpGrid = 9

// never turns the numbers of a reference file, nil for never, into a boundary.
func never(numbers []*int, mark int) []int {
	out := make([]int, len(numbers))
	for i, x := range numbers {
		out[i] = mark
		if x != nil {
			out[i] = *x
		}
	}
	return out
}

// workedTable is the plan of the fully worked case: bounds 15% and 30%, both risks
// 10%, 20 plants a stop, a verdict from minimum to 20 stops.
func workedTable(t testing.TB, minimum int) Table {
	t.Helper()
	l, err := BinomialLines(0.15, 0.30, 0.10, 0.10)
	if err != nil {
		t.Fatal(err)
	}
	return l.Table(20, minimum, 20, true)
}

// drawTable draws any valid decision table of at most the given size.
func drawTable(t *rapid.T, maxStops, maxUnits int) Table {
	units := rapid.IntRange(1, maxUnits).Draw(t, "units")
	stops := rapid.IntRange(1, maxStops).Draw(t, "stops")
	last := rapid.IntRange(NeverLeave, units*stops).Draw(t, "last")
	tab := Table{Units: units, Leave: make([]int, stops), Act: make([]int, stops)}
	leave, act := NeverLeave, 0
	firstAct := rapid.IntRange(0, stops-1).Draw(t, "firstAct")
	for j := range stops {
		leave = rapid.IntRange(leave, last).Draw(t, "leave")
		tab.Leave[j], tab.Act[j] = leave, NeverAct
		if j >= firstAct {
			act = rapid.IntRange(max(act, leave+1), last+1).Draw(t, "act")
			tab.Act[j] = act
		}
	}
	tab.Leave[stops-1], tab.Act[stops-1] = last, last+1
	if err := tab.Check(); err != nil {
		t.Fatalf("drew %+v: %v", tab, err)
	}
	return tab
}

func drawPopulation(t *rapid.T) sampling.Infested {
	p := rapid.SampledFrom([]float64{0, 0.01, 0.1, 0.225, 0.5, 0.8, 1}).Draw(t, "p")
	rho := rapid.SampledFrom([]float64{0, 0.05, 0.3, 0.7}).Draw(t, "rho")
	return sampling.Infested{P: p, Rho: rho}
}

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func nearRelative(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Abs(want)
}
