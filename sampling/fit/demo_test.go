package fit

import (
	"bytes"
	"encoding/csv"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"stopwise/sampling/pilot"
)

var update = flag.Bool("update", false, "rewrite the invented pilot data")

const valley = "../../testdata/marrow-vale"

// The fields of the made-up Marrow Vale, and when they are looked at.
var valeFields = []struct{ name, date, stage string }{
	{"Upper Sedge 3", "2026-05-18", "leafing"},
	{"Lower Sedge 1", "2026-05-18", "leafing"},
	{"Heron Bank 2", "2026-05-18", "leafing"},
	{"Millstone 4", "2026-05-19", "leafing"},
	{"Long Rill 1", "2026-05-19", "leafing"},
	{"Long Rill 2", "2026-05-20", "leafing"},
	{"Fallow Ridge 5", "2026-06-01", "budding"},
	{"Reed Corner 1", "2026-06-01", "budding"},
	{"Ash Hollow 2", "2026-06-02", "budding"},
	{"Ash Hollow 3", "2026-06-02", "budding"},
	{"Cuckoo Piece 1", "2026-06-03", "budding"},
	{"Quarry Strip 1", "2026-06-18", "pod fill"},
	{"North Dyke 6", "2026-06-18", "pod fill"},
	{"Plover Bottom 2", "2026-06-19", "pod fill"},
	{"Stony Ten", "2026-06-19", "pod fill"},
	{"Barrow End 2", "2026-06-19", "pod fill"},
}

const (
	valeSeed = 4107
	valeRho  = 0.12
	valeK    = 0.8  // of the leaves of a field
	valeCorr = 0.15 // of the counts of two leaves at one stop
)

// inventStops makes 16 fields of 10 stops of 15 plants, beta-binomial with the
// share infested going from 4% to 49% in even steps, in no order.
func inventStops() [][]string {
	r := rand.New(rand.NewPCG(valeSeed, 1))
	rows := [][]string{{"field", "stop", "plants", "infested", "date", "stage"}}
	level := r.Perm(len(valeFields))
	for i, f := range valeFields {
		p := 0.04 + 0.03*float64(level[i])
		for j, s := range drawStops(r, 10, 15, p, valeRho) {
			rows = append(rows, []string{f.name, strconv.Itoa(j + 1), "15", strconv.Itoa(s.Infested), f.date, f.stage})
		}
	}
	return rows
}

// inventLeaves makes 12 fields of 9 stops of 15 plants, one leaf each. Means go
// from 1.5 to 48 in even steps of their logarithm. A stop has a mean of its own,
// gamma with the field's mean and a shape, and about it the leaves are negative
// binomial with a k, both such that over the field the counts have the mean, the
// k and the correlation at one stop that are stated: with v = mu + mu^2/k the
// variance of the stops' means is the correlation times v, and the rest of v is
// that within a stop.
func inventLeaves() [][]string {
	r := rand.New(rand.NewPCG(valeSeed, 11))
	rows := [][]string{{"field", "stop", "plant", "leaf", "count"}}
	const fields = 12
	level := r.Perm(fields)
	for i := range fields {
		mean := 1.5 * math.Pow(32, float64(level[i])/(fields-1))
		spread := valeCorr * (1/mean + 1/valeK) // 1/shape
		within := (1 + spread) / (1/valeK - spread)
		for stop := range 9 {
			m := distuv.Gamma{Alpha: 1 / spread, Beta: 1 / (spread * mean), Src: r}.Rand()
			for plant := range 15 {
				rows = append(rows, []string{valeFields[i].name, strconv.Itoa(stop + 1), strconv.Itoa(plant + 1), "youngest", strconv.Itoa(drawCount(r, m, within))})
			}
		}
	}
	return rows
}

func TestInventedPilotData(t *testing.T) {
	for name, rows := range map[string][][]string{"pilot.csv": inventStops(), "pilot-leaves.csv": inventLeaves()} {
		var want bytes.Buffer
		if err := csv.NewWriter(&want).WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(valley, name)
		if *update {
			if err := os.WriteFile(file, want.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want.Bytes()) {
			t.Errorf("%s is not what its generator makes; run the test with -update", name)
		}
	}
}

func vale(t *testing.T, name string) *pilot.Data {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(valley, name))
	if err != nil {
		t.Fatal(err)
	}
	d, err := pilot.Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The invented fields give back what they were made with.
func TestValeStops(t *testing.T) {
	r := must(Fit(vale(t, "pilot.csv"), Options{}))
	if r.Fields != 16 || r.Stops != 160 || r.Plants != 2400 || r.Leaves != 0 {
		t.Errorf("%d fields, %d stops, %d plants, %d leaves", r.Fields, r.Stops, r.Plants, r.Leaves)
	}
	e := r.Rho.Estimate
	if e != r.Rho.Pooled.Adjusted || r.Rho.Method != AdjustedProfile || e.Lower > valeRho || e.Upper < valeRho {
		t.Errorf("%+v", r.Rho)
	}
	if e.Value <= r.Rho.Pooled.ML.Value {
		t.Errorf("the adjusted rho %g is not above %g", e.Value, r.Rho.Pooled.ML.Value)
	}
	if p := r.Rho.Pooled; p.Tarone.P > 1e-6 || p.Same.P < 0.001 || p.Fields != 16 {
		t.Errorf("%+v", p)
	}
	want := "counts are needed (one row a leaf), the data have one row a stop"
	for _, e := range []Estimate{r.K.Estimate, r.Taylor.A, r.Taylor.B, r.Iwao.A, r.Iwao.B} {
		if e.Missing != want || !math.IsNaN(e.Value) {
			t.Errorf("%+v", e)
		}
	}
	if !r.Binary.B.Known() || !r.PlantShares.Known() || r.Counted.Known() || len(r.Tallies) != 0 {
		t.Errorf("%+v", r)
	}
}

func TestValeLeaves(t *testing.T) {
	r := must(Fit(vale(t, "pilot-leaves.csv"), Options{Tally: 15, Tallies: []int{4, 15}}))
	if r.Fields != 12 || r.Stops != 108 || r.Plants != 1620 || r.Leaves != 1620 || r.Tally != 15 {
		t.Errorf("%d fields, %d stops, %d plants, %d leaves", r.Fields, r.Stops, r.Plants, r.Leaves)
	}
	if !(r.Taylor.B.Value > 1.6 && r.Taylor.B.Value < 2.1) || r.Taylor.Line.Fields != 12 {
		t.Errorf("%+v", r.Taylor)
	}
	// The k is of all leaves of a field, of which those of a stop are alike: its
	// interval, which takes them as independent, need not hold the true one.
	if !(r.K.Estimate.Value > valeK/1.4 && r.K.Estimate.Value < valeK*1.4) || r.K.Common.Same.P < 0.01 {
		t.Errorf("%+v", r.K)
	}
	if len(r.Tallies) != 2 || r.Tallies[0].T != 4 || r.Tallies[1].T != 15 || r.Tallies[0].D.Value <= 0 {
		t.Errorf("%+v", r.Tallies)
	}
}
