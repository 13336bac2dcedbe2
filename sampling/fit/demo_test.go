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
	{"Upper Sedge 3", "2026-06-08", "boot"},
	{"Lower Sedge 1", "2026-06-08", "boot"},
	{"Heron Bank 2", "2026-06-09", "boot"},
	{"Millstone 4", "2026-06-09", "boot"},
	{"Long Rill 1", "2026-06-10", "boot"},
	{"Long Rill 2", "2026-06-10", "boot"},
	{"Fallow Ridge 5", "2026-06-22", "flowering"},
	{"Reed Corner 1", "2026-06-22", "flowering"},
	{"Ash Hollow 2", "2026-06-23", "flowering"},
	{"Ash Hollow 3", "2026-06-23", "flowering"},
	{"Quarry Strip 1", "2026-07-06", "soft dough"},
	{"North Dyke 6", "2026-07-06", "soft dough"},
	{"Plover Bottom 2", "2026-07-07", "soft dough"},
	{"Stony Ten", "2026-07-07", "soft dough"},
}

const (
	valeSeed = 2026
	valeRho  = 0.10
	valeA    = 4.0 // Taylor's a and b of the leaves of one stop
	valeB    = 1.6
)

// inventStops makes 14 fields of 12 stops of 20 plants, beta-binomial with the
// share infested spread evenly from 3% to 45%, in no order.
func inventStops() [][]string {
	r := rand.New(rand.NewPCG(valeSeed, 1))
	rows := [][]string{{"field", "stop", "plants", "infested", "date", "stage"}}
	level := r.Perm(len(valeFields))
	for i, f := range valeFields {
		p := pilotShares(len(valeFields))[level[i]]
		for j, s := range drawStops(r, 12, 20, p, valeRho) {
			rows = append(rows, []string{f.name, strconv.Itoa(j + 1), "20", strconv.Itoa(s.Infested), f.date, f.stage})
		}
	}
	return rows
}

// inventLeaves makes 10 fields of 8 stops of 10 plants of 2 leaves. Means go
// from 2 to 150 in even steps of their logarithm; the mean of a stop is the
// field's times a gamma variable of mean 1 and shape 8, and the leaves of a
// stop are negative binomial with k by Taylor's law.
func inventLeaves() [][]string {
	r := rand.New(rand.NewPCG(valeSeed, 2))
	rows := [][]string{{"field", "stop", "plant", "leaf", "count"}}
	const fields = 10
	level := r.Perm(fields)
	for i := range fields {
		mean := 2 * math.Pow(75, float64(level[i])/(fields-1))
		for stop := range 8 {
			m := mean * distuv.Gamma{Alpha: 8, Beta: 8, Src: r}.Rand()
			k := m * m / (valeA*math.Pow(m, valeB) - m)
			for plant := range 10 {
				for _, leaf := range []string{"lower", "upper"} {
					rows = append(rows, []string{valeFields[i].name, strconv.Itoa(stop + 1), strconv.Itoa(plant + 1), leaf, strconv.Itoa(drawCount(r, m, k))})
				}
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
	if r.Fields != 14 || r.Stops != 168 || r.Plants != 3360 || r.Leaves != 0 {
		t.Errorf("%d fields, %d stops, %d plants, %d leaves", r.Fields, r.Stops, r.Plants, r.Leaves)
	}
	e := r.Rho.Estimate
	if e != r.Rho.Pooled.Adjusted || r.Rho.Method != AdjustedProfile || e.Lower > valeRho || e.Upper < valeRho {
		t.Errorf("%+v", r.Rho)
	}
	if e.Value <= r.Rho.Pooled.ML.Value {
		t.Errorf("the adjusted rho %g is not above %g", e.Value, r.Rho.Pooled.ML.Value)
	}
	if p := r.Rho.Pooled; p.Tarone.P > 1e-6 || p.Same.P < 0.001 || p.Fields != 14 {
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
	r := must(Fit(vale(t, "pilot-leaves.csv"), Options{Tally: 50, Tallies: []int{10, 50}}))
	if r.Fields != 10 || r.Stops != 80 || r.Plants != 800 || r.Leaves != 1600 || r.Tally != 50 {
		t.Errorf("%d fields, %d stops, %d plants, %d leaves", r.Fields, r.Stops, r.Plants, r.Leaves)
	}
	if !(r.Taylor.B.Value > 1.4 && r.Taylor.B.Value < 1.9) || r.Taylor.Line.Fields != 10 {
		t.Errorf("%+v", r.Taylor)
	}
	if !(r.K.Estimate.Value > 0.4 && r.K.Estimate.Value < 2) || r.K.Common.Same.P > 1e-6 {
		t.Errorf("%+v", r.K)
	}
	if len(r.Tallies) != 2 || r.Tallies[0].T != 10 || r.Tallies[1].T != 50 || r.Tallies[0].D.Value <= 0 {
		t.Errorf("%+v", r.Tallies)
	}
}
